//! The fit of filtered moves: which numbers they tell, and how surely.

use dryturn_numerics::regression::{Regression, half_width, regression};
use dryturn_scene::file::SceneFile;

use crate::motor::moves::Move;
use crate::motor::{Estimate, MOST_CONDITION_RATIO, MOST_ERROR_SHARE, ONE_SPEED_RATIO, Parameter};

/// Residuals hang together over so many periods of the corner.
const MEMORY_PERIODS: f64 = 1.5;
/// Fewest moves that tell viscous from Coulomb friction: friction differs from turn to turn by
/// some percent, which a few moves may take for a slope.
pub(crate) const FEWEST_FOR_VISCOUS: usize = 6;

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

/// What the scene has for each parameter.
pub(crate) fn drawn(file: &SceneFile, over_inertia: bool) -> [f64; 4] {
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

/// What the moves tell.
pub(crate) struct Told {
    pub(crate) estimates: Vec<Estimate>,
    pub(crate) condition_ratio: f64,
    pub(crate) residuals: Vec<f64>,
}

/// Fits, leaves out what is not told, and fits again with the drawn value in its place.
pub(crate) fn judged(
    rows: &Rows,
    drawn: &[f64; 4],
    speeds: &[f64],
    over_inertia: bool,
) -> Option<Told> {
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
