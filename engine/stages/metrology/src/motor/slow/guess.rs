//! A first guess of what a move was commanded with: the drawn profile that comes nearest to
//! its angles, as if the axis followed it exactly.

use dryturn_numerics::bracket_increasing;

use super::course::{Belief, Command, Course};
use super::cut::Cut;
use super::drawn::Drawn;

/// What of a move its own log alone can tell.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Own {
    pub(super) start_s: f64,
    pub(super) command: Command,
    /// Friction in this move over that of all, less one.
    pub(super) friction_off: f64,
    /// What the shaft is wound up with at the start beside what the current at rest says, in
    /// its standard deviations.
    pub(super) wound_off: f64,
}

const SPEEDS: usize = 24;
const TORQUES: usize = 15;
/// Least shares that are tried.
const LEAST: (f64, f64) = (0.03, 0.25);
/// Starts that are tried in a sample's time.
const STARTS: usize = 12;
const ROUNDS: usize = 3;
/// Of a move's time, to tell when half of the way is gone.
const HALVINGS: usize = 24;
/// So many guesses are followed.
const STARTED: usize = 6;

/// The nearest for each move, with one share of torque for all, a drive's setting: for the
/// share that comes nearest, then for others.
pub(super) fn guesses(drawn: &Drawn, cuts: &[Cut]) -> Vec<Vec<Own>> {
    let all = |share: f64| -> (f64, Vec<Own>) {
        let found: Vec<(f64, Own)> = cuts.iter().map(|cut| guess(drawn, cut, share)).collect();
        (
            found.iter().map(|(square, _)| square).sum(),
            found.into_iter().map(|(_, own)| own).collect(),
        )
    };
    let mut tried: Vec<(f64, Vec<Own>)> =
        (0..=TORQUES).map(|k| all(LEAST.1 + (1.0 - LEAST.1) * k as f64 / TORQUES as f64)).collect();
    tried.sort_by(|a, b| a.0.total_cmp(&b.0));
    tried.into_iter().take(STARTED).map(|(_, own)| own).collect()
}

/// The nearest with that share of torque, and how far off it is, sum of squares, rad².
pub(super) fn guess(drawn: &Drawn, cut: &Cut, torque_share: f64) -> (f64, Own) {
    let way = cut.to_rad - cut.from_rad;
    let (sign, angle) = (way.signum(), way.abs());
    let gone: Vec<f64> = cut.angle_rad.iter().map(|at| sign * (at - cut.from_rad)).collect();
    let half_s = half_way(&cut.time_s, &gone, angle);
    let belief = Belief { inertia_ratio: 1.0, friction_ratio: 1.0 };
    let off = |course: &Course, start: f64| {
        let square = |(time, at): (&f64, &f64)| {
            let off = course.at(time - start).0 - at;
            off * off
        };
        cut.time_s.iter().zip(&gone).map(square).sum::<f64>()
    };
    let nearest = |command: Command, span: f64| {
        let course = Course::of(drawn, command, belief, angle);
        // By when half of the way is gone.
        let ahead = |time: f64| course.at(time).0 - 0.5 * angle;
        let [half_way_s, _] = bracket_increasing(0.0, course.duration_s, HALVINGS, ahead);
        let centre = half_s - half_way_s;
        let try_at = |k: usize| centre + span * (k as f64 / STARTS as f64 - 0.5);
        let tries = (0..=STARTS).map(|k| (off(&course, try_at(k)), try_at(k)));
        tries.min_by(|a, b| a.0.total_cmp(&b.0)).unwrap_or((f64::INFINITY, centre))
    };
    let mut best = (f64::INFINITY, 0.0, 1.0);
    let (mut low, mut high) = (LEAST.0, 1.0);
    let mut span = cut.step_s;
    for round in 0..ROUNDS {
        let count = if round == 0 { SPEEDS } else { 8 };
        for k in 0..=count {
            let speed_share = low + (high - low) * k as f64 / count as f64;
            let (square, start) = nearest(Command { speed_share, torque_share }, span);
            if square < best.0 {
                best = (square, start, speed_share);
            }
        }
        let half = 1.5 * (high - low) / count as f64;
        (low, high) = ((best.2 - half).max(LEAST.0), (best.2 + half).min(1.0));
        span *= 0.6;
    }
    let command = Command { speed_share: best.2, torque_share };
    (best.0, Own { start_s: best.1, command, friction_off: 0.0, wound_off: 0.0 })
}

/// When half of the way is gone, by a straight line between samples.
fn half_way(time_s: &[f64], gone: &[f64], angle: f64) -> f64 {
    let half = 0.5 * angle;
    let k = gone.iter().position(|at| *at >= half).unwrap_or(gone.len() - 1).max(1);
    let share = ((half - gone[k - 1]) / (gone[k] - gone[k - 1])).clamp(0.0, 1.0);
    time_s[k - 1] + share * (time_s[k] - time_s[k - 1])
}
