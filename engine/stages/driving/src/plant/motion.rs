//! The fastest move from rest to rest within voltage, current and speed limits,
//! in closed form.
//!
//! With the current held at its limit or the voltage at the bus's, the speed
//! obeys `ω' = d − bω`: piece by piece an exponential. A move is made of up to
//! five such pieces: current limit, voltage limit, cruise, and the same two in
//! braking.

use dryturn_numerics::bisect_increasing;
use dryturn_units::maths;

use super::motor::Motor;

/// A stretch of time in which `ω' = d − bω`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Piece {
    /// Its length.
    pub duration_s: f64,
    /// Speed at its start.
    pub from_rad_s: f64,
    /// `d`.
    pub drive_rad_s2: f64,
    /// `b`, in 1/s.
    pub decay_per_s: f64,
}

impl Piece {
    /// The piece that takes the speed from one value to another; `None` where
    /// they are the same.
    pub(crate) fn between(from: f64, to: f64, drive: f64, decay: f64) -> Option<Self> {
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
        Some(Self {
            duration_s: duration,
            from_rad_s: from,
            drive_rad_s2: drive,
            decay_per_s: decay,
        })
    }

    /// Angle (rad) and speed (rad/s) after `t_s` seconds from its start.
    #[must_use]
    pub fn at(&self, t_s: f64) -> (f64, f64) {
        let (t, from) = (t_s, self.from_rad_s);
        let (drive, decay) = (self.drive_rad_s2, self.decay_per_s);
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

    fn angle_rad(&self) -> f64 {
        self.at(self.duration_s).0
    }
}

/// A move from rest to rest.
#[derive(Clone, Debug, PartialEq)]
pub struct Motion {
    /// In order of time.
    pub pieces: Vec<Piece>,
    /// The angle moved, positive.
    pub angle_rad: f64,
    /// All pieces together.
    pub duration_s: f64,
    /// When braking begins.
    pub switch_s: f64,
    /// Highest speed.
    pub peak_speed_rad_s: f64,
}

impl Motion {
    /// Angle reached at a time, rad; 0 before the start, the whole after the end.
    #[must_use]
    pub fn angle_at(&self, t_s: f64) -> f64 {
        if t_s <= 0.0 {
            return 0.0;
        }
        let (mut before, mut angle) = (0.0, 0.0);
        for piece in &self.pieces {
            if t_s < before + piece.duration_s {
                return angle + piece.at(t_s - before).0;
            }
            before += piece.duration_s;
            angle += piece.angle_rad();
        }
        self.angle_rad
    }

    /// Angle (rad), speed (rad/s) and acceleration (rad/s²) at a time.
    #[must_use]
    pub fn state_at(&self, t_s: f64) -> (f64, f64, f64) {
        let (mut before, mut angle) = (0.0, 0.0);
        for piece in self.pieces.iter().filter(|_| t_s >= 0.0) {
            if t_s < before + piece.duration_s {
                let (gone, speed) = piece.at(t_s - before);
                let acceleration = piece.drive_rad_s2 - piece.decay_per_s * speed;
                return (angle + gone, speed, acceleration);
            }
            before += piece.duration_s;
            angle += piece.angle_rad();
        }
        (if t_s < 0.0 { 0.0 } else { self.angle_rad }, 0.0, 0.0)
    }

    /// Share of the angle that is done after a share of the duration, both 0 to 1.
    #[must_use]
    pub fn progress(&self, share_of_time: f64) -> f64 {
        self.angle_at(share_of_time * self.duration_s) / self.angle_rad
    }
}

/// The fastest move over `angle_rad` (positive): full voltage or current
/// forwards, then backwards; never above `speed_limit_rad_s`. The motor must be
/// able to overcome its friction at standstill.
///
/// # Panics
/// If it cannot: `friction_n_m` not below both limits' torque.
#[must_use]
pub fn rest_to_rest(motor: &Motor, angle_rad: f64, speed_limit_rad_s: f64) -> Motion {
    let (k, r, voltage) = (motor.constant_v_s, motor.resistance_ohm, motor.voltage_v);
    // More than the winding draws when braking from any speed it can reach is no limit.
    let current = motor.current_limit_a.min(4.0 * voltage / r);
    let (friction, inertia) = (motor.friction_n_m, motor.inertia_kg_m2);
    assert!(
        friction < k * current.min(voltage / r),
        "a motor that cannot overcome its friction cannot move"
    );
    let voltage_decay = (k * k / r + motor.viscous_n_m_s) / inertia;
    let current_decay = motor.viscous_n_m_s / inertia;
    // Speeds at which the voltage takes over from the current limit, forwards
    // and in braking.
    let forward_split = (voltage - r * current) / k;
    let braking_split = (r * current - voltage) / k;
    let at_current = |sign: f64| (sign * k * current - friction) / inertia;
    let at_voltage = |sign: f64| (sign * k * voltage / r - friction) / inertia;
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
        speed_up(peak).iter().chain(&slow_down(peak)).flatten().map(Piece::angle_rad).sum::<f64>()
    };
    // The speed at which the voltage just balances friction, or the current does.
    let balance = |drive: f64, decay: f64| if decay > 0.0 { drive / decay } else { f64::INFINITY };
    let top = balance(at_voltage(1.0), voltage_decay).min(balance(at_current(1.0), current_decay))
        * (1.0 - 1e-12);
    let ceiling = top.min(speed_limit_rad_s);
    let peak = if covered(ceiling) <= angle_rad {
        ceiling
    } else {
        bisect_increasing(0.0, ceiling, |peak| covered(peak) - angle_rad)
    };
    let cruise_s = ((angle_rad - covered(peak)) / peak).max(0.0);
    let mut pieces: Vec<Piece> = speed_up(peak).into_iter().flatten().collect();
    if cruise_s > 0.0 {
        let (duration_s, from_rad_s) = (cruise_s, peak);
        pieces.push(Piece { duration_s, from_rad_s, drive_rad_s2: 0.0, decay_per_s: 0.0 });
    }
    let switch_s = pieces.iter().map(|piece| piece.duration_s).sum();
    pieces.extend(slow_down(peak).into_iter().flatten());
    let duration_s = pieces.iter().map(|piece| piece.duration_s).sum();
    Motion { pieces, angle_rad, duration_s, switch_s, peak_speed_rad_s: peak }
}
