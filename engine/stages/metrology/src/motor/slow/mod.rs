//! Logs whose samples are up to 10 ms apart, as a serial link delivers them.
//!
//! A move then has a dozen samples or fewer, and its acceleration cannot be had by filtering:
//! the printed shaft between motor and layer swings at some two hundred hertz and moves the
//! current by a quarter, so that a sample of it is not the torque. So the axis is simulated:
//! motor, shaft and layer, under the controller and along the profile of the drawing
//! ([`follow`]). What each move was commanded with, its own angles tell ([`guess`]); then
//! inertia, friction and detents, and with them what is drawn only so surely (stiffness and
//! damping of the shaft, the encoder's non-linearity, the bus, what the controller takes inertia and
//! friction for), are fitted to angles and currents at the samples ([`fit`]). Errors come
//! from leaving out moves ([`errors`]).
//!
//! Without currents each log is of one coast, whose angles alone are fitted, as those of one
//! solid that friction slows down ([`coasting`]).
//!
//! The others must be of an axis under the drawn controller; one that moves otherwise is
//! refused, since its currents then tell nothing.

mod coasting;
mod course;
mod cut;
mod drawn;
mod errors;
mod fit;
mod follow;
mod guess;
mod judge;
mod model;
mod search;

use dryturn_handoff::AxisLog;
use dryturn_numerics::upper_median;
use dryturn_scene::file::SceneFile;

use crate::columns::{LONGEST_FINE_S, STEP_TOLERANCE_RATIO, median_step_s};
use crate::motor::{Identified, IdentifyError, kept_out};

use cut::Cut;
use drawn::Drawn;
use model::Trip;

/// A move tells from so many samples between its rests on.
const FEWEST_OF_MOVE: usize = 2;
/// And all moves in the fit together from so many on.
const FEWEST_SAMPLES: usize = 20;
/// With fewer moves in the fit nobody knows how much they differ.
const FEWEST_MOVES: usize = 3;
/// Steps of one simulation of all moves, at the most: some hundred quarter turns at 8 kHz.
const MOST_STEPS: u64 = 500_000;
/// A move should have so many samples.
const ENOUGH_OF_MOVE: f64 = 5.0;
/// What can be set on a drive, ms.
const USUAL_STEPS_MS: [f64; 7] = [0.125, 0.25, 0.5, 1.0, 2.0, 5.0, 10.0];

/// Whether a log is slow.
pub(super) fn is_slow(log: &AxisLog) -> bool {
    median_step_s(&log.time_s) > LONGEST_FINE_S * (1.0 + STEP_TOLERANCE_RATIO)
}

/// What slow logs of one axis tell of it: of moves with currents, or of coasts without.
pub(super) fn identify(
    logs: &[AxisLog],
    file: &SceneFile,
    keep_out: Option<usize>,
) -> Result<Identified, IdentifyError> {
    if logs.iter().all(|log| log.current_a.is_none()) {
        return coasting::identify(logs, file, keep_out);
    }
    let drawn = Drawn::of(file);
    let mut all: Vec<Cut> = Vec::new();
    for (number, log) in logs.iter().enumerate() {
        let own = cut::cut(number, log);
        if own.is_empty() {
            return Err(IdentifyError::NoMove { log: number + 1 });
        }
        check_work(number, &own)?;
        all.extend(own);
    }
    if all.len() < 2 {
        return Err(IdentifyError::OneMove { moves: all.len() });
    }
    let out = kept_out(keep_out, all.len())?;
    let fitted: Vec<Cut> = all
        .iter()
        .enumerate()
        .filter(|(k, cut)| k + 1 != out && cut.moving >= FEWEST_OF_MOVE)
        .map(|(_, cut)| cut.clone())
        .collect();
    let samples = fitted.iter().map(|cut| cut.moving).sum::<usize>();
    if samples < FEWEST_SAMPLES || fitted.len() < FEWEST_MOVES {
        let spans_ms = all.iter().map(|cut| 1e3 * (cut.step_s * (cut.moving + 1) as f64));
        return Err(too_slow(spans_ms, samples, fitted.len(), 1e3 * all[0].step_s));
    }
    check_simulated(&drawn, &fitted)?;
    let starts = guess::guesses(&drawn, &fitted);
    let first = starts.first().ok_or(IdentifyError::Nothing { rows: samples })?;
    let trips: Vec<Trip> =
        fitted.into_iter().zip(first).map(|(cut, own)| Trip::of(&drawn, cut, own)).collect();
    let found =
        search::search(&drawn, &trips, starts).ok_or(IdentifyError::Nothing { rows: samples })?;
    judge::judged(&drawn, file, (&all, out), &trips, found)
}

/// Each move is simulated some ten thousand times.
fn check_simulated(drawn: &Drawn, fitted: &[Cut]) -> Result<(), IdentifyError> {
    let moving_s: f64 = fitted.iter().map(|cut| cut.step_s * (cut.moving + 1) as f64).sum();
    let steps = (moving_s / drawn.tick_s * drawn.steps as f64) as u64;
    if steps > MOST_STEPS {
        return Err(IdentifyError::Work { moving_s, steps, most: MOST_STEPS });
    }
    Ok(())
}

/// Nothing can be told: how near samples would have to be. `spans_ms` is how long each move takes.
fn too_slow(
    spans_ms: impl Iterator<Item = f64>,
    samples: usize,
    moves: usize,
    step_ms: f64,
) -> IdentifyError {
    let span_ms = upper_median(spans_ms).unwrap_or(0.0);
    let wanted = (span_ms / ENOUGH_OF_MOVE).min(0.5 * step_ms);
    let near =
        USUAL_STEPS_MS.iter().rev().find(|step| **step <= wanted).unwrap_or(&USUAL_STEPS_MS[0]);
    IdentifyError::TooSlow { samples, moves, step_ms, span_ms, near_ms: *near }
}

/// The next usual step that is finer.
pub(super) fn nearer(step_ms: f64) -> f64 {
    let finer = |step: &&f64| **step < 0.75 * step_ms;
    *USUAL_STEPS_MS.iter().rev().find(finer).unwrap_or(&1.0)
}

/// A motor whose work is negative by this share of what goes to and fro is reversed; a few
/// samples of a quick move may make it a little negative.
const REVERSED_SHARE: f64 = 0.1;

/// From rest to rest a motor does work against friction: it cannot gain any.
fn check_work(number: usize, all: &[Cut]) -> Result<(), IdentifyError> {
    let (mut work, mut size) = (0.0, 0.0);
    for cut in all {
        for (angle, current) in cut.angle_rad.windows(2).zip(cut.current_a.windows(2)) {
            let own = (angle[1] - angle[0]) * (current[0] + current[1]);
            work += own;
            size += own.abs();
        }
    }
    if work < -REVERSED_SHARE * size {
        let what = "the motor's work over all moves, current by speed, is negative".to_owned();
        return Err(IdentifyError::Reversed { log: Some(number + 1), what });
    }
    Ok(())
}
