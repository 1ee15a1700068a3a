//! Limits of the drive, where the logs run into them: of torque alone. A speed or an
//! acceleration that stays level may be what was commanded.

use dryturn_numerics::upper_median;
use dryturn_scene::file::{Profile, SceneFile};

use crate::motor::moves::Move;
use crate::motor::{Limit, LimitKind, REST_RAD_S};

/// A plateau lasts at least so long, s, and so many samples.
const PLATEAU_S: f64 = 0.002;
const PLATEAU_SAMPLES: usize = 8;
/// A current on its limit is within this share of it, or the log's noise; and it is flat: its
/// standard deviation there is that of the log's rests, nearly, and this share of it.
const FLAT_SHARE: (f64, f64) = (0.006, 0.04);
const NOISE_RATIO: f64 = 1.3;
const WAVE_SHARE: f64 = 0.002;
/// Plateaus agree within so many of their standard errors, and this share.
const AGREEING_ERRORS: f64 = 3.0;
const AGREEING_SHARE: f64 = 0.002;
/// Plateaus of the current that make a limit, if they agree.
const ENOUGH_PLATEAUS: usize = 3;
/// A speed or acceleration that stays within this share of its largest, for this share of a
/// move, is level.
const LEVEL_SHARE: f64 = 0.02;
const LEVEL_OF_MOVE_SHARE: f64 = 0.25;
const ACCELERATION_LEVEL_SHARE: f64 = 0.06;
const ACCELERATION_OF_MOVE_SHARE: f64 = 0.15;

/// Torque, speed and acceleration.
pub(crate) fn limits(moves: &[Move], constant_v_s: f64, file: &SceneFile) -> Vec<Limit> {
    let torque = torque(moves, constant_v_s);
    let saturated = torque.reached.is_some();
    let mut all = vec![torque, speed(moves)];
    if matches!(file.drive.profile, Profile::Trapezoid | Profile::SCurve) {
        all.push(acceleration(moves, saturated));
    }
    all
}

/// The drive's torque limit is reached where the current stands flat at its largest value.
fn torque(moves: &[Move], constant_v_s: f64) -> Limit {
    let lists = || moves.iter().filter_map(|own| own.current_a.as_ref());
    let largest = lists().flatten().fold(0.0, |most: f64, current| most.max(current.abs()));
    let sigma = moves.iter().map(|own| own.noise_a).fold(0.0, f64::max);
    let flat_a = (4.0 * sigma).clamp(FLAT_SHARE.0 * largest, FLAT_SHARE.1 * largest);
    // Noise lifts single samples above the level.
    let level = {
        let floor = largest - 2.0 * flat_a;
        let near = lists().flatten().map(|current| current.abs()).filter(|a| *a >= floor);
        upper_median(near).unwrap_or(0.0)
    };
    let mut plateaus: Vec<Plateau> = Vec::new();
    for own in moves {
        let Some(list) = &own.current_a else { continue };
        let most = ((PLATEAU_S / own.step_s) as usize).max(PLATEAU_SAMPLES);
        let at = |current: f64| (current.abs() - level).abs() <= flat_a;
        for run in list.chunk_by(|a, b| at(*a) && at(*b) && (*a > 0.0) == (*b > 0.0)) {
            let count = run.len() as f64;
            let mean = run.iter().map(|a| a.abs()).sum::<f64>() / count;
            let wave = run.iter().map(|a| (a.abs() - mean) * (a.abs() - mean)).sum::<f64>() / count;
            let flat = wave.sqrt() <= NOISE_RATIO * sigma + WAVE_SHARE * mean;
            if run.len() >= most && flat {
                plateaus.push(Plateau { mean, error: sigma / count.sqrt() });
            }
        }
    }
    let (count, mean) = agreeing(&mut plateaus);
    let reached = (count >= ENOUGH_PLATEAUS).then_some(mean * constant_v_s);
    let because = if reached.is_some() {
        format!("the current stands flat at {mean:.3} A, its largest, {count} times")
    } else {
        format!(
            "not reached in this log: the current goes up to {largest:.3} A without standing flat there \
             at least {ENOUGH_PLATEAUS} times for {:.0} ms",
            PLATEAU_S * 1e3
        )
    };
    Limit { kind: LimitKind::Torque, largest: largest * constant_v_s, reached, because }
}

/// A stretch of flat current: its mean, and that mean's standard error, A.
struct Plateau {
    mean: f64,
    error: f64,
}

/// How many plateaus have one level, which a limit gives them, and that level.
fn agreeing(plateaus: &mut [Plateau]) -> (usize, f64) {
    plateaus.sort_by(|a, b| a.mean.total_cmp(&b.mean));
    let Some(middle) = plateaus.get(plateaus.len() / 2).map(|plateau| plateau.mean) else {
        return (0, 0.0);
    };
    let near = |own: &&Plateau| {
        (own.mean - middle).abs() <= AGREEING_ERRORS * own.error + AGREEING_SHARE * middle
    };
    let own: Vec<f64> = plateaus.iter().filter(near).map(|plateau| plateau.mean).collect();
    (own.len(), own.iter().sum::<f64>() / own.len() as f64)
}

/// How long a figure of a move stays near its largest, over the move.
fn level_share(values: &[f64], largest: f64, within: f64, of: usize) -> f64 {
    let near = values.iter().filter(|value| value.abs() >= (1.0 - within) * largest).count();
    near as f64 / of.max(1) as f64
}

/// A level of speed or acceleration tells no limit: the command may have asked for no more.
fn level_seen(kind: LimitKind, largest: f64, longest: f64) -> Limit {
    let because = format!(
        "fastest level seen only, {largest:.1} {} for {:.0} % of a move: the log does not tell \
         whether the drive or the command held it there",
        kind.unit(),
        100.0 * longest
    );
    Limit { kind, largest, reached: None, because }
}

fn speed(moves: &[Move]) -> Limit {
    let largest = moves.iter().map(Move::top_speed_rad_s).fold(0.0, f64::max);
    let share = |own: &Move| {
        let moving = own.speed_rad_s.iter().filter(|speed| speed.abs() >= REST_RAD_S).count();
        level_share(&own.speed_rad_s, largest, LEVEL_SHARE, moving)
    };
    let longest = moves.iter().map(share).fold(0.0, f64::max);
    if longest >= LEVEL_OF_MOVE_SHARE {
        return level_seen(LimitKind::Speed, largest, longest);
    }
    let because =
        format!("not reached in this log: the speed goes up to {largest:.1} rad/s and down again");
    Limit { kind: LimitKind::Speed, largest, reached: None, because }
}

fn acceleration(moves: &[Move], saturated: bool) -> Limit {
    // A filtered acceleration overshoots a little where it jumps; the median near the top.
    let mut all: Vec<f64> =
        moves.iter().flat_map(|own| own.rate_rad_s2.iter().map(|rate| rate.abs())).collect();
    all.sort_by(f64::total_cmp);
    let largest = all.get(all.len() * 99 / 100).copied().unwrap_or(0.0);
    let share = |own: &Move| {
        level_share(&own.rate_rad_s2, largest, ACCELERATION_LEVEL_SHARE, own.rate_rad_s2.len())
    };
    let longest = moves.iter().map(share).fold(0.0, f64::max);
    let kind = LimitKind::Acceleration;
    let because = if saturated {
        "not told: the torque limit is reached, and may be what holds it back"
    } else if longest >= ACCELERATION_OF_MOVE_SHARE {
        return level_seen(kind, largest, longest);
    } else {
        "not reached in this log: the acceleration does not stay at its largest"
    };
    Limit { kind, largest, reached: None, because: because.to_owned() }
}
