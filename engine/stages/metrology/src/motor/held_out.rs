//! The move that was kept out of the fit, predicted by it.

use dryturn_units::{degrees, maths};

use crate::motor::HeldOut;
use crate::motor::fit::{Rows, rms};
use crate::motor::moves::Move;

/// Steps of the computed motion in one sample.
const STEPS: usize = 8;

/// What was fitted.
pub(crate) struct Law {
    /// In the order of the parameters; over the inertia without currents.
    pub(crate) values: [f64; 4],
    /// Torque constant; `None` without currents.
    pub(crate) constant: Option<f64>,
}

impl Law {
    /// Angle at each sample from the first, by the current alone. What friction can hold
    /// stands.
    fn motion(&self, own: &Move) -> Vec<f64> {
        let [inertia, coulomb, viscous, detent] = self.values;
        let h = own.step_s / STEPS as f64;
        let mut angle = own.angle_rad[0];
        let mut speed = if self.constant.is_some() { 0.0 } else { own.speed_rad_s[0] };
        let mut angles = vec![angle];
        for k in 1..own.angle_rad.len() {
            for step in 0..STEPS {
                let share = (step as f64 + 0.5) / STEPS as f64;
                let push = match (self.constant, &own.current_a) {
                    (Some(constant), Some(list)) => {
                        constant * (list[k - 1] + share * (list[k] - list[k - 1]))
                    }
                    _ => 0.0,
                };
                let halfway = angle + 0.5 * h * speed;
                let from_stop = halfway - own.angle_rad[0] + own.from_stop_rad;
                let pull = push - detent * maths::sin(4.0 * from_stop) - viscous * speed;
                let next = speed + h * pull / inertia;
                let most = h * coulomb / inertia;
                let next = if next.abs() <= most { 0.0 } else { next - most.copysign(next) };
                angle += 0.5 * h * (speed + next);
                speed = next;
            }
            angles.push(angle);
        }
        angles
    }
}

/// How well the law predicts a move: its torque from its motion, and its motion from its
/// current.
pub(crate) fn held_out(own: &Move, number: usize, law: &Law) -> HeldOut {
    let rows = Rows::of(core::iter::once(own), law.constant);
    let predicted: Vec<f64> = (0..rows.target.len())
        .map(|k| (0..4).map(|c| law.values[c] * rows.columns[c][k]).sum())
        .collect();
    let times = own.telling.iter().enumerate().filter(|(_, telling)| **telling);
    let torque: Vec<[f64; 3]> = times
        .zip(rows.target.iter().zip(&predicted))
        .map(|((k, _), (measured, predicted))| [k as f64 * own.step_s, *measured, *predicted])
        .collect();
    let computed = law.motion(own);
    let angle: Vec<[f64; 3]> = own
        .angle_rad
        .iter()
        .zip(&computed)
        .enumerate()
        .map(|(k, (measured, computed))| {
            let off = |angle: f64| degrees(angle - own.angle_rad[0]);
            [k as f64 * own.step_s, off(*measured), off(*computed)]
        })
        .collect();
    HeldOut::compared(number, degrees(own.way_rad()).abs(), false, torque, angle)
}

impl HeldOut {
    /// Of a move's torques and angles, each with its time, as measured and as predicted.
    pub(crate) fn compared(
        number: usize,
        way_deg: f64,
        slow: bool,
        torque: Vec<[f64; 3]>,
        angle: Vec<[f64; 3]>,
    ) -> Self {
        let off =
            |points: &[[f64; 3]]| rms(points.iter().map(|[_, measured, found]| found - measured));
        let own_rms = rms(torque.iter().map(|[_, measured, _]| *measured));
        let end = angle.last().copied().unwrap_or_default();
        Self {
            number,
            // A move too short to tell is not predicted.
            torque_off_share: if own_rms > 0.0 { off(&torque) / own_rms } else { f64::INFINITY },
            angle_off_share: off(&angle) / way_deg,
            end_off_deg: end[2] - end[1],
            way_deg,
            slow,
            torque,
            angle,
        }
    }
}
