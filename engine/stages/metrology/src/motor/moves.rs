//! Moves in a log: stretches of motion between rests, filtered.

use dryturn_handoff::AxisLog;
use dryturn_numerics::{slopes, upper_median};
use dryturn_units::{maths, radians};

use crate::columns::median_step_s;
use crate::motor::filter::LowPass;
use crate::motor::{CORNER_HZ, IdentifyError, REST_RAD_S};

/// The corner is at most this share of the samples' rate.
const MOST_CORNER_SHARE: f64 = 0.2;
/// Rests shorter than this belong to a move: it overshoots, and comes back.
const SHORT_REST_S: f64 = 0.008;
/// Less is no move, rad.
const LEAST_WAY_RAD: f64 = 0.17;
/// Within so many periods of the corner of a rest a row is still blurred by it.
const BLURRED_PERIODS: f64 = 0.3;
/// And of an end of the log at which the axis moves, where nobody knows what went before.
const CUT_PERIODS: f64 = 0.7;

/// One move, sample by sample.
#[derive(Clone, Debug)]
pub(crate) struct Move {
    /// Which log it is from, and when it starts in it.
    pub(crate) log: usize,
    pub(crate) start_s: f64,
    pub(crate) step_s: f64,
    pub(crate) corner_hz: f64,
    /// As logged: angle from the rest before, and current.
    pub(crate) angle_rad: Vec<f64>,
    pub(crate) current_a: Option<Vec<f64>>,
    /// Standard deviation of the current's noise, from the log's rests.
    pub(crate) noise_a: f64,
    /// Angle from a stop at the start.
    pub(crate) from_stop_rad: f64,
    /// Filtered.
    pub(crate) speed_rad_s: Vec<f64>,
    pub(crate) rate_rad_s2: Vec<f64>,
    pub(crate) smooth_a: Option<Vec<f64>>,
    /// Sign of the speed and sine of four times the angle, filtered likewise.
    pub(crate) sign: Vec<f64>,
    pub(crate) sine: Vec<f64>,
    /// Whether a sample tells of friction: in motion, and not near a rest.
    pub(crate) telling: Vec<bool>,
}

impl Move {
    pub(crate) fn top_speed_rad_s(&self) -> f64 {
        self.speed_rad_s.iter().fold(0.0, |top: f64, speed| top.max(speed.abs()))
    }

    pub(crate) fn way_rad(&self) -> f64 {
        self.angle_rad.last().unwrap_or(&0.0) - self.angle_rad.first().unwrap_or(&0.0)
    }
}

/// How many whole ones there are; what rounding has left just below a whole number is that number.
fn whole(ratio: f64) -> usize {
    (ratio + 1e-6) as usize
}

/// Samples at even steps, by straight lines between those that are there.
fn evened(time_s: &[f64], values: &[f64], step_s: f64) -> Vec<f64> {
    let (first, last) = (time_s[0], time_s[time_s.len() - 1]);
    let count = whole((last - first) / step_s) + 1;
    let mut place = 0;
    let at = |k: usize| {
        let time = first + k as f64 * step_s;
        while place + 2 < time_s.len() && time_s[place + 1] < time {
            place += 1;
        }
        let share = (time - time_s[place]) / (time_s[place + 1] - time_s[place]);
        values[place] + share.clamp(0.0, 1.0) * (values[place + 1] - values[place])
    };
    (0..count).map(at).collect()
}

/// The moves of a log, in order; a coasting log is one move.
pub(crate) fn moves(number: usize, log: &AxisLog) -> Result<Vec<Move>, IdentifyError> {
    let step_s = median_step_s(&log.time_s);
    let even = |values: &[f64]| evened(&log.time_s, values, step_s);
    let angle: Vec<f64> = even(&log.angle_deg).into_iter().map(radians).collect();
    let current = log.current_a.as_ref().map(|list| even(list));
    let corner_hz = CORNER_HZ.min(MOST_CORNER_SHARE / step_s);
    let filter = LowPass::new(corner_hz, step_s);
    let smooth = filter.filtered(&angle);
    let speed = slopes(&smooth, step_s);
    let moving: Vec<bool> = speed.iter().map(|speed| speed.abs() >= REST_RAD_S).collect();
    let stop_rad = stop(&smooth, &moving);
    let sign: Vec<f64> = speed
        .iter()
        .zip(&moving)
        .map(|(speed, moving)| if *moving { speed.signum() } else { 0.0 })
        .collect();
    let sine: Vec<f64> = angle.iter().map(|angle| maths::sin(4.0 * (angle - stop_rad))).collect();
    let (sign, sine) = (filter.filtered(&sign), filter.filtered(&sine));
    let rate = slopes(&speed, step_s);
    let smooth_a = current.as_ref().map(|list| filter.filtered(list));
    let noise_a = current.as_ref().map_or(0.0, |list| noise(list, &moving));
    let short = whole(SHORT_REST_S / step_s);
    let blurred = whole(BLURRED_PERIODS / (corner_hz * step_s));
    let cut = whole(CUT_PERIODS / (corner_hz * step_s));
    // How many samples before each are at rest: quick samples make these windows long.
    let mut resting = vec![0_usize; moving.len() + 1];
    (0..moving.len()).for_each(|k| resting[k + 1] = resting[k] + usize::from(!moving[k]));
    let telling: Vec<bool> = (0..moving.len())
        .map(|k| {
            let (from, to) = (k.saturating_sub(blurred), (k + blurred + 1).min(moving.len()));
            let whole = k >= cut && k + cut < moving.len();
            whole && resting[from] == resting[to]
        })
        .collect();
    let stretches: Vec<(usize, usize)> = stretches(&moving, short)
        .into_iter()
        .filter(|&(from, to)| (smooth[to - 1] - smooth[from]).abs() >= LEAST_WAY_RAD)
        .collect();
    let last = moving.len();
    let made = stretches.iter().map(|&(from, to)| {
        let (from, to) = (from.saturating_sub(short / 2), (to + short / 2).min(last));
        let cut = |list: &Vec<f64>| list[from..to].to_vec();
        Move {
            log: number,
            start_s: log.time_s[0] + from as f64 * step_s,
            step_s,
            corner_hz,
            angle_rad: cut(&angle),
            current_a: current.as_ref().map(cut),
            noise_a,
            from_stop_rad: angle[from] - stop_rad,
            speed_rad_s: cut(&speed),
            rate_rad_s2: cut(&rate),
            smooth_a: smooth_a.as_ref().map(cut),
            sign: cut(&sign),
            sine: cut(&sine),
            telling: telling[from..to].to_vec(),
        }
    });
    let made: Vec<Move> = made.collect();
    if made.is_empty() { Err(IdentifyError::NoMove { log: number + 1 }) } else { Ok(made) }
}

/// Noise of a current that otherwise stands still: from differences of neighbours.
fn noise(current: &[f64], moving: &[bool]) -> f64 {
    let rests =
        current.windows(2).zip(moving.windows(2)).filter(|(_, moving)| *moving == [false; 2]);
    // The median of a normal's magnitude is 0.6745 standard deviations; two samples differ.
    upper_median(rests.map(|(pair, _)| (pair[1] - pair[0]).abs()))
        .map_or(0.0, |median| median / 0.6745 / core::f64::consts::SQRT_2)
}

/// Where the stops are, within a quarter turn: the mean of the rests.
fn stop(angle: &[f64], moving: &[bool]) -> f64 {
    let rests = angle.iter().zip(moving).filter(|(_, moving)| !**moving);
    let (sin, cos) = rests.fold((0.0, 0.0), |(sin, cos), (angle, _)| {
        (sin + maths::sin(4.0 * angle), cos + maths::cos(4.0 * angle))
    });
    if sin == 0.0 && cos == 0.0 { 0.0 } else { maths::atan2(sin, cos) / 4.0 }
}

/// Stretches of motion with no rest of `short` samples or more in them: from, to.
fn stretches(moving: &[bool], short: usize) -> Vec<(usize, usize)> {
    let mut found: Vec<(usize, usize)> = Vec::new();
    for k in (0..moving.len()).filter(|&k| moving[k]) {
        match found.last_mut() {
            Some((_, to)) if k - *to < short.max(1) => *to = k + 1,
            _ => found.push((k, k + 1)),
        }
    }
    found
}
