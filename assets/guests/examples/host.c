/* A host with a hand-over of its own: the next beat starts when the faces of the last one have
 * been within the settle window of their stops, by their encoders, for the dwell.
 *
 *     cc -std=c99 -O2 -Iassets/guests assets/guests/examples/host.c -o host
 *     dryturn rehearse my.rhai --guest host=./host
 *     dryturn rehearse my.rhai --guest host="./host --too-early"
 *
 * With --too-early it follows a bad rule, to see what that does: it starts the next beat as soon
 * as a face is within 40 degrees of its stop, when the layers still stand across each other's way.
 *
 * A command takes its time to arrive (the link's latency). So the host does not ask whether a face
 * stands still, which it also does before it has begun, but how far it is from where the command
 * will bring it: it adds up the turns that it has sent. */
#include "dryturn_guest.h"

#define TOO_EARLY_DEG 40.0

typedef struct handing_over {
    dryturn_host_begin plan;
    int sent;                           /* beats that were commanded */
    double sent_s;                      /* when the last was */
    double stop_deg[DRYTURN_FACES];     /* where each face shall end, */
    double target_deg[DRYTURN_FACES];   /* and its axis, beyond it by the shaft's wind-up */
    double since_s;                     /* since when all are near enough, or -1 */
    int too_early;
    char reason[64];
} handing_over;

static double far_deg(const handing_over *own, const dryturn_host_tick *tick, int face)
{
    double off = tick->encoder_deg[face] - own->target_deg[face];
    return off < 0 ? -off : off;
}

static void on_begin(const dryturn_host_begin *begin, void *guest)
{
    handing_over *own = (handing_over *)guest;
    int too_early = own->too_early;
    memset(own, 0, sizeof *own);
    own->plan = *begin;
    own->too_early = too_early;
    own->since_s = -1;
}

static void send_beat(handing_over *own, const dryturn_host_tick *tick, dryturn_host_answer *answer)
{
    const dryturn_beat *beat = &own->plan.beats[own->sent++];
    int i;
    for (i = 0; i < beat->count; i++) {
        answer->turns[answer->count++] = beat->turns[i];
        own->stop_deg[beat->turns[i].face] += 90.0 * beat->turns[i].quarters;
        own->target_deg[beat->turns[i].face] = own->stop_deg[beat->turns[i].face]
            + (beat->turns[i].quarters > 0 ? 1 : -1) * own->plan.beyond_deg[beat->turns[i].face];
    }
    own->sent_s = tick->time_s;
    own->since_s = -1;
}

static void on_tick(const dryturn_host_tick *tick, dryturn_host_answer *answer, void *guest)
{
    handing_over *own = (handing_over *)guest;
    int last = own->sent == own->plan.count, bad = own->too_early && !last, late = -1, face;
    double window_deg = bad ? TOO_EARLY_DEG : own->plan.settle_window_deg;
    double dwell_s = bad ? 0 : own->plan.settle_dwell_ms * 1e-3;
    if (own->sent == 0) /* nothing turns yet: the encoders say where homing has put the faces */
        for (face = 0; face < DRYTURN_FACES; face++)
            own->stop_deg[face] = own->target_deg[face] = tick->setpoint_deg[face];
    for (face = 0; face < DRYTURN_FACES; face++)
        if (far_deg(own, tick, face) > window_deg || (!bad && tick->busy[face]))
            late = face;
    if (own->sent == 0 && !last) {
        send_beat(own, tick, answer);
    } else if (late >= 0) {
        double limit_s = own->plan.beat_limit_ms * 1e-3;
        own->since_s = -1;
        if (limit_s > 0 && tick->time_s - own->sent_s > limit_s) {
            snprintf(own->reason, sizeof own->reason, "face %c has not settled in %.0f ms",
                     "URFDLB"[late], own->plan.beat_limit_ms);
            answer->stop = own->reason;
        }
    } else {
        if (own->since_s < 0)
            own->since_s = tick->time_s;
        if (tick->time_s - own->since_s + 1e-9 < dwell_s)
            return;
        if (last)
            answer->done = 1;
        else
            send_beat(own, tick, answer);
    }
}

int main(int count, char **words)
{
    static handing_over own;
    dryturn_host guest = {"window and dwell", "1", on_begin, on_tick, &own};
    if (count == 2 && strcmp(words[1], "--too-early") == 0)
        own.too_early = 1;
    else if (count > 1) {
        fprintf(stderr, "usage: host [--too-early]\n");
        return 2;
    }
    return dryturn_guest_run_host(&guest);
}
