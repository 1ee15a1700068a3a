//! From logs of one axis to all that is said of it.

use dryturn_handoff::AxisLog;
use dryturn_scene::file::SceneFile;
use dryturn_units::degrees;

use crate::motor::fit::{Rows, Told, drawn, judged, rms};
use crate::motor::held_out::{Law, held_out};
use crate::motor::limits::limits;
use crate::motor::moves::{Move, moves};
use crate::motor::{
    Identified, IdentifyError, MOST_MOVES, MoveSeen, Parameter, block, constant_v_s, kept_out, slow,
};

/// Fewest samples in motion.
const FEWEST_ROWS: usize = 20;
/// The friction of a move by itself is told by at least so many samples.
const FEWEST_OF_MOVE: usize = 8;

/// What logs of one axis tell of it. `file` is the scene that the axis is drawn in;
/// `keep_out` the number of the move, from 1 over all logs, that is kept out of the fit and
/// predicted: the last one unless given.
///
/// # Errors
/// Logs that do not go together, or that hold nothing to fit.
pub fn identify(
    logs: &[AxisLog],
    file: &SceneFile,
    keep_out: Option<usize>,
) -> Result<Identified, IdentifyError> {
    let has = |log: &AxisLog| log.current_a.is_some();
    let over_inertia = logs.first().is_some_and(|log| !has(log));
    if let Some(k) = logs.iter().position(|log| has(log) == over_inertia) {
        return Err(IdentifyError::Mixed { log: k + 1 });
    }
    if let Some((first, log)) = twice(logs) {
        return Err(IdentifyError::Twice { first: first + 1, log: log + 1 });
    }
    let is_slow = logs.first().is_some_and(slow::is_slow);
    if let Some(k) = logs.iter().position(|log| slow::is_slow(log) != is_slow) {
        return Err(IdentifyError::MixedSteps { log: k + 1 });
    }
    if is_slow {
        return slow::identify(logs, file, keep_out);
    }
    let mut all: Vec<Move> = Vec::new();
    for (number, log) in logs.iter().enumerate() {
        all.extend(moves(number, log)?);
    }
    if all.len() < 2 {
        return Err(IdentifyError::OneMove { moves: all.len() });
    }
    if all.len() > MOST_MOVES {
        return Err(IdentifyError::Many { moves: all.len() });
    }
    check_work(&all)?;
    let out = kept_out(keep_out, all.len())?;
    let constant = constant_v_s(&file.drive);
    let constant = (!over_inertia).then_some(constant);
    let fitted = || all.iter().enumerate().filter(|(k, _)| k + 1 != out).map(|(_, own)| own);
    let rows = Rows::of(fitted(), constant);
    if rows.target.len() < FEWEST_ROWS {
        return Err(IdentifyError::Nothing { rows: rows.target.len() });
    }
    let drawn = drawn(file, over_inertia);
    let speeds: Vec<f64> = fitted().map(Move::top_speed_rad_s).collect();
    let told = judged(&rows, &drawn, &speeds, over_inertia)
        .ok_or(IdentifyError::Nothing { rows: rows.target.len() })?;
    let Told { estimates, condition_ratio, residuals } = told;
    let value = |parameter: Parameter| {
        let own = estimates.iter().find(|estimate| estimate.parameter == parameter);
        own.map_or(1.0, |estimate| estimate.value)
    };
    let values = Parameter::ALL.map(value);
    let mean_speed =
        rows.columns[2].iter().map(|speed| speed.abs()).sum::<f64>() / rows.columns[2].len() as f64;
    let friction = values[1] + values[2] * mean_speed;
    let negative = [("inertia of all that turns", values[0]), ("friction in all", friction)];
    if let Some((what, value)) = negative.into_iter().find(|(_, value)| *value <= 0.0) {
        let what = format!("{what} comes out at {value:.3e}");
        return Err(IdentifyError::Reversed { log: None, what });
    }
    let law = Law { values, constant };
    let misfit = rms(residuals.iter().copied()) / rms(rows.target.iter().copied());
    let seen = |own: &Move| MoveSeen {
        log: own.log + 1,
        start_s: own.start_s,
        way_deg: degrees(own.way_rad()),
        top_speed_rad_s: own.top_speed_rad_s(),
        friction: alone(own, constant, &values),
    };
    let mut found = Identified {
        over_inertia,
        constant_n_m_per_a: constant_v_s(&file.drive),
        friction_at: [mean_speed, friction],
        condition_ratio,
        rows: rows.target.len(),
        misfit_share: misfit,
        corner_hz: all[0].corner_hz,
        moves: all.iter().map(seen).collect(),
        held_out: held_out(&all[out - 1], out, &law),
        limits: constant.map_or_else(Vec::new, |constant| limits(&all, constant, file)),
        estimates,
        fields: Vec::new(),
        warnings: Vec::new(),
        slow: None,
    };
    (found.fields, found.warnings) = block::fields(&found, file);
    Ok(found)
}

/// Two logs with the same angles and currents, whenever each began.
fn twice(logs: &[AxisLog]) -> Option<(usize, usize)> {
    let same = |a: &AxisLog, b: &AxisLog| {
        a.angle_deg == b.angle_deg && a.current_a == b.current_a && a.speed_rad_s == b.speed_rad_s
    };
    let before = |log: usize| Some((logs[..log].iter().position(|a| same(a, &logs[log]))?, log));
    (1..logs.len()).find_map(before)
}

/// From rest to rest a motor does work against friction: it cannot gain any.
fn check_work(all: &[Move]) -> Result<(), IdentifyError> {
    for own in all.chunk_by(|a, b| a.log == b.log) {
        let works = own.iter().filter_map(|own| {
            let pairs = own.smooth_a.as_ref()?.iter().zip(&own.speed_rad_s);
            Some(pairs.map(|(current, speed)| current * speed).sum::<f64>())
        });
        let work: f64 = works.sum();
        if work < 0.0 {
            let what = "the motor's work over all moves, current by speed, is negative".to_owned();
            return Err(IdentifyError::Reversed { log: Some(own[0].log + 1), what });
        }
    }
    Ok(())
}

/// Friction at a move's top speed by the move alone, with inertia and detents as fitted.
fn alone(own: &Move, constant: Option<f64>, values: &[f64; 4]) -> Option<f64> {
    let rows = Rows::of(core::iter::once(own), constant);
    let (product, square) = (0..rows.target.len()).fold((0.0, 0.0), |(product, square), k| {
        let left = rows.target[k]
            - values[0] * rows.columns[0][k]
            - values[2] * rows.columns[2][k]
            - values[3] * rows.columns[3][k];
        let sign = rows.columns[1][k];
        (product + left * sign, square + sign * sign)
    });
    (rows.target.len() >= FEWEST_OF_MOVE)
        .then(|| product / square + values[2] * own.top_speed_rad_s())
}
