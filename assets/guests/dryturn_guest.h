/* dryturn_guest.h: a host or a controller of your own on Dryturn's stage, in C99 or C++11.
 *
 * Write one function, fill a struct, call dryturn_guest_run_host() or
 * dryturn_guest_run_controller() from main, link, run. README.md beside this file says what each
 * message holds; examples/host.c and examples/controller.c are complete. Readers and planners are
 * for Python and Rust: they get pictures and cubes, which this header does not read.
 *
 * Needs the C standard library alone and uses about 130 kB of memory, none of it from the heap.
 * Standard output belongs to the protocol: print to stderr only. Numbers are read by strtod, which
 * goes by the locale: leave it at "C", as a program finds it that never calls setlocale.
 * Faces are numbered in the order U R F D L B. Angles are degrees since homing, clockwise
 * positive, seen from outside the face. */
#ifndef DRYTURN_GUEST_H
#define DRYTURN_GUEST_H

#include <float.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define DRYTURN_PROTOCOL 1
#define DRYTURN_FACES 6
#define DRYTURN_MAX_BEATS 200
#define DRYTURN_LINE_BYTES 131072 /* the longest line that is read */
#define DRYTURN_TEXT_BYTES 201    /* names and reasons, with the closing zero: longer ones are cut */

#if DBL_MANT_DIG != 53 || DBL_MAX_EXP != 1024
#error "dryturn_guest.h needs doubles of IEEE 754"
#endif

/* One turn: face 0 to 5 in the order U R F D L B; quarters 1 (R), 2 (R2) or -1 (R'). */
typedef struct dryturn_turn {
    int face, quarters;
} dryturn_turn;

/* Turns that start together: one, or two of opposite faces. */
typedef struct dryturn_beat {
    int count;
    dryturn_turn turns[2];
} dryturn_beat;

/* What a host knows before the run. A figure that the message lacks is 0. */
typedef struct dryturn_host_begin {
    int count; /* of beats */
    dryturn_beat beats[DRYTURN_MAX_BEATS];
    double tick_s;            /* from one question to the next */
    double counts_per_turn;   /* of an encoder */
    double settle_window_deg; /* so near to its stop a face counts as settled */
    double settle_dwell_ms;   /* so long it must stay there */
    double beat_limit_ms;     /* a beat that has not settled after this is given up */
    double latency_ms;        /* from a command to its start, mean */
    double latency_sigma_ms;  /* and its spread */
    double release_angle_deg; /* how far from its stop a face may be when the next begins */
    double overhead_ms;       /* waits before every answer with turns but the first */
    double resend_after_ms;   /* a lost command is sent again after this, */
    double most_resends;      /* so often */
    double watchdog_ms;       /* so long after the link went dead the axes let go */
    double quarter_turn_s, half_turn_s;  /* how long the set-point moves */
    double beyond_deg[DRYTURN_FACES];    /* an axis stands so far beyond its stop, in the sense of
                                            its turn, to make up for the shaft's wind-up */
} dryturn_host_begin;

typedef struct dryturn_host_tick {
    double time_s; /* since the start of the run */
    double encoder_deg[DRYTURN_FACES], setpoint_deg[DRYTURN_FACES];
    int busy[DRYTURN_FACES]; /* whether its set-point moves */
} dryturn_host_tick;

/* What a host answers; all zero: nothing to do. */
typedef struct dryturn_host_answer {
    int count; /* of turns that start now, 0 to 6 */
    dryturn_turn turns[DRYTURN_FACES];
    int done;         /* the plan is finished; then no turns */
    const char *stop; /* why the host gives up, or NULL; UTF-8 */
} dryturn_host_answer;

typedef struct dryturn_host {
    const char *name, *version; /* version may be NULL */
    void (*on_begin)(const dryturn_host_begin *begin, void *own);
    void (*on_tick)(const dryturn_host_tick *tick, dryturn_host_answer *answer, void *own);
    void *own; /* handed to both functions */
} dryturn_host;

/* What a data sheet and the drawing say of an axis. A figure that the message lacks is 0. */
typedef struct dryturn_controller_begin {
    double tick_s, counts_per_turn, current_limit_a, torque_constant_n_m_per_a, inertia_kg_m2;
    double friction_n_m, viscous_friction_n_m_s, bus_v;
    double latency_s;         /* from a record until what is asked for takes effect */
    double hold_current_a;    /* the limit once an axis rests at its stop */
    double resistance_ohm, inductance_mh, settle_window_deg;
    /* Of "moves": what profiles may use of the torque limit, and at the most. */
    double planned_torque_share, speed_limit_rad_s, acceleration_limit_rad_s2;
    double quarter_turn_s, half_turn_s; /* duration of the profile that the drive declares */
} dryturn_controller_begin;

typedef struct dryturn_axis {
    int32_t encoder_counts; /* since homing; the angle is (counts + 0.5) / counts_per_turn turns */
    uint32_t move_number;   /* 0 before the first; grows with every commanded move */
    double current_a;
    double target_deg; /* where the commanded move ends */
} dryturn_axis;

typedef struct dryturn_controller_tick {
    uint64_t tick;
    double time_s, bus_v;
    dryturn_axis axes[DRYTURN_FACES];
} dryturn_controller_tick;

/* Answering DRYTURN_CURRENT: a is the current to ask for, A. Answering DRYTURN_SETPOINT: a is an
 * angle, deg, b a speed, deg/s, c a torque fed forward, N m. What is not used stays 0. */
enum { DRYTURN_REFUSE, DRYTURN_CURRENT, DRYTURN_SETPOINT };
typedef struct dryturn_command {
    double a, b, c;
} dryturn_command;

typedef struct dryturn_controller {
    const char *name, *version; /* version may be NULL */
    int (*on_begin)(const dryturn_controller_begin *begin, void *own); /* one of the three above */
    /* Returns 0, or something else to give up. Commands are all zero at first. */
    int (*on_tick)(const dryturn_controller_tick *tick, dryturn_command commands[DRYTURN_FACES],
                   void *own);
    void *own;
} dryturn_controller;

/* Both answer until Dryturn says goodbye. They return 0, or 1 where the input ended before that
 * or made no sense; then stderr says why. */
static inline int dryturn_guest_run_host(const dryturn_host *host);
static inline int dryturn_guest_run_controller(const dryturn_controller *controller);

/* ---- JSON (RFC 8259), strictly: a value is a piece of the line, which was checked as a whole. */

typedef struct dryturn_json {
    const char *at, *end; /* at is NULL where there is no value */
} dryturn_json;

static inline const char *dryturn_space(const char *at, const char *end)
{
    while (at != end && (*at == ' ' || *at == '\t' || *at == '\n' || *at == '\r'))
        at++;
    return at;
}

static inline int dryturn_hex(const char *at, const char *end)
{
    int value = 0, i;
    for (i = 0; i < 4; i++, at++) {
        const char *found, *digits = "0123456789abcdefABCDEF";
        if (at == end || *at == '\0' || (found = strchr(digits, *at)) == NULL)
            return -1;
        value = 16 * value + (int)(found - digits) - (found - digits > 15 ? 6 : 0);
    }
    return value;
}

/* What follows the one UTF-8 character at `at` (RFC 3629), or NULL. */
static inline const char *dryturn_utf8(const char *at, const char *end)
{
    const unsigned char *c = (const unsigned char *)at;
    unsigned low = 0x80, high = 0xbf;
    int more = c[0] < 0x80 ? 0 : c[0] < 0xc2 ? -1 : c[0] < 0xe0 ? 1 : c[0] < 0xf0 ? 2
               : c[0] < 0xf5 ? 3 : -1, i;
    if (more < 0 || end - at <= more)
        return NULL;
    low = c[0] == 0xe0 ? 0xa0 : c[0] == 0xf0 ? 0x90 : low;
    high = c[0] == 0xed ? 0x9f : c[0] == 0xf4 ? 0x8f : high;
    for (i = 1; i <= more; i++, low = 0x80, high = 0xbf)
        if (c[i] < low || c[i] > high)
            return NULL;
    return at + more + 1;
}

/* What follows the string at `at`, or NULL. */
static inline const char *dryturn_string(const char *at, const char *end)
{
    if (at == end || *at++ != '"')
        return NULL;
    while (at != NULL && at != end && *at != '"') {
        if ((unsigned char)*at < 0x20)
            return NULL;
        if (*at != '\\') {
            at = dryturn_utf8(at, end);
        } else if (++at == end || *at == '\0' || strchr("\"\\/bfnrtu", *at) == NULL) {
            return NULL;
        } else if (*at++ == 'u') {
            if (dryturn_hex(at, end) < 0)
                return NULL;
            at += 4;
        }
    }
    return at == NULL || at == end ? NULL : at + 1;
}

static inline const char *dryturn_digits(const char *at, const char *end)
{
    const char *first = at;
    while (at != end && *at >= '0' && *at <= '9')
        at++;
    return at == first ? NULL : at;
}

static inline const char *dryturn_number(const char *at, const char *end)
{
    if (at != end && *at == '-')
        at++;
    at = at != end && *at == '0' ? at + 1 : dryturn_digits(at, end);
    if (at != NULL && at != end && *at == '.')
        at = dryturn_digits(at + 1, end);
    if (at != NULL && at != end && (*at == 'e' || *at == 'E')) {
        at++;
        if (at != end && (*at == '+' || *at == '-'))
            at++;
        at = dryturn_digits(at, end);
    }
    return at;
}

/* What follows the value at `at`, or NULL; objects and arrays may nest 32 deep. */
static inline const char *dryturn_value(const char *at, const char *end, int depth)
{
    static const char *const words[] = {"true", "false", "null"};
    char close;
    int i;
    if (at == end || depth > 32)
        return NULL;
    if (*at == '"')
        return dryturn_string(at, end);
    for (i = 0; i < 3; i++) {
        size_t length = strlen(words[i]);
        if ((size_t)(end - at) >= length && memcmp(at, words[i], length) == 0)
            return at + length;
    }
    if (*at != '{' && *at != '[')
        return dryturn_number(at, end);
    close = *at == '{' ? '}' : ']';
    at = dryturn_space(at + 1, end);
    if (at != end && *at == close)
        return at + 1;
    for (;;) {
        if (close == '}') {
            at = dryturn_string(at, end);
            at = at == NULL ? NULL : dryturn_space(at, end);
            if (at == NULL || at == end || *at != ':')
                return NULL;
            at = dryturn_space(at + 1, end);
        }
        at = dryturn_value(at, end, depth + 1);
        at = at == NULL ? NULL : dryturn_space(at, end);
        if (at == NULL || at == end || (*at != ',' && *at != close))
            return NULL;
        if (*at++ == close)
            return at;
        at = dryturn_space(at, end);
    }
}

static inline int dryturn_is(dryturn_json value, char first)
{
    return value.at != NULL && *value.at == first;
}

/* Whether a value is this string, of ASCII characters alone. */
static inline int dryturn_equals(dryturn_json value, const char *text)
{
    const char *at = value.at, *stop, *escapes = "bfnrt", *found;
    if (!dryturn_is(value, '"'))
        return 0;
    for (at++, stop = value.end - 1; at < stop; text++) {
        int c = (unsigned char)*at++;
        if (c == '\\') {
            c = (unsigned char)*at++;
            if (c == 'u') {
                c = dryturn_hex(at, stop);
                at += 4;
            } else if ((found = strchr(escapes, c)) != NULL) {
                c = "\b\f\n\r\t"[found - escapes];
            }
        }
        if (*text == '\0' || c != (unsigned char)*text)
            return 0;
    }
    return *text == '\0';
}

/* The next item of an array, or the next member of an object with its name; `rest` starts as the
 * whole and shrinks. A value without a place after the last. */
static inline dryturn_json dryturn_next(dryturn_json *rest, dryturn_json *name)
{
    dryturn_json item = {NULL, NULL};
    const char *at = rest->at;
    if (at == NULL || (*at != '[' && *at != '{' && *at != ','))
        return item;
    at = dryturn_space(at + 1, rest->end);
    if (*at == ']' || *at == '}')
        return item;
    if (name != NULL) {
        name->at = at;
        name->end = dryturn_string(at, rest->end);
        at = dryturn_space(dryturn_space(name->end, rest->end) + 1, rest->end);
    }
    item.at = at;
    item.end = dryturn_value(at, rest->end, 0);
    rest->at = dryturn_space(item.end, rest->end);
    return item;
}

/* The member of an object with this name, the last where there are more. */
static inline dryturn_json dryturn_member(dryturn_json object, const char *wanted)
{
    dryturn_json found = {NULL, NULL}, name = found, item;
    if (!dryturn_is(object, '{'))
        return found;
    while ((item = dryturn_next(&object, &name)).at != NULL)
        if (dryturn_equals(name, wanted))
            found = item;
    return found;
}

/* Reads a number, which must be finite and not below `least`; one that is missing is left as it
 * is. Whether all is well. */
static inline int dryturn_figure(dryturn_json value, double least, double *into)
{
    if (value.at == NULL)
        return 1;
    if (*value.at != '-' && (*value.at < '0' || *value.at > '9'))
        return 0;
    *into = strtod(value.at, NULL);
    return *into >= least && *into <= DBL_MAX;
}

/* ---- JSON-RPC 2.0 over standard input and output. */

typedef struct dryturn_asked {
    dryturn_json method, params;
    char result[8 * DRYTURN_TEXT_BYTES]; /* JSON */
    char wrong[160];                     /* what is wrong, for an error's message */
} dryturn_asked;

/* JSON-RPC's codes, and one of our own: a question that may not come now. */
enum {
    DRYTURN_NO_JSON = -32700,
    DRYTURN_NO_REQUEST = -32600,
    DRYTURN_NO_METHOD = -32601,
    DRYTURN_BAD_PARAMS = -32602,
    DRYTURN_NOT_NOW = -32000
};

/* What a role does: answers a question, 0 or a code; then, after its answer is sent, speaks
 * records where it must, 0 or 1. */
typedef struct dryturn_role {
    const char *role, *name, *version;
    int (*answer)(void *guest, dryturn_asked *asked);
    int (*afterwards)(void *guest);
    void *guest;
} dryturn_role;

static inline int dryturn_bad(dryturn_asked *asked, int code, const char *wrong)
{
    snprintf(asked->wrong, sizeof asked->wrong, "%s", wrong);
    return code;
}

/* Reads so many members of an object; the first `positive` must be there and above 0. */
static inline int dryturn_figures(dryturn_asked *asked, dryturn_json object,
                                  const char *const *names, double *const *into, int count,
                                  int positive)
{
    int i;
    for (i = 0; i < count; i++) {
        dryturn_json member = dryturn_member(object, names[i]);
        if (!dryturn_figure(member, 0, into[i]) || (i < positive && !(*into[i] > 0))) {
            snprintf(asked->wrong, sizeof asked->wrong, "%s: must be a number, %s", names[i],
                     i < positive ? "above 0" : "0 or more");
            return DRYTURN_BAD_PARAMS;
        }
    }
    return 0;
}

/* Adds `key` as it is and `text` as a string, cut off where it is too long. */
static inline void dryturn_add_text(char *into, const char *key, const char *text)
{
    const char *end = text, *next;
    size_t n = strlen(into) + strlen(key);
    while (*end != '\0' && (next = dryturn_utf8(end, end + strlen(end))) != NULL
           && next - text < DRYTURN_TEXT_BYTES)
        end = next;
    strcat(into, key);
    into[n++] = '"';
    for (; text != end; text++) {
        if ((unsigned char)*text < 0x20 || *text == '"' || *text == '\\')
            n += (size_t)sprintf(into + n, "\\u%04x", (unsigned)*text);
        else
            into[n++] = *text;
    }
    into[n++] = '"';
    into[n] = '\0';
}

/* A line from standard input into `line`: its length, -1 at the end of the input, -2 where it is
 * too long. */
static inline long dryturn_line(char *line)
{
    long n = 0;
    int c;
    while ((c = getchar()) != EOF && c != '\n') {
        if (n < DRYTURN_LINE_BYTES - 1)
            line[n] = (char)c;
        n += n < DRYTURN_LINE_BYTES;
    }
    line[n < DRYTURN_LINE_BYTES ? n : 0] = '\0';
    return c == EOF ? -1 : n < DRYTURN_LINE_BYTES ? n : -2;
}

static inline int dryturn_hello(const dryturn_role *role, dryturn_asked *asked)
{
    double protocol = 0;
    if (!dryturn_figure(dryturn_member(asked->params, "protocol"), 0, &protocol)
        || protocol != DRYTURN_PROTOCOL)
        return dryturn_bad(asked, DRYTURN_BAD_PARAMS, "this guest speaks protocol 1");
    if (!dryturn_equals(dryturn_member(asked->params, "role"), role->role))
        return dryturn_bad(asked, DRYTURN_BAD_PARAMS, "this guest has another role");
    strcpy(asked->result, "{\"protocol\":1,");
    dryturn_add_text(asked->result, "\"name\":", role->name);
    if (role->version != NULL)
        dryturn_add_text(asked->result, ",\"version\":", role->version);
    strcat(asked->result, "}");
    return 0;
}

static inline int dryturn_serve(const dryturn_role *role)
{
    static char line[DRYTURN_LINE_BYTES];
    static dryturn_asked asked;
    int leaving = 0;
    while (!leaving) {
        static const dryturn_json null_id = {"null", NULL};
        dryturn_json whole, id = null_id;
        const char *after;
        int code = 0, quiet = 0;
        long length = dryturn_line(line);
        if (length == -1) {
            fprintf(stderr, "guest: the input ended before goodbye\n");
            return 1;
        }
        dryturn_bad(&asked, 0, "no JSON, or too long");
        strcpy(asked.result, "null");
        whole.at = dryturn_space(line, line + (length < 0 ? 0 : length));
        whole.end = line + (length < 0 ? 0 : length);
        after = dryturn_value(whole.at, whole.end, 0);
        if (after == NULL || dryturn_space(after, whole.end) != whole.end) {
            code = DRYTURN_NO_JSON;
        } else {
            dryturn_json given = dryturn_member(whole, "id");
            asked.method = dryturn_member(whole, "method");
            asked.params = dryturn_member(whole, "params");
            if (given.at != NULL && strchr("\"-0123456789n", *given.at) != NULL)
                id = given;
            quiet = given.at == NULL;
            if (!dryturn_equals(dryturn_member(whole, "jsonrpc"), "2.0")
                || !dryturn_is(asked.method, '"') || (!quiet && id.at != given.at)
                || (asked.params.at != NULL && strchr("{[", *asked.params.at) == NULL)) {
                code = dryturn_bad(&asked, DRYTURN_NO_REQUEST, "no request of JSON-RPC 2.0");
                quiet = 0;
            } else if (dryturn_equals(asked.method, "goodbye")) {
                leaving = 1;
            } else if (dryturn_equals(asked.method, "hello")) {
                code = dryturn_hello(role, &asked);
            } else {
                code = role->answer(role->guest, &asked);
            }
        }
        if (quiet)
            continue; /* a notification: JSON-RPC wants no answer */
        printf("{\"jsonrpc\":\"2.0\",\"id\":%.*s,", id.end ? (int)(id.end - id.at) : 4, id.at);
        if (code == 0)
            printf("\"result\":%s}\n", asked.result);
        else
            printf("\"error\":{\"code\":%d,\"message\":\"%s\"}}\n", code, asked.wrong);
        if (fflush(stdout) != 0)
            return 1;
        if (code == 0 && !leaving && role->afterwards != NULL && role->afterwards(role->guest) != 0)
            return 1;
    }
    return 0;
}

/* A turn in WCA notation. Whether it is one. */
static inline int dryturn_read_turn(dryturn_json value, dryturn_turn *turn)
{
    static const int quarters[] = {1, 2, -1};
    char name[3] = {'\0', '\0', '\0'};
    int i;
    for (i = 0; i < 3 * DRYTURN_FACES; i++) {
        name[0] = "URFDLB"[i / 3];
        name[1] = "\0" "2'"[i % 3];
        if (dryturn_equals(value, name)) {
            turn->face = i / 3;
            turn->quarters = quarters[i % 3];
            return 1;
        }
    }
    return 0;
}

/* ---- The host. */

typedef struct dryturn_hosting {
    const dryturn_host *own;
    dryturn_host_begin begin;
    int begun;
} dryturn_hosting;

/* Six numbers, or six booleans where `numbers` is NULL. */
static inline int dryturn_six(dryturn_json list, double *numbers, int *booleans)
{
    int i;
    if (!dryturn_is(list, '['))
        return 0;
    for (i = 0; i < DRYTURN_FACES; i++) {
        dryturn_json item = dryturn_next(&list, NULL);
        if (item.at == NULL)
            return 0;
        if (numbers != NULL ? !dryturn_figure(item, -DBL_MAX, &numbers[i])
                            : *item.at != 't' && *item.at != 'f')
            return 0;
        if (booleans != NULL)
            booleans[i] = *item.at == 't';
    }
    return dryturn_next(&list, NULL).at == NULL;
}

static inline int dryturn_host_begins(dryturn_hosting *hosting, dryturn_asked *asked)
{
    static const char *const names[] = {"tick_s", "counts_per_turn", "settle_window_deg",
                                        "settle_dwell_ms", "beat_limit_ms", "latency_ms",
                                        "latency_sigma_ms", "release_angle_deg", "overhead_ms",
                                        "resend_after_ms", "most_resends", "watchdog_ms",
                                        "quarter_turn_s", "half_turn_s"};
    dryturn_host_begin *begin = &hosting->begin;
    double *const figures[] = {&begin->tick_s, &begin->counts_per_turn, &begin->settle_window_deg,
                               &begin->settle_dwell_ms, &begin->beat_limit_ms, &begin->latency_ms,
                               &begin->latency_sigma_ms, &begin->release_angle_deg,
                               &begin->overhead_ms, &begin->resend_after_ms, &begin->most_resends,
                               &begin->watchdog_ms, &begin->quarter_turn_s, &begin->half_turn_s};
    dryturn_json beyond = dryturn_member(asked->params, "beyond_deg");
    dryturn_json beats = dryturn_member(asked->params, "beats"), beat;
    memset(begin, 0, sizeof *begin);
    hosting->begun = 0;
    if (dryturn_figures(asked, asked->params, names, figures, 14, 0) != 0)
        return DRYTURN_BAD_PARAMS;
    if (beyond.at != NULL && !dryturn_six(beyond, begin->beyond_deg, NULL))
        return dryturn_bad(asked, DRYTURN_BAD_PARAMS, "beyond_deg: must be six numbers");
    dryturn_bad(asked, 0, "beats: must be at most 200 lists of one or two turns");
    if (!dryturn_is(beats, '['))
        return DRYTURN_BAD_PARAMS;
    while ((beat = dryturn_next(&beats, NULL)).at != NULL) {
        dryturn_beat *into = &begin->beats[begin->count];
        dryturn_json turn;
        if (begin->count == DRYTURN_MAX_BEATS || *beat.at != '[')
            return DRYTURN_BAD_PARAMS;
        while ((turn = dryturn_next(&beat, NULL)).at != NULL)
            if (into->count == 2 || !dryturn_read_turn(turn, &into->turns[into->count++]))
                return DRYTURN_BAD_PARAMS;
        if (into->count == 0)
            return DRYTURN_BAD_PARAMS;
        begin->count++;
    }
    hosting->begun = 1;
    hosting->own->on_begin(begin, hosting->own->own);
    return 0;
}

static inline int dryturn_host_ticks(dryturn_hosting *hosting, dryturn_asked *asked)
{
    dryturn_json params = asked->params, time_s = dryturn_member(params, "time_s");
    dryturn_host_tick tick;
    dryturn_host_answer answer;
    int i;
    if (!hosting->begun)
        return dryturn_bad(asked, DRYTURN_NOT_NOW, "begin comes first");
    if (time_s.at == NULL || !dryturn_figure(time_s, -DBL_MAX, &tick.time_s)
        || !dryturn_six(dryturn_member(params, "encoder_deg"), tick.encoder_deg, NULL)
        || !dryturn_six(dryturn_member(params, "setpoint_deg"), tick.setpoint_deg, NULL)
        || !dryturn_six(dryturn_member(params, "busy"), NULL, tick.busy))
        return dryturn_bad(asked, DRYTURN_BAD_PARAMS,
                           "tick: must have time_s, encoder_deg, setpoint_deg and busy");
    memset(&answer, 0, sizeof answer);
    hosting->own->on_tick(&tick, &answer, hosting->own->own);
    if (answer.count < 0 || answer.count > DRYTURN_FACES)
        answer.stop = "the host's answer has a count of turns that is not 0 to 6";
    strcpy(asked->result, "{");
    if (answer.stop != NULL) {
        dryturn_add_text(asked->result, "\"stop\":", answer.stop);
    } else if (answer.count > 0) {
        strcat(asked->result, "\"turn\":[");
        for (i = 0; i < answer.count; i++) {
            char name[3] = {'\0', '\0', '\0'};
            int face = answer.turns[i].face, quarters = answer.turns[i].quarters;
            name[0] = face >= 0 && face < DRYTURN_FACES ? "URFDLB"[face] : '?';
            name[1] = quarters == 1 ? '\0' : quarters == 2 ? '2' : quarters == -1 ? '\'' : '?';
            dryturn_add_text(asked->result, i > 0 ? "," : "", name);
        }
        strcat(asked->result, "]");
    }
    if (answer.done && answer.stop == NULL)
        strcat(asked->result, answer.count > 0 ? ",\"done\":true" : "\"done\":true");
    strcat(asked->result, "}");
    return 0;
}

static inline int dryturn_host_answers(void *guest, dryturn_asked *asked)
{
    if (dryturn_equals(asked->method, "begin"))
        return dryturn_host_begins((dryturn_hosting *)guest, asked);
    if (dryturn_equals(asked->method, "tick"))
        return dryturn_host_ticks((dryturn_hosting *)guest, asked);
    return dryturn_bad(asked, DRYTURN_NO_METHOD, "a host knows hello, begin, tick and goodbye");
}

static inline int dryturn_guest_run_host(const dryturn_host *host)
{
    static dryturn_hosting hosting;
    dryturn_role role = {"host", host->name, host->version, dryturn_host_answers, NULL, &hosting};
    hosting.own = host;
    hosting.begun = 0;
    return dryturn_serve(&role);
}

/* ---- The controller: records of fixed length, little-endian whatever this machine is. */

enum { DRYTURN_TICK_BYTES = 176, DRYTURN_COMMAND_BYTES = 160 };
enum { DRYTURN_END = 1, DRYTURN_GIVE_UP = 1 }; /* flags */
#define DRYTURN_TICK_MAGIC 0x44525431u
#define DRYTURN_COMMAND_MAGIC 0x44525432u

typedef struct dryturn_controlling {
    const dryturn_controller *own;
    int mode; /* of the run that begins, DRYTURN_REFUSE where none does */
} dryturn_controlling;

static inline uint64_t dryturn_get(const unsigned char *at, int bytes)
{
    uint64_t value = 0;
    while (bytes-- > 0)
        value = value << 8 | at[bytes];
    return value;
}

static inline void dryturn_put(unsigned char *at, int bytes, uint64_t value)
{
    for (; bytes-- > 0; value >>= 8)
        *at++ = (unsigned char)(value & 0xff);
}

/* Doubles and 64-bit integers have the same order of bytes in memory: dryturn_records checks it. */
static inline double dryturn_get_double(const unsigned char *at)
{
    uint64_t bits = dryturn_get(at, 8);
    double value;
    memcpy(&value, &bits, sizeof value);
    return value;
}

static inline void dryturn_put_double(unsigned char *at, double value)
{
    uint64_t bits;
    memcpy(&bits, &value, sizeof bits);
    dryturn_put(at, 8, bits);
}

static inline int dryturn_records(void *guest)
{
    static const unsigned char one[] = {0, 0, 0, 0, 0, 0, 0xf0, 0x3f};
    dryturn_controlling *run = (dryturn_controlling *)guest;
    if (run->mode == DRYTURN_REFUSE)
        return 0;
    run->mode = DRYTURN_REFUSE;
    while (dryturn_get_double(one) == 1.0) {
        unsigned char in[DRYTURN_TICK_BYTES], out[DRYTURN_COMMAND_BYTES], *at = in + 32;
        dryturn_controller_tick tick;
        dryturn_command commands[DRYTURN_FACES];
        int i, gives_up;
        if (fread(in, 1, sizeof in, stdin) != sizeof in) {
            fprintf(stderr, "guest: the input ended within a run\n");
            return 1;
        }
        if (dryturn_get(in, 4) != DRYTURN_TICK_MAGIC) {
            fprintf(stderr, "guest: no record where one must be\n");
            return 1;
        }
        if (dryturn_get(in + 4, 4) & DRYTURN_END)
            return 0;
        tick.tick = dryturn_get(in + 8, 8);
        tick.time_s = dryturn_get_double(in + 16);
        tick.bus_v = dryturn_get_double(in + 24);
        for (i = 0; i < DRYTURN_FACES; i++, at += 24) {
            uint32_t counts = (uint32_t)dryturn_get(at, 4);
            memcpy(&tick.axes[i].encoder_counts, &counts, sizeof counts);
            tick.axes[i].move_number = (uint32_t)dryturn_get(at + 4, 4);
            tick.axes[i].current_a = dryturn_get_double(at + 8);
            tick.axes[i].target_deg = dryturn_get_double(at + 16);
        }
        memset(commands, 0, sizeof commands);
        gives_up = run->own->on_tick(&tick, commands, run->own->own) != 0;
        for (i = 0; i < DRYTURN_FACES; i++) {
            double all = commands[i].a + commands[i].b + commands[i].c;
            if (!(all >= -DBL_MAX && all <= DBL_MAX)) {
                fprintf(stderr, "guest: the command of face %c is not finite\n", "URFDLB"[i]);
                gives_up = 1;
            }
        }
        if (gives_up)
            memset(commands, 0, sizeof commands);
        dryturn_put(out, 4, DRYTURN_COMMAND_MAGIC);
        dryturn_put(out + 4, 4, gives_up ? DRYTURN_GIVE_UP : 0);
        dryturn_put(out + 8, 8, tick.tick);
        for (i = 0; i < DRYTURN_FACES; i++) {
            dryturn_put_double(out + 16 + 24 * i, commands[i].a);
            dryturn_put_double(out + 24 + 24 * i, commands[i].b);
            dryturn_put_double(out + 32 + 24 * i, commands[i].c);
        }
        if (fwrite(out, 1, sizeof out, stdout) != sizeof out || fflush(stdout) != 0)
            return 1;
    }
    fprintf(stderr, "guest: doubles of this machine are stored in another order than integers\n");
    return 1;
}

static inline int dryturn_controller_answers(void *guest, dryturn_asked *asked)
{
    static const char *const names[] = {
        "tick_s", "counts_per_turn", "current_limit_a", "torque_constant_n_m_per_a",
        "inertia_kg_m2", "friction_n_m", "viscous_friction_n_m_s", "bus_v", "latency_s",
        "hold_current_a", "resistance_ohm", "inductance_mh", "settle_window_deg",
        "planned_torque_share", "speed_limit_rad_s", "acceleration_limit_rad_s2", "quarter_turn_s", "half_turn_s"};
    dryturn_controlling *run = (dryturn_controlling *)guest;
    dryturn_controller_begin begin;
    double *const figures[] = {&begin.tick_s, &begin.counts_per_turn, &begin.current_limit_a,
                               &begin.torque_constant_n_m_per_a, &begin.inertia_kg_m2,
                               &begin.friction_n_m, &begin.viscous_friction_n_m_s, &begin.bus_v,
                               &begin.latency_s, &begin.hold_current_a, &begin.resistance_ohm,
                               &begin.inductance_mh, &begin.settle_window_deg,
                               &begin.planned_torque_share, &begin.speed_limit_rad_s,
                               &begin.acceleration_limit_rad_s2, &begin.quarter_turn_s,
                               &begin.half_turn_s};
    dryturn_json moves = dryturn_member(asked->params, "moves");
    double axes = DRYTURN_FACES;
    if (!dryturn_equals(asked->method, "begin"))
        return dryturn_bad(asked, DRYTURN_NO_METHOD, "a controller knows hello, begin and goodbye");
    memset(&begin, 0, sizeof begin);
    if (!dryturn_figure(dryturn_member(asked->params, "axes"), 0, &axes) || axes != DRYTURN_FACES)
        return dryturn_bad(asked, DRYTURN_BAD_PARAMS, "axes: must be 6");
    if (dryturn_figures(asked, asked->params, names, figures, 13, 5) != 0
        || dryturn_figures(asked, moves, names + 13, figures + 13, 5, 0) != 0)
        return DRYTURN_BAD_PARAMS;
    run->mode = run->own->on_begin(&begin, run->own->own);
    if (run->mode != DRYTURN_CURRENT && run->mode != DRYTURN_SETPOINT) {
        run->mode = DRYTURN_REFUSE;
        return dryturn_bad(asked, DRYTURN_NOT_NOW, "this controller refuses such an axis");
    }
    strcpy(asked->result, run->mode == DRYTURN_CURRENT ? "{\"answers\":\"current\"}"
                                                       : "{\"answers\":\"setpoint\"}");
    return 0;
}

static inline int dryturn_guest_run_controller(const dryturn_controller *controller)
{
    static dryturn_controlling run;
    dryturn_role role = {"controller", controller->name, controller->version,
                         dryturn_controller_answers, dryturn_records, &run};
    run.own = controller;
    run.mode = DRYTURN_REFUSE;
    return dryturn_serve(&role);
}

#endif
