//! The fit: which numbers the moves tell, and how surely.

use dryturn_handoff::AxisLog;
use dryturn_numerics::regression::{Regression, half_width, regression};
use dryturn_scene::file::SceneFile;
use dryturn_units::degrees;

use crate::motor::held_out::{Law, held_out};
use crate::motor::limits::limits;
use crate::motor::moves::{Move, moves};
use crate::motor::{
    Estimate, Identified, IdentifyError, MOST_CONDITION_RATIO, MOST_ERROR_SHARE, MOST_MOVES,
    MoveSeen, ONE_SPEED_RATIO, Parameter, block, constant_v_s, slow,
};

/// Residuals hang together over so many periods of the corner.
const MEMORY_PERIODS: f64 = 1.5;
/// Fewest samples in motion.
const FEWEST_ROWS: usize = 20;
/// Fewest moves that tell viscous from Coulomb friction: friction differs from turn to turn by
/// some percent, which a few moves may take for a slope.
pub(crate) const FEWEST_FOR_VISCOUS: usize = 6;
/// The friction of a move by itself is told by at least so many samples.
const FEWEST_OF_MOVE: usize = 8;

/// What stands on the left: torque, or what the inertia makes of it.
pub(crate) struct Rows {
    pub(crate) columns: [Vec<f64>; 4],
    pub(crate) target: Vec<f64>,
    blocks: Vec<usize>,
    lags: usize,
}

impl Rows {
    /// Of moves: `constant` is the torque constant, `None` for coasting.
    pub(crate) fn of<'a>(moves: impl Iterator<Item = &'a Move>, constant: Option<f64>) -> Self {
        let mut rows =
            Self { columns: Default::default(), target: Vec::new(), blocks: Vec::new(), lags: 0 };
        for own in moves {
            let before = rows.target.len();
            for k in (0..own.telling.len()).filter(|&k| own.telling[k]) {
                let rate = own.rate_rad_s2[k];
                let (target, inertia) = match (constant, &own.smooth_a) {
                    (Some(constant), Some(current)) => (constant * current[k], rate),
                    // Over the inertia, with no torque: −θ'' = T_c/J sgn θ' + …
                    _ => (-rate, 0.0),
                };
                let row = [inertia, own.sign[k], own.speed_rad_s[k], own.sine[k]];
                rows.columns.iter_mut().zip(row).for_each(|(column, v)| column.push(v));
                rows.target.push(target);
            }
            rows.blocks.push(rows.target.len() - before);
            rows.lags = (MEMORY_PERIODS / (own.corner_hz * own.step_s)) as usize;
        }
        rows
    }

    /// The fit of some columns, the others at their drawn values.
    fn fit(&self, free: &[Parameter], drawn: &[f64; 4]) -> Option<Regression> {
        let mut target = self.target.clone();
        for parameter in Parameter::ALL.into_iter().filter(|p| !free.contains(p)) {
            let column = &self.columns[parameter as usize];
            let of = drawn[parameter as usize];
            target.iter_mut().zip(column).for_each(|(t, v)| *t -= of * v);
        }
        let columns: Vec<Vec<f64>> =
            free.iter().map(|parameter| self.columns[*parameter as usize].clone()).collect();
        regression(&columns, &target, &self.blocks, self.lags)
    }
}

/// Root mean square.
pub(crate) fn rms(values: impl Iterator<Item = f64>) -> f64 {
    let (sum, count) = values.fold((0.0, 0.0), |(sum, count), v| (sum + v * v, count + 1.0_f64));
    (sum / count.max(1.0)).sqrt()
}

/// Two logs with the same angles and currents, whenever each began.
fn twice(logs: &[AxisLog]) -> Option<(usize, usize)> {
    let same = |a: &AxisLog, b: &AxisLog| {
        a.angle_deg == b.angle_deg && a.current_a == b.current_a && a.speed_rad_s == b.speed_rad_s
    };
    let before = |log: usize| Some((logs[..log].iter().position(|a| same(a, &logs[log]))?, log));
    (1..logs.len()).find_map(before)
}

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
    let out = keep_out.unwrap_or(all.len());
    if !(1..=all.len()).contains(&out) {
        return Err(IdentifyError::HeldOut { given: out, moves: all.len() });
    }
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

/// What the scene has for each parameter.
fn drawn(file: &SceneFile, over_inertia: bool) -> [f64; 4] {
    let drive = &file.drive;
    let inertia = file.axis_inertia_kg_m2();
    let friction = file.layer_friction_n_m();
    let all = [
        inertia,
        friction + drive.bearing_friction_n_m,
        drive.viscous_friction_n_m_s,
        drive.detent_torque_n_m,
    ];
    if over_inertia { [1.0, all[1] / inertia, all[2] / inertia, all[3] / inertia] } else { all }
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

struct Told {
    estimates: Vec<Estimate>,
    condition_ratio: f64,
    residuals: Vec<f64>,
}

/// Fits, leaves out what is not told, and fits again with the drawn value in its place.
fn judged(rows: &Rows, drawn: &[f64; 4], speeds: &[f64], over_inertia: bool) -> Option<Told> {
    let mut free: Vec<Parameter> = Parameter::ALL.to_vec();
    let mut open: Vec<(Parameter, String)> = Vec::new();
    if over_inertia {
        free.retain(|parameter| *parameter != Parameter::Inertia);
    }
    let (low, high) =
        speeds.iter().fold((f64::INFINITY, 0.0_f64), |(l, h), v| (l.min(*v), h.max(*v)));
    if high < ONE_SPEED_RATIO * low {
        free.retain(|parameter| *parameter != Parameter::Viscous);
        let why = format!(
            "all moves in the fit have nearly one top speed ({low:.0} to {high:.0} rad/s), so friction \
             that grows with speed cannot be told from Coulomb friction; log moves at several speeds"
        );
        open.push((Parameter::Viscous, why));
    } else if speeds.len() < FEWEST_FOR_VISCOUS {
        free.retain(|parameter| *parameter != Parameter::Viscous);
        let why = format!(
            "{} moves are in the fit, and at least {FEWEST_FOR_VISCOUS} are needed: friction differs \
             from turn to turn, which fewer may take for a slope",
            speeds.len()
        );
        open.push((Parameter::Viscous, why));
    }
    loop {
        let fit = rows.fit(&free, drawn)?;
        let worst = free
            .iter()
            .enumerate()
            .filter_map(|(k, &parameter)| {
                let why = unsure(parameter, fit.values[k], fit.errors[k], fit.condition_ratio)?;
                Some((parameter, fit.errors[k] / fit.values[k].abs(), why))
            })
            // Inertia and Coulomb friction are never fixed: they are what is looked for.
            .filter(|(parameter, ..)| *parameter >= Parameter::Viscous)
            .max_by(|a, b| a.1.total_cmp(&b.1));
        if let Some((parameter, _, why)) = worst {
            free.retain(|other| *other != parameter);
            open.push((parameter, why));
            continue;
        }
        let half = half_width(rows.blocks.len().saturating_sub(1).max(2));
        let estimate = |parameter: Parameter| {
            let Some(k) = free.iter().position(|other| *other == parameter) else {
                let why = open.iter().find(|(other, _)| *other == parameter);
                let (value, why) = (drawn[parameter as usize], why.map(|(_, why)| why.clone()));
                return Estimate { parameter, value, error: None, interval: None, open: why };
            };
            let (value, error) = (fit.values[k], fit.errors[k]);
            Estimate {
                parameter,
                value,
                error: Some(error),
                interval: Some([value - half * error, value + half * error]),
                open: unsure(parameter, value, error, fit.condition_ratio),
            }
        };
        let asked = Parameter::ALL.into_iter();
        let asked = asked.filter(|p| !(over_inertia && *p == Parameter::Inertia));
        return Some(Told {
            estimates: asked.map(estimate).collect(),
            condition_ratio: fit.condition_ratio,
            residuals: fit.residuals,
        });
    }
}

/// Why a number is not determined.
fn unsure(parameter: Parameter, value: f64, error: f64, condition: f64) -> Option<String> {
    if condition >= MOST_CONDITION_RATIO {
        return Some(format!(
            "the condition number is {condition:.0}, {MOST_CONDITION_RATIO} or more: the moves are too \
             much alike"
        ));
    }
    let share = error / value.abs();
    if !share.is_finite() || share >= MOST_ERROR_SHARE {
        return Some(format!(
            "the standard error is {:.0} % of the value, {:.0} % or more",
            (100.0 * share).min(999.0),
            100.0 * MOST_ERROR_SHARE
        ));
    }
    (value <= 0.0).then(|| format!("{} comes out negative", parameter.words()))
}
