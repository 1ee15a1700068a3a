//! The fastest move from rest to rest within voltage, current and speed limits,
//! in closed form.
//!
//! With the current held at its limit or the voltage at the bus's, the speed
//! obeys `ω' = d − bω`: piece by piece an exponential. A move is made of up to
//! five such pieces: current limit, voltage limit, cruise, and the same two in
//! braking.

use dryturn_units::maths;

use crate::axis::Motor;

/// A stretch of time in which `ω' = d − bω`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Piece {
    /// Its length, s.
    pub duration: f64,
    /// Speed at its start, rad/s.
    pub from: f64,
    /// `d`, rad/s².
    pub drive: f64,
    /// `b`, 1/s.
    pub decay: f64,
}

impl Piece {
    /// The piece that takes the speed from `from` to `to`; `None` where they are
    /// the same.
    fn between(from: f64, to: f64, drive: f64, decay: f64) -> Option<Self> {
        if from == to {
            return None;
        }
        let small = (decay * from.max(to) / drive).abs() < 1e-5;
        let duration = if small {
            // Series, since the closed form cancels.
            let (r, d) = (decay, drive);
            (to - from) / d
                + r * (to * to - from * from) / (2.0 * d * d)
                + r * r * (to * to * to - from * from * from) / (3.0 * d * d * d)
        } else {
            -maths::ln_1p(-decay * (to - from) / (drive - decay * from)) / decay
        };
        Some(Self { duration, from, drive, decay })
    }

    /// Angle (rad) and speed (rad/s) after `t` seconds from its start.
    #[must_use]
    pub fn at(&self, t: f64) -> (f64, f64) {
        let Self { from, drive, decay, .. } = *self;
        let x = decay * t;
        if x.abs() < 1e-4 {
            // Series of the same exponentials, to the order that doubles hold.
            let speed = from + (drive - decay * from) * t * (1.0 - x / 2.0 + x * x / 6.0);
            let gained = (drive - decay * from) * t * t * (0.5 - x / 6.0 + x * x / 24.0);
            (from * t + gained, speed)
        } else {
            let gone = -maths::exp_m1(-x);
            let end = drive / decay;
            (end * t + (from - end) * gone / decay, end + (from - end) * (1.0 - gone))
        }
    }

    fn angle(&self) -> f64 {
        self.at(self.duration).0
    }
}

/// A move from rest to rest.
#[derive(Clone, Debug, PartialEq)]
pub struct Motion {
    /// In order of time.
    pub pieces: Vec<Piece>,
    /// The angle moved, rad, positive.
    pub angle: f64,
    /// All pieces together, s.
    pub duration: f64,
    /// When braking begins, s.
    pub switch: f64,
    /// Highest speed, rad/s.
    pub peak_speed: f64,
}

impl Motion {
    /// Angle reached at time `t`, rad; 0 before the start, the whole after the end.
    #[must_use]
    pub fn angle_at(&self, t: f64) -> f64 {
        if t <= 0.0 {
            return 0.0;
        }
        let (mut before, mut angle) = (0.0, 0.0);
        for piece in &self.pieces {
            if t < before + piece.duration {
                return angle + piece.at(t - before).0;
            }
            before += piece.duration;
            angle += piece.angle();
        }
        self.angle
    }

    /// Stretched in time to `duration`, as when friction leaves too little torque.
    #[must_use]
    pub fn progress(&self, share_of_time: f64) -> f64 {
        self.angle_at(share_of_time * self.duration) / self.angle
    }
}

/// The fastest move over `angle` (rad, positive): full voltage or current
/// forwards, then backwards; never above `speed_limit` (rad/s). The motor must
/// overcome its friction at standstill, which a valid scene guarantees.
#[must_use]
pub fn rest_to_rest(motor: &Motor, angle: f64, speed_limit: f64) -> Motion {
    let Motor { constant: k, resistance: r, current_limit, voltage, inertia, .. } = *motor;
    let current = current_limit.min(voltage / r * 1e6);
    let voltage_decay = (k * k / r + motor.viscous) / inertia;
    let current_decay = motor.viscous / inertia;
    // Speeds at which the voltage takes over from the current limit, forwards
    // and in braking.
    let forward_split = (voltage - r * current) / k;
    let braking_split = (r * current - voltage) / k;
    let at_current = |sign: f64| (sign * k * current - motor.friction) / inertia;
    let at_voltage = |sign: f64| (sign * k * voltage / r - motor.friction) / inertia;
    let speed_up = |peak: f64| {
        let split = forward_split.clamp(0.0, peak);
        [
            Piece::between(0.0, split, at_current(1.0), current_decay),
            Piece::between(split, peak, at_voltage(1.0), voltage_decay),
        ]
    };
    let slow_down = |peak: f64| {
        let split = braking_split.clamp(0.0, peak);
        [
            Piece::between(peak, split, at_current(-1.0), current_decay),
            Piece::between(split, 0.0, at_voltage(-1.0), voltage_decay),
        ]
    };
    let covered = |peak: f64| {
        speed_up(peak).iter().chain(&slow_down(peak)).flatten().map(Piece::angle).sum::<f64>()
    };
    // The speed at which the voltage just balances friction, or the current does.
    let balance = |drive: f64, decay: f64| if decay > 0.0 { drive / decay } else { f64::INFINITY };
    let top = balance(at_voltage(1.0), voltage_decay)
        .min(balance(at_current(1.0), current_decay))
        * (1.0 - 1e-12);
    let ceiling = top.min(speed_limit);
    let peak = if covered(ceiling) <= angle {
        ceiling
    } else {
        maths::bisect_increasing(0.0, ceiling, |peak| covered(peak) - angle)
    };
    let cruise_s = ((angle - covered(peak)) / peak).max(0.0);
    let cruise = Piece { duration: cruise_s, from: peak, drive: 0.0, decay: 0.0 };
    let mut pieces: Vec<Piece> = speed_up(peak).into_iter().flatten().collect();
    if cruise_s > 0.0 {
        pieces.push(cruise);
    }
    let switch = pieces.iter().map(|piece| piece.duration).sum();
    pieces.extend(slow_down(peak).into_iter().flatten());
    let duration = pieces.iter().map(|piece| piece.duration).sum();
    Motion { pieces, angle, duration, switch, peak_speed: peak }
}
