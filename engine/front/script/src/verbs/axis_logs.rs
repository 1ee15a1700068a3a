//! Logs of an axis on the bench: making them in simulation, writing them.

use dryturn_handoff::Content;
use dryturn_studies::{Bench, BenchLog, BenchMove, LogNoise};
use rhai::plugin::export_module;
use rhai::{Array, Dynamic, Map, NativeCallContext};

use super::{begin, begin_on};
use crate::session::{Fallible, Session, fault};
use crate::values::answers::{int, map};
use crate::values::arguments::{face, number, ok};
use crate::values::handles::{AxisLogValue, RigValue};

/// Most moves of one log.
const MAX_MOVES: usize = 100;
/// Moves unless others are given: quarter turns there, half turns back, at four speeds.
const SPEED_SHARES: [f64; 4] = [1.0, 0.7, 0.45, 0.25];
/// Share of the torque limit that they are planned with.
const TORQUE_SHARE: f64 = 0.7;
/// Noise unless other is given.
pub(super) const NOISE: LogNoise =
    LogNoise { angle_sigma_deg: 0.02, speed_sigma_rad_s: 0.3, current_sigma_a: 0.03 };

fn usual_moves() -> Vec<BenchMove> {
    let to =
        |quarters, speed_share| BenchMove { quarters, speed_share, torque_share: TORQUE_SHARE };
    let pairs = SPEED_SHARES.into_iter().flat_map(|share| [to(1.0, share), to(-2.0, share)]);
    pairs.chain([to(1.0, 0.6)]).collect()
}

/// `[quarters, speed_share, torque_share]`; the last may be missing.
fn one_move(value: Dynamic) -> Fallible<BenchMove> {
    const SHAPE: &str = "a move is a list [quarters, speed_share] or [quarters, speed_share, \
                         torque_share]: 1, 2, -1 or -2 quarters, shares above 0 to 1";
    let list = value.try_cast::<Array>().unwrap_or_default();
    let numbers = list.iter().map(number).collect::<Fallible<Vec<f64>>>();
    let numbers = numbers.or_else(|_| fault(SHAPE))?;
    let (quarters, speed_share, torque_share) = match numbers[..] {
        [quarters, speed] => (quarters, speed, TORQUE_SHARE),
        [quarters, speed, torque] => (quarters, speed, torque),
        _ => return fault(SHAPE),
    };
    let share = |share: f64| share > 0.0 && share <= 1.0;
    if ![1.0, 2.0].contains(&quarters.abs()) || !share(speed_share) || !share(torque_share) {
        return fault(format!("{SHAPE}; not {numbers:?}"));
    }
    Ok(BenchMove { quarters, speed_share, torque_share })
}

fn given_moves(list: Array) -> Fallible<Vec<BenchMove>> {
    if list.is_empty() || list.len() > MAX_MOVES {
        return fault(format!("a log of {} moves: must be 1 to {MAX_MOVES}", list.len()));
    }
    list.into_iter().map(one_move).collect()
}

/// `#{ angle_deg, speed_rad_s, current_a }`, any of them.
pub(super) fn given_noise(fields: &Map) -> Fallible<LogNoise> {
    let mut noise = LogNoise::default();
    for (name, value) in fields {
        let sigma = number(value)?;
        if !(0.0..=1e3).contains(&sigma) {
            return fault(format!("the noise {name} is {sigma}: must be 0 to 1000"));
        }
        *match name.as_str() {
            "angle_deg" => &mut noise.angle_sigma_deg,
            "speed_rad_s" => &mut noise.speed_sigma_rad_s,
            "current_a" => &mut noise.current_sigma_a,
            _ => {
                return fault(format!(
                    "{name:?} is no noise of a log: must be angle_deg, speed_rad_s or current_a"
                ));
            }
        } = sigma;
    }
    Ok(noise)
}

fn bench(s: &Session, rig: &RigValue, letter: &str) -> Fallible<Bench> {
    Ok(Bench::of(rig.0.scene(), s.rehearser.seed().trial(rig.0.trial()), face(letter)?))
}

fn kept<E: ToString>(s: &Session, log: Result<BenchLog, E>) -> Fallible<AxisLogValue> {
    Ok(AxisLogValue(s.made(ok(log)?)))
}

fn coasted(
    s: &Session,
    rig: &RigValue,
    face: &str,
    (spin_up, noise): (Array, LogNoise),
) -> Fallible<AxisLogValue> {
    let spin_up = one_move(spin_up.into())?;
    kept(s, bench(s, rig, face)?.coasting(&spin_up, noise))
}

#[export_module]
pub(crate) mod verbs {
    use super::*;

    /// What one axis of the rig, alone on the bench, logs: quarter turns there and half turns back
    /// at four speeds, with the usual noise, `#{ angle_deg: 0.02, speed_rad_s: 0.3, current_a: 0.03
    /// }`. A move that the drive has no torque for, or whose set-point takes more than a second, is
    /// an error.
    ///
    /// * `rig` - the rig
    /// * `face` - text, the letter of the face: U, R, F, D, L or B
    ///
    /// Gives the log.
    ///
    /// ```rhai
    /// let log = bench_log(rig, "R");
    /// let slow = bench_log(rig, "R", [[1, 0.3], [-2, 0.3, 0.5], [1, 0.6]], #{ angle_deg: 0.05 });
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn bench_log(
        context: NativeCallContext,
        rig: RigValue,
        face: &str,
    ) -> Fallible<AxisLogValue> {
        let s = begin_on(&context, &rig)?;
        kept(&s, bench(&s, &rig, face)?.moves(&usual_moves(), NOISE))
    }

    /// As above with moves of your own.
    ///
    /// * `rig` - the rig
    /// * `face` - text, the letter of the face: U, R, F, D, L or B
    /// * `moves` - list of 1 to 100 moves `[quarters, speed_share, torque_share]`: 1, 2, −1 or −2
    ///   quarter turns at shares (above 0 to 1) of the highest speed and of the torque limit (0.7
    ///   where it is left out)
    ///
    /// Gives the log.
    #[rhai_fn(name = "bench_log", return_raw)]
    pub(crate) fn bench_log_of(
        context: NativeCallContext,
        rig: RigValue,
        face: &str,
        moves: Array,
    ) -> Fallible<AxisLogValue> {
        let s = begin_on(&context, &rig)?;
        let moves = given_moves(moves)?;
        kept(&s, bench(&s, &rig, face)?.moves(&moves, NOISE))
    }

    /// As above with noise of your own.
    ///
    /// * `rig` - the rig
    /// * `face` - text, the letter of the face: U, R, F, D, L or B
    /// * `moves` - list of 1 to 100 moves, as above
    /// * `noise` - map of standard deviations beside the encoder's own steps, 0 to 1000, 0 where one
    ///   is left out: `angle_deg`, `speed_rad_s`, `current_a`
    ///
    /// Gives the log.
    #[rhai_fn(name = "bench_log", return_raw)]
    pub(crate) fn bench_log_with(
        context: NativeCallContext,
        rig: RigValue,
        face: &str,
        moves: Array,
        noise: Map,
    ) -> Fallible<AxisLogValue> {
        let s = begin_on(&context, &rig)?;
        let (moves, noise) = (given_moves(moves)?, given_noise(&noise)?);
        kept(&s, bench(&s, &rig, face)?.moves(&moves, noise))
    }

    /// The axis spins up by a move, its drive lets go, and its angles alone are logged until it
    /// stands.
    ///
    /// * `rig` - the rig
    /// * `face` - text, the letter of the face: U, R, F, D, L or B
    /// * `spin_up` - list, one move `[quarters, speed_share, torque_share]` as `bench_log` takes it
    ///
    /// Gives the log.
    ///
    /// ```rhai
    /// let coast = coast_log(rig, "R", [2, 0.8]);
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn coast_log(
        context: NativeCallContext,
        rig: RigValue,
        face: &str,
        spin_up: Array,
    ) -> Fallible<AxisLogValue> {
        coasted(&*begin_on(&context, &rig)?, &rig, face, (spin_up, NOISE))
    }

    /// As above with noise of your own.
    ///
    /// * `rig` - the rig
    /// * `face` - text, the letter of the face: U, R, F, D, L or B
    /// * `spin_up` - list, one move, as above
    /// * `noise` - map of standard deviations, as `bench_log` takes it
    ///
    /// Gives the log.
    #[rhai_fn(name = "coast_log", return_raw)]
    pub(crate) fn coast_log_with(
        context: NativeCallContext,
        rig: RigValue,
        face: &str,
        spin_up: Array,
        noise: Map,
    ) -> Fallible<AxisLogValue> {
        let s = begin_on(&context, &rig)?;
        let noise = given_noise(&noise)?;
        coasted(&s, &rig, face, (spin_up, noise))
    }

    /// Writes `name.csv`, for `dryturn identify`.
    ///
    /// * `log` - the log of an axis
    /// * `name` - text, what the file is called without its ending
    ///
    /// ```rhai
    /// log.save_log("logs/axis_r");
    /// recording.save_log("logs/run");
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn save_log(
        context: NativeCallContext,
        log: AxisLogValue,
        name: &str,
    ) -> Fallible<()> {
        begin(&context, None)?.save(&format!("{name}.csv"), Content::Text(log.0.log.csv()))
    }

    /// How many samples the log of an axis has.
    #[rhai_fn(get = "samples", pure)]
    pub(crate) fn samples(log: &mut AxisLogValue) -> i64 {
        int(log.0.log.len())
    }

    /// What the simulated axis of a bench log really is: map of `inertia_kg_m2`, `friction_n_m`
    /// (mean of the moves), `constant_n_m_per_a`, `limit_n_m`.
    #[rhai_fn(get = "truth", pure)]
    pub(crate) fn truth(log: &mut AxisLogValue) -> Map {
        let log = &log.0;
        let mean = log.friction_n_m.iter().sum::<f64>() / log.friction_n_m.len().max(1) as f64;
        map([
            ("inertia_kg_m2", log.inertia_kg_m2),
            ("friction_n_m", mean),
            ("constant_n_m_per_a", log.constant_n_m_per_a),
            ("limit_n_m", log.limit_n_m),
        ])
    }
}
