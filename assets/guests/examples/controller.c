/* A controller for six axes: set-points of position and speed, a cascade of position and speed
 * that ends in a current, and what is known of the axis fed forward.
 *
 *     cc -std=c99 -O2 -Iassets/guests assets/guests/examples/controller.c -lm -o controller
 *     dryturn rehearse my.rhai --guest controller=./controller
 *
 * The course of a turn: constant torque forwards, then backwards (bang-bang), with a stretch of
 * constant speed between where the limit is reached. Friction helps to brake, so braking is the
 * shorter part. Of each tick: speed wanted = gain × angle missing + planned speed; torque = gain ×
 * speed missing + its integral + inertia × planned acceleration + friction; current = torque over
 * the torque constant, within the limit. It knows what the begin message says and nothing else.
 *
 * Before this moves a real axis: a gain that is too high, a wrong sign or a wrong unit makes an
 * axis run away, in milliseconds. Begin with a hundredth of the current, the motor clamped down,
 * nothing on its shaft, and an emergency stop in your other hand; see README.md, "Real drives". */
#include "dryturn_guest.h"
#include <math.h>

#define RAD (3.14159265358979323846 / 180)
#define WINDOW 4 /* ticks over which the speed is taken */

/* A loop is no quicker than its ticks allow: acceleration asked for per speed missing is one over
 * eight ticks, at most 1000 per second. Of that a quarter is the speed asked for per angle missing,
 * and a fifth the integral part over the proportional one. */
static const double TICKS_TO_ACT = 8, QUICKEST_PER_S = 1000, POSITION = 0.25, INTEGRAL = 0.2;
static const double NEAR_DEG = 0.05;   /* nearer to its stop an axis is left alone */
static const double HOLD_SHARE = 0.42; /* of the torque limit, for an axis that rests */

typedef struct axis_state {
    uint32_t move_number;
    double from, way, sign;              /* of the move, rad; way is positive */
    double time, up, cruise, down, peak; /* s, and rad/s */
    double past[WINDOW], integral;       /* angles, rad; N m */
    int ticks;                           /* seen so far */
} axis_state;

typedef struct rig {
    dryturn_controller_begin begin;
    double torque, share; /* limit, N m, and what a course uses of it */
    axis_state axes[DRYTURN_FACES];
} rig;

/* What is no number stays none, and is given up before it becomes a current. */
static double clamp(double v, double limit) { return v > limit ? limit : v < -limit ? -limit : v; }

static int on_begin(const dryturn_controller_begin *begin, void *own)
{
    rig *all = (rig *)own;
    memset(all, 0, sizeof *all);
    all->begin = *begin;
    all->share = begin->planned_torque_share > 0 ? begin->planned_torque_share : 0.85;
    all->torque = begin->current_limit_a * begin->torque_constant_n_m_per_a;
    /* Where friction takes it all there is no course to plan. */
    return all->share * all->torque > begin->friction_n_m ? DRYTURN_CURRENT : DRYTURN_REFUSE;
}

/* Plans the way from where the axis shall stand to its new target. */
static void plan(const rig *all, axis_state *axis, double to)
{
    double given = all->share * all->torque;
    double up = (given - all->begin.friction_n_m) / all->begin.inertia_kg_m2;
    double down = (given + all->begin.friction_n_m) / all->begin.inertia_kg_m2;
    double slowness = 1 / up + 1 / down, limit = all->begin.speed_limit_rad_s;
    axis->way = fabs(to - axis->from);
    axis->sign = to < axis->from ? -1 : 1;
    axis->peak = sqrt(2 * axis->way / slowness);
    if (limit > 0 && axis->peak > limit)
        axis->peak = limit;
    axis->up = axis->peak / up;
    axis->down = axis->peak / down;
    axis->cruise = axis->peak > 0 ? axis->way / axis->peak - (axis->up + axis->down) / 2 : 0;
    axis->time = 0;
}

/* Angle, speed and acceleration of the course, positive in the direction of the move. */
static void course(const axis_state *axis, double *angle, double *speed, double *acceleration)
{
    double t = axis->time, left = axis->up + axis->cruise + axis->down - t;
    *angle = axis->way;
    *speed = *acceleration = 0;
    if (t < axis->up) {
        *acceleration = axis->peak / axis->up;
        *speed = *acceleration * t;
        *angle = *speed * t / 2;
    } else if (left > axis->down) {
        *speed = axis->peak;
        *angle = axis->peak * (t - axis->up / 2);
    } else if (left > 0) {
        *acceleration = -axis->peak / axis->down;
        *speed = -*acceleration * left;
        *angle = axis->way - *speed * left / 2;
    }
}

static double current_of(const rig *all, axis_state *axis, const dryturn_axis *seen)
{
    const dryturn_controller_begin *begin = &all->begin;
    double tick_s = begin->tick_s, speed_per_s = fmin(QUICKEST_PER_S, 1 / (TICKS_TO_ACT * tick_s));
    double gain = speed_per_s * begin->inertia_kg_m2;
    double reads = (seen->encoder_counts + 0.5) / begin->counts_per_turn * 360 * RAD;
    double angle, speed, acceleration, error, turns, slip, known, torque, given, limit = all->torque;
    int newest = axis->ticks % WINDOW, n = axis->ticks < WINDOW ? axis->ticks : WINDOW;
    if (axis->ticks++ == 0) /* it stands on a stop */
        axis->from = floor(reads / (90 * RAD) + 0.5) * 90 * RAD;
    if (axis->move_number != seen->move_number) {
        axis->move_number = seen->move_number;
        axis->from += axis->sign * axis->way;
        plan(all, axis, seen->target_deg * RAD);
    }
    turns = n > 0 ? (reads - axis->past[n < WINDOW ? 0 : newest]) / (n * tick_s) : 0;
    axis->past[newest] = reads;
    course(axis, &angle, &speed, &acceleration);
    error = axis->from + axis->sign * angle - reads;
    if (axis->time >= axis->up + axis->cruise + axis->down) {
        error -= clamp(error, NEAR_DEG * RAD);
        if (error == 0 && fabs(turns) < 2) { /* slower than single steps of the encoder tell */
            turns = 0;
            limit = HOLD_SHARE * all->torque;
        }
    }
    axis->time += tick_s;
    turns += axis->sign * acceleration * n * tick_s / 2; /* the window's mean is half of it old */
    slip = POSITION * speed_per_s * error + axis->sign * speed - turns;
    known = begin->inertia_kg_m2 * acceleration + begin->viscous_friction_n_m_s * speed
            + begin->friction_n_m * clamp(speed / 2, 1);
    torque = gain * slip + axis->integral + axis->sign * known;
    given = clamp(torque, limit);
    if (given == torque || (slip > 0) != (torque > 0)) /* against winding up */
        axis->integral += INTEGRAL * speed_per_s * gain * tick_s * slip;
    axis->integral = clamp(axis->integral, all->torque);
    return clamp(given / begin->torque_constant_n_m_per_a, begin->current_limit_a);
}

static int on_tick(const dryturn_controller_tick *tick, dryturn_command commands[DRYTURN_FACES],
                   void *own)
{
    int i;
    for (i = 0; i < DRYTURN_FACES; i++)
        commands[i].a = current_of((rig *)own, &((rig *)own)->axes[i], &tick->axes[i]);
    return 0;
}

int main(void)
{
    static rig all;
    dryturn_controller guest = {"cascade", "1", on_begin, on_tick, &all};
    return dryturn_guest_run_controller(&guest);
}
