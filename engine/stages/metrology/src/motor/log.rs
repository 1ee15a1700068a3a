//! The log of one axis, read strictly.

use dryturn_handoff::AxisLog;
use dryturn_scene::file::Drive;
use dryturn_units::{degrees, radians};

use crate::columns::{
    Column, LATEST_S, LONGEST_FINE_S, LONGEST_SLOW_S, LogError, Numbers, median_step_s,
};
use crate::motor::{REST_RAD_S, constant_v_s, current_limit_a};

/// Farthest angle, degrees; speed, rad/s; current, A.
const MOST_DEG: f64 = 1e6;
const MOST_RAD_S: f64 = 2000.0;
const MOST_A: f64 = 1e6;
/// Least way of an axis in a log, degrees.
const LEAST_WAY_DEG: f64 = 10.0;
/// A speed counts when it is compared with the angle's slope from here on, rad/s.
const TELLING_RAD_S: f64 = 5.0;
/// Slope over speed within this: a drive's speed lags, and has noise.
const AGREEING_RATIO: core::ops::RangeInclusive<f64> = 0.7..=1.4;
/// The way of one sample differs from that of the next by less than this, degrees: at 1 ms,
/// 350,000 rad/s², beyond any motor. Where samples are farther apart, what this acceleration
/// makes of them, rad/s², still beyond any with a cube on it.
pub(super) const JUMP_DEG: f64 = 20.0;
const JUMP_RAD_S2: f64 = 60_000.0;
/// Slopes over slow samples flatten a peak of speed: then within this.
const AGREEING_SLOW_RATIO: core::ops::RangeInclusive<f64> = 0.4..=1.6;
/// Time over which slopes are taken, s.
const SLOPE_S: f64 = 0.002;
/// A current beyond so many times the drawn limit is none of this drive.
const MOST_LIMITS: f64 = 10.0;
/// A coasting axis may gain this share of its highest speed: what its detents give back.
const COASTING_GAIN_SHARE: f64 = 0.1;

/// Reads the log of one axis: CSV with the columns `time_s`, `angle_deg` and, where they
/// were logged, `speed_rad_s` and `current_a`, in any order. `drive` is the drawn one, which
/// says what currents are plausible. Without currents it must be of a coasting axis.
///
/// # Errors
/// The first fault, with its line and column.
pub fn axis_log(csv: &str, drive: &Drive) -> Result<AxisLog, LogError> {
    let known = [
        Column::new("time_s", true, LATEST_S),
        Column::new("angle_deg", true, MOST_DEG),
        Column::new("speed_rad_s", false, MOST_RAD_S),
        Column::new("current_a", false, MOST_A),
    ];
    let Numbers { lines, columns } = Numbers::read(csv, &known, LONGEST_SLOW_S)?;
    let mut columns = columns.into_iter();
    let mut next = || columns.next().flatten();
    let log = AxisLog {
        time_s: next().unwrap_or_default(),
        angle_deg: next().unwrap_or_default(),
        speed_rad_s: next(),
        current_a: next(),
    };
    let slopes = slopes(&log.time_s, &log.angle_deg);
    plausible(&log.angle_deg, &slopes, &lines, "angle_deg", jump_deg(&log.time_s))?;
    check_speed(&log, &slopes, &lines)?;
    check_current(&log, drive, &lines)?;
    check_way(&log, &lines)?;
    if log.current_a.is_some() {
        check_rest(&slopes, &lines)?;
    } else {
        check_coasting(&slopes, &lines)?;
    }
    Ok(log)
}

/// Slopes of the angle over some samples, rad/s.
pub(super) fn slopes(time_s: &[f64], angle_deg: &[f64]) -> Vec<f64> {
    let last = time_s.len() - 1;
    let step_s = (time_s[last] - time_s[0]) / last as f64;
    let half = ((0.5 * SLOPE_S / step_s).round() as usize).clamp(1, last / 2);
    let slope = |k: usize| {
        let (from, to) = (k.saturating_sub(half), (k + half).min(last));
        radians(angle_deg[to] - angle_deg[from]) / (time_s[to] - time_s[from])
    };
    (0..time_s.len()).map(slope).collect()
}

fn largest(values: impl Iterator<Item = f64>) -> (usize, f64) {
    let larger = |best: (usize, f64), (k, value): (usize, f64)| {
        if value.abs() > best.1.abs() { (k, value) } else { best }
    };
    values.enumerate().fold((0, 0.0), larger)
}

/// The smallest jump between two ways.
fn jump_deg(time_s: &[f64]) -> f64 {
    let step_s = median_step_s(time_s);
    JUMP_DEG.max(degrees(JUMP_RAD_S2 * step_s * step_s))
}

/// The angle does not jump, nor turn faster than any drive could.
pub(super) fn plausible(
    angle_deg: &[f64],
    slopes: &[f64],
    lines: &[usize],
    column: &str,
    jump_deg: f64,
) -> Result<(), LogError> {
    let (k, fastest) = largest(slopes.iter().copied());
    let most = format!(
        "must be at most {MOST_RAD_S} rad/s; angles are in degrees, times in seconds, and an angle \
         goes on beyond a whole turn"
    );
    let bend = |at: &[f64]| (at[2] - 2.0 * at[1] + at[0]).abs();
    if let Some(k) = angle_deg.windows(3).position(|at| bend(at) >= jump_deg) {
        // Where a jump begins or ends, its second step is the other one.
        let steps = [angle_deg[k + 1] - angle_deg[k], angle_deg[k + 2] - angle_deg[k + 1]];
        let later = usize::from(steps[1].abs() > steps[0].abs());
        let what = format!("the angle jumps by {:.1}° here, in one sample: {most}", steps[later]);
        return Err(LogError::odd(lines[k + 1 + later], column, what));
    }
    if fastest.abs() > MOST_RAD_S {
        let what = format!("turns at {fastest:.0} rad/s here: {most}");
        return Err(LogError::odd(lines[k], column, what));
    }
    Ok(())
}

/// The angle turns as fast as the speed says.
fn check_speed(log: &AxisLog, slopes: &[f64], lines: &[usize]) -> Result<(), LogError> {
    let Some(speeds) = &log.speed_rad_s else { return Ok(()) };
    let (k, fastest) = largest(speeds.iter().copied());
    let pairs = speeds.iter().zip(slopes).filter(|(speed, _)| speed.abs() >= TELLING_RAD_S);
    let (product, square) = pairs.fold((0.0, 0.0), |(product, square), (speed, slope)| {
        (product + speed * slope, square + speed * speed)
    });
    let is_slow = median_step_s(&log.time_s) > LONGEST_FINE_S;
    let agreeing = if is_slow { AGREEING_SLOW_RATIO } else { AGREEING_RATIO };
    if square == 0.0 || agreeing.contains(&(product / square)) {
        return Ok(());
    }
    let what = format!(
        "turns at {:.2} rad/s here where speed_rad_s is {fastest:.2}: must be the same; angles are \
         in degrees, speeds in rad/s, both clockwise positive",
        slopes[k]
    );
    Err(LogError::odd(lines[k], "angle_deg", what))
}

/// The current is one that this drive could have.
fn check_current(log: &AxisLog, drive: &Drive, lines: &[usize]) -> Result<(), LogError> {
    let Some(currents) = &log.current_a else { return Ok(()) };
    let (k, current) = largest(currents.iter().copied());
    let most = MOST_LIMITS * current_limit_a(drive);
    if current.abs() > most {
        let what = format!(
            "{current} A: must be at most {most:.1}, {MOST_LIMITS} times what the drawn drive gives \
             (torque constant {:.4} N·m/A); currents are in amperes",
            constant_v_s(drive)
        );
        return Err(LogError::odd(lines[k], "current_a", what));
    }
    if current == 0.0 {
        let what = "0 in every line: must be the motor's current; leave the column out where it was \
                    not logged";
        return Err(LogError::odd(lines[0], "current_a", what));
    }
    Ok(())
}

fn check_way(log: &AxisLog, lines: &[usize]) -> Result<(), LogError> {
    let first = log.angle_deg[0];
    let (k, way) = largest(log.angle_deg.iter().map(|angle| angle - first));
    if way.abs() >= LEAST_WAY_DEG {
        return Ok(());
    }
    let what = format!(
        "the axis moves by {:.3}° at most in the whole log: must be at least {LEAST_WAY_DEG}°; \
         angles are in degrees",
        way.abs()
    );
    Err(LogError::odd(lines[k], "angle_deg", what))
}

fn check_rest(slopes: &[f64], lines: &[usize]) -> Result<(), LogError> {
    let slowest = slopes.iter().fold(f64::INFINITY, |slowest, slope| slowest.min(slope.abs()));
    if slowest < REST_RAD_S {
        return Ok(());
    }
    let what = format!(
        "the axis never rests ({slowest:.1} rad/s at the slowest): must go from rest to rest"
    );
    Err(LogError::odd(lines[lines.len() - 1], "angle_deg", what))
}

/// Nothing drives the axis: it only slows down.
fn check_coasting(slopes: &[f64], lines: &[usize]) -> Result<(), LogError> {
    let (_, fastest) = largest(slopes.iter().copied());
    let mut slowest = f64::INFINITY;
    for (slope, line) in slopes.iter().zip(lines) {
        slowest = slowest.min(slope.abs());
        if slope.abs() > slowest + COASTING_GAIN_SHARE * fastest.abs() + 2.0 * REST_RAD_S {
            let what = format!(
                "the speed grows here, from {slowest:.1} to {:.1} rad/s, but there is no column \
                 current_a: must be a coasting axis, whose drive has let go, or have its current",
                slope.abs()
            );
            return Err(LogError::odd(*line, "angle_deg", what));
        }
    }
    Ok(())
}
