//! Where a drawn drive's set-point goes: from rest to rest by the profile of the scene.
//!
//! A course is made of pieces in which `ω' = d − b ω + j t`: torque at the current limit or
//! voltage at the bus's (with decay), steady acceleration, or jerk. Which share of torque
//! and of the highest speed a move was commanded with, its log tells.

use dryturn_numerics::bisect_increasing;
use dryturn_scene::file::Profile;
use dryturn_units::maths;

use super::drawn::Drawn;

/// Smaller decay over a piece than this is none.
const NO_DECAY: f64 = 1e-6;

/// A stretch of a course.
#[derive(Clone, Copy, Debug)]
struct Piece {
    duration_s: f64,
    from_rad_s: f64,
    drive_rad_s2: f64,
    decay_per_s: f64,
    jerk_rad_s3: f64,
}

impl Piece {
    /// Angle, speed and acceleration after so long.
    fn at(&self, t: f64) -> (f64, f64, f64) {
        let (from, d, b, j) =
            (self.from_rad_s, self.drive_rad_s2, self.decay_per_s, self.jerk_rad_s3);
        if b * t < NO_DECAY {
            let angle = t * (from + t * (d / 2.0 + t * j / 6.0));
            return (angle, from + t * (d + t * j / 2.0), d + j * t);
        }
        let (end, gone) = (d / b, -maths::exp_m1(-b * t));
        let speed = from + (end - from) * gone;
        (end * t + (from - end) * gone / b, speed, d - b * speed)
    }

    /// From one speed to another; `None` where they are one.
    fn between(from: f64, to: f64, drive: f64, decay: f64) -> Option<Self> {
        if from == to {
            return None;
        }
        let slope = drive - decay * from;
        let near = decay * (to - from) / slope;
        let duration_s =
            if near.abs() < NO_DECAY { (to - from) / slope } else { -maths::ln_1p(-near) / decay };
        Some(Self {
            duration_s,
            from_rad_s: from,
            drive_rad_s2: drive,
            decay_per_s: decay,
            jerk_rad_s3: 0.0,
        })
    }

    fn angle_rad(&self) -> f64 {
        self.at(self.duration_s).0
    }
}

/// What a move was commanded with.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Command {
    /// Share of the highest speed that the profile would reach.
    pub(super) speed_share: f64,
    /// Share of the drive's torque (acceleration) limit.
    pub(super) torque_share: f64,
}

/// What the planner takes inertia and friction for, over the drawn ones.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Belief {
    pub(super) inertia_ratio: f64,
    pub(super) friction_ratio: f64,
}

/// A move's set-points.
#[derive(Clone, Debug)]
pub(super) struct Course {
    pieces: Vec<Piece>,
    angle_rad: f64,
    pub(super) duration_s: f64,
    pub(super) peak_rad_s: f64,
}

impl Course {
    /// By the drawn profile, over `angle_rad`, which is positive.
    pub(super) fn of(drawn: &Drawn, to: Command, belief: Belief, angle_rad: f64) -> Self {
        let pieces = match drawn.profile {
            Profile::MinimumTime => minimum_time(drawn, to, belief, angle_rad),
            Profile::BangBang => bang_bang(drawn, to, belief, angle_rad),
            Profile::Trapezoid => ramps(drawn, to, angle_rad, f64::INFINITY),
            Profile::SCurve => ramps(drawn, to, angle_rad, drawn.jerk_rad_s3),
        };
        let duration_s = pieces.iter().map(|piece| piece.duration_s).sum();
        let peak_rad_s = pieces.iter().map(|piece| piece.from_rad_s).fold(0.0, f64::max);
        Self { pieces, angle_rad, duration_s, peak_rad_s }
    }

    /// Angle, speed, acceleration at a time; at rest before and after.
    pub(super) fn at(&self, t_s: f64) -> (f64, f64, f64) {
        let (mut before, mut angle) = (0.0, 0.0);
        for piece in self.pieces.iter().filter(|_| t_s >= 0.0) {
            if t_s < before + piece.duration_s {
                let (gone, speed, rate) = piece.at(t_s - before);
                return (angle + gone, speed, rate);
            }
            before += piece.duration_s;
            angle += piece.angle_rad();
        }
        (if t_s < 0.0 { 0.0 } else { self.angle_rad }, 0.0, 0.0)
    }
}

/// Cruise between two ramps, with what is left of the angle.
fn joined(up: Vec<Piece>, down: Vec<Piece>, peak: f64, angle_rad: f64) -> Vec<Piece> {
    let ramps: f64 = up.iter().chain(&down).map(Piece::angle_rad).sum();
    let cruise_s = ((angle_rad - ramps) / peak).max(0.0);
    let cruise = Piece {
        duration_s: cruise_s,
        from_rad_s: peak,
        drive_rad_s2: 0.0,
        decay_per_s: 0.0,
        jerk_rad_s3: 0.0,
    };
    up.into_iter().chain([cruise]).chain(down).collect()
}

/// Full torque or voltage forwards, then backwards.
fn minimum_time(drawn: &Drawn, to: Command, belief: Belief, angle_rad: f64) -> Vec<Piece> {
    let inertia = drawn.inertia_kg_m2 * belief.inertia_ratio;
    let friction = drawn.layer_friction_n_m * belief.friction_ratio;
    let (k, r) = (drawn.constant_v_s, drawn.resistance_ohm);
    // Who plans with more torque than is drawn plans with more voltage too.
    let voltage = drawn.voltage_v * to.torque_share.max(drawn.planned_share);
    let least_a = 1.02 * friction / k;
    let current = (drawn.current_limit_a * to.torque_share).max(least_a).min(4.0 * voltage / r);
    let by_current = drawn.viscous_n_m_s / inertia;
    let by_voltage = by_current + k * k / (r * inertia);
    let (pull, press) = (k * current, k * voltage / r);
    let up = |peak: f64| {
        let split = ((voltage - r * current) / k).clamp(0.0, peak);
        let first = Piece::between(0.0, split, (pull - friction) / inertia, by_current);
        let second = Piece::between(split, peak, (press - friction) / inertia, by_voltage);
        [first, second]
    };
    let down = |peak: f64| {
        let split = ((r * current - voltage) / k).clamp(0.0, peak);
        let first = Piece::between(peak, split, -(pull + friction) / inertia, by_current);
        let second = Piece::between(split, 0.0, -(press + friction) / inertia, by_voltage);
        [first, second]
    };
    let balance = |drive: f64, decay: f64| if decay > 0.0 { drive / decay } else { f64::INFINITY };
    let ceiling = balance((pull - friction) / inertia, by_current)
        .min(balance((press - friction) / inertia, by_voltage).max(1.0))
        .min(drawn.speed_limit_rad_s)
        * (1.0 - 1e-9);
    let covered =
        |peak: f64| up(peak).iter().chain(&down(peak)).flatten().map(Piece::angle_rad).sum::<f64>();
    let fastest = if covered(ceiling) <= angle_rad {
        ceiling
    } else {
        bisect_increasing(0.0, ceiling, |peak| covered(peak) - angle_rad)
    };
    let peak = fastest * to.speed_share;
    let list = |pieces: [Option<Piece>; 2]| pieces.into_iter().flatten().collect();
    joined(list(up(peak)), list(down(peak)), peak, angle_rad)
}

/// Steady torque forwards, then backwards.
fn bang_bang(drawn: &Drawn, to: Command, belief: Belief, angle_rad: f64) -> Vec<Piece> {
    let inertia = drawn.inertia_kg_m2 * belief.inertia_ratio;
    let friction = drawn.layer_friction_n_m * belief.friction_ratio;
    let torque =
        (drawn.constant_v_s * drawn.current_limit_a * to.torque_share).max(1.02 * friction);
    let (gain, loss) = ((torque - friction) / inertia, (torque + friction) / inertia);
    let fastest = (2.0 * angle_rad / (1.0 / gain + 1.0 / loss)).sqrt();
    let peak = fastest * to.speed_share;
    let list = |from, until, rate| Piece::between(from, until, rate, 0.0).into_iter().collect();
    joined(list(0.0, peak, gain), list(peak, 0.0, -loss), peak, angle_rad)
}

/// Limits of speed and acceleration, and of jerk where it is finite.
fn ramps(drawn: &Drawn, to: Command, angle_rad: f64, jerk: f64) -> Vec<Piece> {
    let rate = drawn.acceleration_rad_s2 * to.torque_share;
    let ramp_s = |peak: f64| {
        if peak * jerk < rate * rate {
            2.0 * (peak / jerk).sqrt()
        } else {
            peak / rate + rate / jerk
        }
    };
    let limit = drawn.speed_limit_rad_s;
    let fastest = if limit * ramp_s(limit) <= angle_rad {
        limit
    } else {
        bisect_increasing(0.0, limit, |peak| peak * ramp_s(peak) - angle_rad)
    };
    let peak = fastest * to.speed_share;
    let reached = rate.min((peak * jerk).sqrt());
    let bend_s = reached / jerk;
    let steady_s = (ramp_s(peak) - 2.0 * bend_s).max(0.0);
    let ramp = |from: f64, sign: f64| {
        let bent = 0.5 * reached * bend_s;
        let stages = [
            (bend_s, from, 0.0, jerk),
            (steady_s, from + sign * bent, reached, 0.0),
            (bend_s, from + sign * (bent + reached * steady_s), reached, -jerk),
        ];
        let stages = stages.into_iter().filter(|stage| stage.0 > 0.0);
        let piece = |(duration_s, from_rad_s, rate, jerk): (f64, f64, f64, f64)| Piece {
            duration_s,
            from_rad_s,
            drive_rad_s2: sign * rate,
            decay_per_s: 0.0,
            jerk_rad_s3: if jerk.is_finite() { sign * jerk } else { 0.0 },
        };
        stages.map(piece).collect::<Vec<_>>()
    };
    joined(ramp(0.0, 1.0), ramp(peak, -1.0), peak, angle_rad)
}
