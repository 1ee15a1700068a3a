/*
 * rig-follower.h: says when each turn of a rig plan may start, by what the encoders read.
 *
 * C99, whole numbers only, no allocation, no library. It neither moves a motor nor makes
 * set-points: your firmware does, within the limits of the plan's drive header. It does not
 * replace an emergency stop, nor the watches of the drives.
 *
 *     static rig_plan plan;
 *     static rig_follower follower;
 *
 *     if (rig_plan_parse(&plan, text, length, RIG_CEILING_E4) != RIG_PLAN_OK)
 *         refuse();                       // and say plan.line
 *     // home all six axes and square the faces: their encoders read 0
 *     rig_follower_begin(&follower, &plan, now_us);
 *     every period of the controller:
 *         while ((next = rig_follower_tick(&follower, now_us, encoder_mdeg)) == RIG_START)
 *             command(follower.row->face, follower.row->to_mdeg);
 *         if (next == RIG_STOP)
 *             cut_the_torque_of_all_axes();
 *
 * It checks the CRC-32 of the file. SHA-256 is left to a host that has it.
 */
#ifndef RIG_FOLLOWER_H
#define RIG_FOLLOWER_H

#include <stddef.h>
#include <stdint.h>

#define RIG_FACES 6     /* in the order U R F D L B */
#define RIG_MAX_ROWS 64 /* the last of them is the end */

/* What a row waits for, one for each face at most. */
enum rig_cue_kind { RIG_SETTLED, RIG_ABOVE, RIG_BELOW };

typedef struct rig_cue {
    uint8_t face;
    uint8_t kind;
    int32_t mdeg; /* thousandths of a degree since homing, clockwise positive */
} rig_cue;

typedef struct rig_row {
    uint8_t beat;
    uint8_t face; /* RIG_FACES in the last row */
    int8_t quarters;
    uint8_t cue_count;
    rig_cue cues[RIG_FACES];
    int32_t to_mdeg;      /* what the encoder shall read at the turn's end */
    uint32_t time_out_us; /* since the start of the beat before */
} rig_row;

typedef struct rig_plan {
    rig_row rows[RIG_MAX_ROWS];
    uint8_t row_count;
    int32_t window_mdeg; /* of settled faces */
    uint32_t dwell_us;
    uint16_t ceiling_e4; /* ten-thousandths */
    unsigned line;       /* where reading stopped, from 1 */
} rig_plan;

enum rig_plan_status {
    RIG_PLAN_OK,
    RIG_PLAN_NOT_ONE,       /* no rig plan of this version */
    RIG_PLAN_BAD_ROW,       /* plan->line says which */
    RIG_PLAN_TOO_LONG,      /* more than RIG_MAX_ROWS */
    RIG_PLAN_DAMAGED,       /* the CRC-32 does not fit, or the end is missing */
    RIG_PLAN_OTHER_CEILING, /* made for another ceiling than the drives are set to */
    RIG_PLAN_UNSAFE         /* marked as not safe when it was exported */
};

enum rig_next { RIG_WAIT, RIG_START, RIG_DONE, RIG_STOP };

typedef struct rig_follower {
    const rig_plan *plan;
    const rig_row *row; /* the row that was started last */
    uint8_t next;       /* the row that is waited for */
    uint8_t over;       /* RIG_DONE or RIG_STOP, once that is so */
    uint32_t since_us;  /* start of the last beat */
    struct {
        int32_t to_mdeg;
        uint32_t within_since_us;
        uint8_t within, settled;
    } faces[RIG_FACES];
} rig_follower;

/* Reads a whole file. Nothing of the plan may be used unless the answer is RIG_PLAN_OK. */
enum rig_plan_status rig_plan_parse(rig_plan *plan, const char *text, size_t length,
                                    uint16_t ceiling_e4);

/* All faces stand at home. */
void rig_follower_begin(rig_follower *follower, const rig_plan *plan, uint32_t now_us);

/* To be called once a period, and again at once as long as the answer is RIG_START: then
 * follower->row is to be started now. now_us may wrap around. After RIG_STOP cut the torque of
 * all six axes; the answer stays. */
enum rig_next rig_follower_tick(rig_follower *follower, uint32_t now_us,
                                const int32_t encoder_mdeg[RIG_FACES]);

#endif
