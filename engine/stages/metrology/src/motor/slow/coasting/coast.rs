//! One coast: its angles from where it is let go to where friction has stopped it, as logged and
//! as simulated.
//!
//! `θ'' = −(T_c sgn θ' + B θ' + T_d sin 4θ) / J` for motor, shaft and layer as one solid: what
//! the shaft swings by is left to the residuals. Nothing but the log is needed, neither
//! controller nor profile.

use dryturn_handoff::AxisLog;
use dryturn_units::{degrees, maths, radians};

use crate::columns::median_step_s;
use crate::motor::REST_RAD_S;

/// Shared by all coasts: Coulomb, viscous friction and detents over the inertia.
pub(super) const SHARED: usize = 3;
/// Each coast's own: its first angle and speed.
pub(super) const OWN: usize = 2;
/// Longest step of the simulated motion.
const STEP_S: f64 = 2.5e-4;
/// A coast tells from so many samples in motion on.
pub(super) const FEWEST_OF_COAST: usize = 4;

/// One coast, turned so that it goes forwards.
#[derive(Clone, Debug)]
pub(super) struct Coast {
    /// Number of its log, from 0.
    pub(super) log: usize,
    pub(super) start_s: f64,
    pub(super) time_s: Vec<f64>,
    pub(super) angle_rad: Vec<f64>,
    /// Samples before the rest.
    pub(super) moving: usize,
    /// +1 clockwise, −1 not.
    pub(super) sense: f64,
}

impl Coast {
    /// From a log whose axis only slows down; `None` where it never moves.
    pub(super) fn of(number: usize, log: &AxisLog) -> Option<Self> {
        let still_rad = REST_RAD_S * median_step_s(&log.time_s);
        let angle: Vec<f64> = log.angle_deg.iter().map(|angle| radians(*angle)).collect();
        let rests = |pair: &[f64]| (pair[1] - pair[0]).abs() <= still_rad;
        let moving = angle.windows(2).position(rests).unwrap_or(angle.len() - 1);
        let way = angle[moving] - angle[0];
        if moving == 0 || way == 0.0 {
            return None;
        }
        let sense = way.signum();
        // The first sample at rest says where it stopped.
        let end = (moving + 2).min(angle.len());
        Some(Self {
            log: number,
            start_s: log.time_s[0],
            time_s: log.time_s[..end].iter().map(|time| time - log.time_s[0]).collect(),
            angle_rad: angle[..end].iter().map(|angle| sense * angle).collect(),
            moving,
            sense,
        })
    }

    pub(super) fn way_rad(&self) -> f64 {
        self.angle_rad[self.angle_rad.len() - 1] - self.angle_rad[0]
    }

    /// Where its own numbers may be found: angle and speed, and the deceleration that goes
    /// with them.
    pub(super) fn guess(&self) -> ([f64; OWN], f64) {
        let step_s = self.time_s[1];
        let speed = (self.angle_rad[1] - self.angle_rad[0]) / step_s;
        let rate = speed * speed / (2.0 * self.way_rad());
        ([self.angle_rad[0], speed + 0.5 * rate * step_s], rate)
    }

    /// Angle and speed at each sample, by Runge and Kutta's steps of fourth order.
    pub(super) fn motion(&self, shared: &[f64; SHARED], own: &[f64; OWN]) -> Vec<[f64; 2]> {
        let [coulomb, viscous, detent] = *shared;
        let rate =
            |angle: f64, speed: f64| -coulomb - viscous * speed - detent * maths::sin(4.0 * angle);
        let [mut angle, mut speed] = *own;
        let mut seen = vec![[angle, speed]];
        for pair in self.time_s.windows(2) {
            let steps = ((pair[1] - pair[0]) / STEP_S).ceil().max(1.0);
            let h = (pair[1] - pair[0]) / steps;
            for _ in 0..steps as usize {
                if speed <= 0.0 {
                    break;
                }
                let k1 = (speed, rate(angle, speed));
                let at = |k: (f64, f64), h: f64| (angle + h * k.0, speed + h * k.1);
                let next = |(angle, speed): (f64, f64)| (speed, rate(angle, speed));
                let k2 = next(at(k1, 0.5 * h));
                let k3 = next(at(k2, 0.5 * h));
                let k4 = next(at(k3, h));
                let by = |a: f64, b: f64, c: f64, d: f64| (a + 2.0 * b + 2.0 * c + d) / 6.0;
                let slope = by(k1.1, k2.1, k3.1, k4.1);
                let most = h * by(k1.0, k2.0, k3.0, k4.0);
                if speed + h * slope <= 0.0 && slope < 0.0 {
                    // It stops within the step.
                    angle += speed * speed / (-2.0 * slope);
                    speed = 0.0;
                } else {
                    angle += most;
                    speed += h * slope;
                }
            }
            seen.push([angle, speed]);
        }
        seen
    }
    /// In degrees, as a log has it.
    pub(super) fn logged_deg(&self, angle_rad: f64) -> f64 {
        degrees(self.sense * (angle_rad - self.angle_rad[0]))
    }
}
