//! Moves in a slow log: from one rest to the next, as few samples as there may be.

use core::f64::consts::FRAC_PI_2;

use dryturn_handoff::AxisLog;
use dryturn_numerics::upper_median;
use dryturn_units::radians;

use crate::columns::median_step_s;
use crate::motor::REST_RAD_S;

/// Between two samples at rest the angle changes by no more than this, rad: the encoder's
/// steps and noise, beside what a rest's speed makes.
const STILL_RAD: f64 = 3e-3;
/// Less is no move, rad.
const LEAST_WAY_RAD: f64 = 0.17;
/// A rest so near to a stop stands at it, rad.
const AT_STOP_RAD: f64 = 0.06;

/// One move: samples from the rest before to the rest after.
#[derive(Clone, Debug)]
pub(super) struct Cut {
    /// Number of its log, from 0.
    pub(super) log: usize,
    pub(super) step_s: f64,
    pub(super) time_s: Vec<f64>,
    pub(super) angle_rad: Vec<f64>,
    pub(super) current_a: Vec<f64>,
    /// The ends of the set-point, and a stop.
    pub(super) from_rad: f64,
    pub(super) to_rad: f64,
    pub(super) zero_rad: f64,
    /// Angle and current in the rest before.
    pub(super) rest_rad: f64,
    pub(super) rest_a: f64,
    /// Samples between the rests.
    pub(super) moving: usize,
}

/// The moves of a log with currents, in order.
pub(super) fn cut(number: usize, log: &AxisLog) -> Vec<Cut> {
    let step_s = median_step_s(&log.time_s);
    let angle: Vec<f64> = log.angle_deg.iter().map(|angle| radians(*angle)).collect();
    let still_rad = STILL_RAD.max(REST_RAD_S * step_s);
    // Pairs of samples at rest.
    let still: Vec<bool> =
        angle.windows(2).map(|pair| (pair[1] - pair[0]).abs() <= still_rad).collect();
    let rests: Vec<(usize, usize)> = stretches(&still);
    let current = log.current_a.as_deref().unwrap_or_default();
    let Some(&(first, _)) = rests.first() else { return Vec::new() };
    let zero_rad = angle[first];
    let stop = |at: f64| {
        let near = zero_rad + ((at - zero_rad) / FRAC_PI_2).round() * FRAC_PI_2;
        if (at - near).abs() <= AT_STOP_RAD { near } else { at }
    };
    let between = rests.windows(2).filter_map(|pair| {
        let ((_, from), (to, end)) = (pair[0], pair[1]);
        let way = angle[to] - angle[from];
        (way.abs() >= LEAST_WAY_RAD).then(|| {
            let begin = pair[0].0;
            let middle = |list: &[f64]| {
                let own = list.get(begin..=from).unwrap_or_default();
                upper_median(own.iter().copied()).unwrap_or(0.0)
            };
            let part = |list: &[f64]| list[begin..=end].to_vec();
            Cut {
                log: number,
                step_s,
                time_s: part(&log.time_s),
                angle_rad: part(&angle),
                current_a: if current.is_empty() { Vec::new() } else { part(current) },
                from_rad: stop(angle[from]),
                to_rad: stop(angle[end]),
                zero_rad,
                rest_rad: middle(&angle),
                rest_a: middle(current),
                moving: to - from - 1,
            }
        })
    });
    between.collect()
}

/// First and last sample of each stretch of still pairs.
fn stretches(still: &[bool]) -> Vec<(usize, usize)> {
    let mut found: Vec<(usize, usize)> = Vec::new();
    for k in (0..still.len()).filter(|&k| still[k]) {
        match found.last_mut() {
            Some((_, last)) if *last == k => *last = k + 1,
            _ => found.push((k, k + 1)),
        }
    }
    found
}
