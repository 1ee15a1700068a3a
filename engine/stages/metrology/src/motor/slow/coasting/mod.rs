//! What slow logs of a coasting axis come to: friction over inertia, with errors, and the coast
//! that was kept out.

mod coast;
mod fit;

use dryturn_handoff::AxisLog;
use dryturn_numerics::regression::{half_width, jackknife_variances};
use dryturn_scene::file::SceneFile;
use dryturn_units::degrees;

use super::errors::Errors;
use super::{FEWEST_MOVES, FEWEST_SAMPLES, nearer, too_slow};
use crate::columns::median_step_s;
use crate::motor::fit::FEWEST_FOR_VISCOUS;
use crate::motor::{
    Estimate, HeldOut, Identified, IdentifyError, MOST_ERROR_SHARE, MoveSeen, ONE_SPEED_RATIO,
    Parameter, SlowFit, block, constant_v_s, kept_out,
};

use coast::{Coast, FEWEST_OF_COAST, SHARED};
use fit::{Fit, Pull};

/// What a coast of one solid leaves out (the shaft's swing, friction's course) is worth so much
/// of each figure, as a standard deviation (assumed; seen on simulated rigs).
const LEFT_OUT_SHARE: [f64; SHARED] = [0.015, 0.05, 0.05];

/// Slow logs of one coasting axis, one coast each.
pub(super) fn identify(
    logs: &[AxisLog],
    file: &SceneFile,
    keep_out: Option<usize>,
) -> Result<Identified, IdentifyError> {
    let coast = |(number, log): (usize, &AxisLog)| {
        Coast::of(number, log).ok_or(IdentifyError::NoMove { log: number + 1 })
    };
    let all: Vec<Coast> = logs.iter().enumerate().map(coast).collect::<Result<_, _>>()?;
    if all.len() < 2 {
        return Err(IdentifyError::OneMove { moves: all.len() });
    }
    let out = kept_out(keep_out, all.len())?;
    let step_ms = 1e3 * median_step_s(&logs[0].time_s);
    let tells = |(k, own): &(usize, &Coast)| k + 1 != out && own.moving >= FEWEST_OF_COAST;
    let fitted: Vec<Coast> =
        all.iter().enumerate().filter(tells).map(|(_, own)| own.clone()).collect();
    let samples = fitted.iter().map(|own| own.moving).sum::<usize>();
    if samples < FEWEST_SAMPLES || fitted.len() < FEWEST_MOVES {
        let spans_ms = all.iter().map(|own| 1e3 * own.time_s[own.moving]);
        return Err(too_slow(spans_ms, samples, fitted.len(), step_ms));
    }
    let nothing = || IdentifyError::Nothing { rows: samples };
    let mut pull = Pull::of(file);
    let mut fit = fit::fit(&fitted, &pull).ok_or_else(nothing)?;
    let mut reasons: [Option<String>; SHARED] = Default::default();
    for (k, reason) in reasons.iter_mut().enumerate().skip(1) {
        let without = pull.without(k);
        *reason = not_told(k, &fitted, &without, step_ms);
        if reason.is_none() {
            pull = without;
            fit = fit::fit(&fitted, &pull).ok_or_else(nothing)?;
        }
    }
    let errors = errors(&fit, &pull).ok_or_else(nothing)?;
    let estimates = estimates(&fit, &errors, (&pull, reasons), step_ms);
    let friction_at = |speed: f64| fit.shared[0] + fit.shared[1] * speed;
    let (way, time) = fitted
        .iter()
        .fold((0.0, 0.0), |(way, time), own| (way + own.way_rad(), time + own.time_s[own.moving]));
    let mean_speed = way / time;
    if friction_at(mean_speed) <= 0.0 {
        let what = format!("friction in all comes out at {:.3e}", friction_at(mean_speed));
        return Err(IdentifyError::Reversed { log: None, what });
    }
    let off_deg = degrees(fit.off_rad);
    let moves = all.iter().enumerate().map(|(k, own)| {
        let top = fit::alone(own, &fit.shared, false).map_or(0.0, |alone| alone.own[0][1]);
        let by_itself = fit::alone(own, &fit.shared, true).filter(|_| k + 1 != out);
        MoveSeen {
            log: own.log + 1,
            start_s: own.start_s,
            way_deg: degrees(own.sense * own.way_rad()),
            top_speed_rad_s: top,
            friction: by_itself.map(|alone| alone.shared[0] + fit.shared[1] * top),
        }
    });
    let mut said = Identified {
        over_inertia: true,
        constant_n_m_per_a: constant_v_s(&file.drive),
        friction_at: [mean_speed, friction_at(mean_speed)],
        condition_ratio: errors.condition_ratio,
        rows: samples,
        misfit_share: fit.off_rad / (way / fitted.len() as f64),
        corner_hz: 0.0,
        moves: moves.collect(),
        held_out: held_out(&all[out - 1], out, &fit).ok_or_else(nothing)?,
        limits: Vec::new(),
        estimates,
        fields: Vec::new(),
        warnings: Vec::new(),
        slow: Some(SlowFit { step_ms, angle_off_deg: off_deg, current_off_a: None }),
    };
    (said.fields, said.warnings) = block::fields(&said, file);
    Ok(said)
}

/// Why a figure other than Coulomb friction is not told by the coasts alone.
fn not_told(number: usize, fitted: &[Coast], without: &Pull, step_ms: f64) -> Option<String> {
    let more = format!(
        "samples at most {} ms apart, and more coasts from several speeds, would tell more",
        nearer(step_ms)
    );
    if number == Parameter::Viscous as usize - 1 {
        if fitted.len() < FEWEST_FOR_VISCOUS {
            return Some(format!(
                "{} coasts are in the fit, and at least {FEWEST_FOR_VISCOUS} are needed: friction \
                 differs from turn to turn, which fewer may take for a slope",
                fitted.len()
            ));
        }
        let first = |own: &Coast| (own.angle_rad[1] - own.angle_rad[0]) / own.time_s[1];
        let (low, high) = fitted
            .iter()
            .map(first)
            .fold((f64::INFINITY, 0.0_f64), |(low, high), v| (low.min(v), high.max(v)));
        if high < ONE_SPEED_RATIO * low {
            return Some(format!(
                "all coasts in the fit begin at nearly one speed ({low:.0} to {high:.0} rad/s), so \
                 friction that grows with speed cannot be told from Coulomb friction"
            ));
        }
    }
    let free = fit::fit(fitted, without);
    let share = free.as_ref().and_then(|free| {
        let errors = errors(free, without)?;
        Some((errors.variances[number].sqrt() / free.shared[number].abs(), free.shared[number]))
    });
    match share {
        Some((share, value)) if share < MOST_ERROR_SHARE && value > 0.0 => None,
        Some((share, _)) => Some(format!(
            "by these logs alone its standard error is {:.0} % of the value, {:.0} % or more, or it comes \
             out negative: {more}",
            (100.0 * share).min(999.0),
            100.0 * MOST_ERROR_SHARE
        )),
        None => Some(format!("these logs do not decide it: {more}")),
    }
}

/// As in slow logs with currents: by leaving out coasts (the jackknife, linearised), with what
/// the drawing knows only so surely and what the model leaves out.
fn errors(fit: &Fit, pull: &Pull) -> Option<Errors> {
    let covariance = fit::covariance(&fit.parts, pull)?;
    let without = (0..fit.parts.len())
        .map(|out| fit::solved(&fit.parts, pull, &fit.shared, Some(out)))
        .collect::<Option<Vec<_>>>()?;
    let by_coast = jackknife_variances(&without, SHARED);
    let left_out: [f64; SHARED] = core::array::from_fn(|k| LEFT_OUT_SHARE[k] * fit.shared[k]);
    Some(Errors::of(&covariance, &pull.sigma, &by_coast, &left_out))
}

fn estimates(
    fit: &Fit,
    errors: &Errors,
    (pull, reasons): (&Pull, [Option<String>; SHARED]),
    step_ms: f64,
) -> Vec<Estimate> {
    let half = half_width(fit.parts.len().saturating_sub(1).max(2));
    let parameters = [Parameter::Coulomb, Parameter::Viscous, Parameter::Detent];
    let estimate = |((k, parameter), why): ((usize, Parameter), Option<String>)| {
        if why.is_some() {
            let value = pull.centre[k];
            return Estimate { parameter, value, error: None, interval: None, open: why };
        }
        let (value, error) = (fit.shared[k], errors.variances[k].sqrt());
        let share = error / value.abs();
        let open = (!share.is_finite() || share >= MOST_ERROR_SHARE || value <= 0.0).then(|| {
            format!(
                "the standard error is {:.0} % of the value, {:.0} % or more, or it comes out negative: \
                 samples at most {} ms apart, and more coasts, would tell it",
                (100.0 * share).min(999.0),
                100.0 * MOST_ERROR_SHARE,
                nearer(step_ms)
            )
        });
        let interval = Some([value - half * error, value + half * error]);
        Estimate { parameter, value, error: Some(error), interval, open }
    };
    parameters.into_iter().enumerate().zip(reasons).map(estimate).collect()
}

/// The coast that was kept out: its first angle and speed by its own angles, the rest by the fit.
fn held_out(own: &Coast, number: usize, fit: &Fit) -> Option<HeldOut> {
    let by_fit = fit::alone(own, &fit.shared, false)?;
    let by_itself = fit::alone(own, &fit.shared, true)?;
    let motion = own.motion(&fit.shared, &by_fit.own[0]);
    let slows = |shared: &[f64; SHARED], speed: f64| shared[0] + shared[1] * speed;
    let torque: Vec<[f64; 3]> = own
        .time_s
        .iter()
        .zip(&motion)
        .filter(|(_, [_, speed])| *speed > 0.0)
        .map(|(time, [_, speed])| {
            [*time, slows(&by_itself.shared, *speed), slows(&fit.shared, *speed)]
        })
        .collect();
    let angle: Vec<[f64; 3]> = own
        .time_s
        .iter()
        .zip(own.angle_rad.iter().zip(&motion))
        .map(|(time, (angle, [found, _]))| [*time, own.logged_deg(*angle), own.logged_deg(*found)])
        .collect();
    Some(HeldOut::compared(number, degrees(own.way_rad()), true, torque, angle))
}
