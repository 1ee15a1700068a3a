/* rig-follower.c: see rig-follower.h. */
#include "rig-follower.h"

/* Where reading stands, within one line. */
typedef struct cursor {
    const char *at, *end;
} cursor;

static int starts_with(const cursor *line, const char *word)
{
    const char *at = line->at;
    while (*word != '\0') {
        if (at == line->end || *at != *word)
            return 0;
        at++;
        word++;
    }
    return 1;
}

static int take(cursor *line, const char *word)
{
    if (!starts_with(line, word))
        return 0;
    while (*word != '\0') {
        line->at++;
        word++;
    }
    return 1;
}

/* A number with exactly so many decimals, as a whole number of the last of them. */
static int take_number(cursor *line, int decimals, int32_t *number)
{
    int32_t value = 0;
    int minus = take(line, "-"), digits = 0, after = -1;
    while (line->at < line->end) {
        char c = *line->at;
        if (c == '.' && after < 0 && digits > 0 && decimals > 0) {
            after = 0;
        } else if (c >= '0' && c <= '9' && after < decimals) {
            if (value > (INT32_MAX - 9) / 10)
                return 0;
            value = 10 * value + (c - '0');
            digits++;
            if (after >= 0)
                after++;
        } else {
            break;
        }
        line->at++;
    }
    *number = minus ? -value : value;
    return digits > 0 && (decimals == 0 ? after < 0 : after == decimals);
}

static int take_face(cursor *line, uint8_t *face)
{
    static const char letters[] = "URFDLB";
    uint8_t i;
    for (i = 0; i < RIG_FACES; i++) {
        if (line->at < line->end && *line->at == letters[i]) {
            line->at++;
            *face = i;
            return 1;
        }
    }
    return 0;
}

static int take_cues(cursor *line, rig_row *row)
{
    row->cue_count = 0;
    if (starts_with(line, ","))
        return 1;
    do {
        rig_cue *cue = &row->cues[row->cue_count];
        if (row->cue_count == RIG_FACES || !take_face(line, &cue->face))
            return 0;
        cue->mdeg = 0;
        if (take(line, " settled")) {
            cue->kind = RIG_SETTLED;
        } else {
            if (take(line, " above "))
                cue->kind = RIG_ABOVE;
            else if (take(line, " below "))
                cue->kind = RIG_BELOW;
            else
                return 0;
            if (!take_number(line, 3, &cue->mdeg))
                return 0;
        }
        row->cue_count++;
    } while (take(line, " & "));
    return 1;
}

/* One row; what is the same in all rows goes to the plan, with the first. */
static enum rig_plan_status take_row(cursor *line, rig_plan *plan, int *unsafe)
{
    rig_row *row = &plan->rows[plan->row_count];
    int32_t number, beat, quarters, window, dwell, time_out, ignored, ceiling;
    int first = plan->row_count == 0;
    if (!take_number(line, 0, &number) || number != plan->row_count + 1 || !take(line, ",")
        || !take_number(line, 0, &beat) || beat < 1 || beat > RIG_MAX_ROWS || !take(line, ","))
        return RIG_PLAN_BAD_ROW;
    row->beat = (uint8_t)beat;
    row->face = RIG_FACES;
    if (!take(line, "end") && !take_face(line, &row->face))
        return RIG_PLAN_BAD_ROW;
    if (!take(line, ",") || !take_number(line, 0, &quarters) || !take(line, ",")
        || !take_number(line, 3, &row->to_mdeg) || !take(line, ",") || !take_cues(line, row)
        || !take(line, ",") || !take_number(line, 3, &window) || window < 1 || !take(line, ",")
        || !take_number(line, 3, &dwell) || dwell < 0 || !take(line, ",")
        || !take_number(line, 3, &time_out) || time_out < 1 || !take(line, ",")
        || !take_number(line, 3, &ignored) || !take(line, ",") || !take_number(line, 3, &ignored)
        || !take(line, ",") || !take_number(line, 4, &ceiling) || ceiling < 1 || ceiling > 10000)
        return RIG_PLAN_BAD_ROW;
    if (row->face == RIG_FACES ? quarters != 0 : quarters != 1 && quarters != 2 && quarters != -1)
        return RIG_PLAN_BAD_ROW;
    row->quarters = (int8_t)quarters;
    row->time_out_us = (uint32_t)time_out;
    if (first) {
        plan->window_mdeg = window;
        plan->dwell_us = (uint32_t)dwell;
        plan->ceiling_e4 = (uint16_t)ceiling;
    } else if (window != plan->window_mdeg || (uint32_t)dwell != plan->dwell_us
               || ceiling != plan->ceiling_e4) {
        return RIG_PLAN_BAD_ROW;
    }
    if (take(line, ",no"))
        *unsafe = 1;
    else if (!take(line, ",yes"))
        return RIG_PLAN_BAD_ROW;
    if (line->at != line->end)
        return RIG_PLAN_BAD_ROW;
    plan->row_count++;
    return RIG_PLAN_OK;
}

/* CRC-32 of IEEE 802.3. */
static uint32_t crc_of(uint32_t crc, const char *at, const char *end)
{
    int bit;
    for (; at != end; at++) {
        crc ^= (uint8_t)*at;
        for (bit = 0; bit < 8; bit++)
            crc = (crc >> 1) ^ (UINT32_C(0xedb88320) & (0 - (crc & 1)));
    }
    return crc;
}

static int is_crc(cursor *line, uint32_t crc)
{
    int shift;
    if (!take(line, "# crc32 "))
        return 0;
    for (shift = 28; shift >= 0; shift -= 4, line->at++) {
        if (line->at == line->end || *line->at != "0123456789abcdef"[(crc >> shift) & 15])
            return 0;
    }
    return line->at == line->end;
}

enum rig_plan_status rig_plan_parse(rig_plan *plan, const char *text, size_t length,
                                    uint16_t ceiling_e4)
{
    const char *at = text, *end = text + length;
    uint32_t crc = UINT32_MAX;
    int rows = 0, ended = 0, sealed = 0, unsafe = 0;
    plan->row_count = 0;
    plan->line = 0;
    while (at != end && !sealed) {
        cursor line;
        const char *stop = at;
        while (stop != end && *stop != '\n')
            stop++;
        line.at = at;
        line.end = stop;
        plan->line++;
        if (stop == end)
            return RIG_PLAN_DAMAGED;
        if (plan->line == 1) {
            if (!take(&line, "# dryturn rig plan 2") || line.at != line.end)
                return RIG_PLAN_NOT_ONE;
        } else if (starts_with(&line, "# crc32 ")) {
            if (!ended || !is_crc(&line, ~crc))
                return RIG_PLAN_DAMAGED;
            sealed = 1;
        } else if (!starts_with(&line, "#")) {
            enum rig_plan_status status;
            if (!rows) {
                if (!take(&line,
                          "row,beat,face,quarters,to_deg,start_when,settled_within_deg,"
                          "settled_for_ms,time_out_ms,start_ms,duration_ms,ceiling_share,safe")
                    || line.at != line.end)
                    return RIG_PLAN_NOT_ONE;
                rows = 1;
            } else {
                if (plan->row_count == RIG_MAX_ROWS)
                    return RIG_PLAN_TOO_LONG;
                status = ended ? RIG_PLAN_BAD_ROW : take_row(&line, plan, &unsafe);
                if (status != RIG_PLAN_OK)
                    return status;
                ended = plan->rows[plan->row_count - 1].face == RIG_FACES;
            }
        }
        crc = crc_of(crc, at, stop + 1);
        at = stop + 1;
    }
    if (!sealed)
        return RIG_PLAN_DAMAGED;
    if (unsafe)
        return RIG_PLAN_UNSAFE;
    return plan->ceiling_e4 == ceiling_e4 ? RIG_PLAN_OK : RIG_PLAN_OTHER_CEILING;
}

void rig_follower_begin(rig_follower *follower, const rig_plan *plan, uint32_t now_us)
{
    int i;
    follower->plan = plan;
    follower->row = NULL;
    follower->next = 0;
    follower->over = RIG_WAIT;
    follower->since_us = now_us;
    for (i = 0; i < RIG_FACES; i++) {
        follower->faces[i].to_mdeg = 0;
        follower->faces[i].within_since_us = now_us;
        follower->faces[i].within = 0;
        follower->faces[i].settled = 0;
    }
}

static void look(rig_follower *follower, uint32_t now_us, const int32_t encoder_mdeg[RIG_FACES])
{
    int i;
    for (i = 0; i < RIG_FACES; i++) {
        int32_t off = encoder_mdeg[i] - follower->faces[i].to_mdeg;
        if (off > follower->plan->window_mdeg || off < -follower->plan->window_mdeg) {
            follower->faces[i].within = 0;
            continue;
        }
        if (!follower->faces[i].within) {
            follower->faces[i].within = 1;
            follower->faces[i].within_since_us = now_us;
        }
        /* It stays settled until its next turn. */
        if (now_us - follower->faces[i].within_since_us >= follower->plan->dwell_us)
            follower->faces[i].settled = 1;
    }
}

static int holds(const rig_follower *follower, const rig_cue *cue,
                 const int32_t encoder_mdeg[RIG_FACES])
{
    switch (cue->kind) {
    case RIG_SETTLED:
        return follower->faces[cue->face].settled;
    case RIG_ABOVE:
        return encoder_mdeg[cue->face] >= cue->mdeg;
    default:
        return encoder_mdeg[cue->face] <= cue->mdeg;
    }
}

enum rig_next rig_follower_tick(rig_follower *follower, uint32_t now_us,
                                const int32_t encoder_mdeg[RIG_FACES])
{
    const rig_row *row = &follower->plan->rows[follower->next];
    int i;
    if (follower->over != RIG_WAIT)
        return (enum rig_next)follower->over;
    look(follower, now_us, encoder_mdeg);
    /* Rows of one beat start together. */
    if (follower->row == NULL || follower->row->beat != row->beat) {
        for (i = 0; i < row->cue_count; i++) {
            if (holds(follower, &row->cues[i], encoder_mdeg))
                continue;
            if (now_us - follower->since_us <= row->time_out_us)
                return RIG_WAIT;
            follower->over = RIG_STOP;
            return RIG_STOP;
        }
    }
    if (row->face == RIG_FACES) {
        follower->over = RIG_DONE;
        return RIG_DONE;
    }
    follower->faces[row->face].to_mdeg = row->to_mdeg;
    follower->faces[row->face].within = 0;
    follower->faces[row->face].settled = 0;
    follower->since_us = now_us;
    follower->row = row;
    follower->next++;
    return RIG_START;
}
