//! What slow logs of a coasting axis come to: friction over inertia, with errors, and the coast
//! that was kept out.

use dryturn_handoff::AxisLog;
use dryturn_numerics::regression::{half_width, jackknife_variances};
use dryturn_numerics::{condition, upper_median};
use dryturn_scene::file::SceneFile;
use dryturn_units::degrees;

use super::coast::{self, Coast, Fit, Pull, SHARED};
use super::errors::TOO_SMALL_RATIO;
use super::judge::nearer;
use super::{ENOUGH_OF_MOVE, FEWEST_MOVES, FEWEST_SAMPLES, USUAL_STEPS_MS};
use crate::columns::median_step_s;
use crate::motor::fit::{FEWEST_FOR_VISCOUS, rms};
use crate::motor::{
    Estimate, HeldOut, Identified, IdentifyError, MOST_ERROR_SHARE, MoveSeen, ONE_SPEED_RATIO,
    Parameter, SlowFit, block, constant_v_s,
};

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
    let out = keep_out.unwrap_or(all.len());
    if !(1..=all.len()).contains(&out) {
        return Err(IdentifyError::HeldOut { given: out, moves: all.len() });
    }
    let step_ms = 1e3 * median_step_s(&logs[0].time_s);
    let tells = |(k, own): &(usize, &Coast)| k + 1 != out && own.moving >= coast::FEWEST_OF_COAST;
    let fitted: Vec<Coast> =
        all.iter().enumerate().filter(tells).map(|(_, own)| own.clone()).collect();
    let samples = fitted.iter().map(|own| own.moving).sum::<usize>();
    if samples < FEWEST_SAMPLES || fitted.len() < FEWEST_MOVES {
        return Err(too_slow(&all, samples, fitted.len(), step_ms));
    }
    let nothing = || IdentifyError::Nothing { rows: samples };
    let mut pull = Pull::of(file);
    let mut fit = coast::fit(&fitted, &pull).ok_or_else(nothing)?;
    let mut reasons: [Option<String>; SHARED] = Default::default();
    for (k, reason) in reasons.iter_mut().enumerate().skip(1) {
        let without = pull.without(k);
        *reason = not_told(k, &fitted, &without, step_ms);
        if reason.is_none() {
            pull = without;
            fit = coast::fit(&fitted, &pull).ok_or_else(nothing)?;
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
        let top = coast::alone(own, &fit.shared, false).map_or(0.0, |alone| alone.own[0][1]);
        let by_itself = coast::alone(own, &fit.shared, true).filter(|_| k + 1 != out);
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

/// Nothing can be told: how near samples would have to be.
fn too_slow(all: &[Coast], samples: usize, moves: usize, step_ms: f64) -> IdentifyError {
    let span_ms = upper_median(all.iter().map(|own| 1e3 * own.time_s[own.moving])).unwrap_or(0.0);
    let wanted = (span_ms / ENOUGH_OF_MOVE).min(0.5 * step_ms);
    let near_ms =
        *USUAL_STEPS_MS.iter().rev().find(|step| **step <= wanted).unwrap_or(&USUAL_STEPS_MS[0]);
    IdentifyError::TooSlow { samples, moves, step_ms, span_ms, near_ms }
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
    let free = coast::fit(fitted, without);
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

/// Variances of the shared numbers, and how much they are alike.
struct Errors {
    variances: [f64; SHARED],
    condition_ratio: f64,
}

/// As in slow logs with currents: by leaving out coasts (the jackknife, linearised), with what
/// the drawing knows only so surely and what the model leaves out.
fn errors(fit: &Fit, pull: &Pull) -> Option<Errors> {
    let covariance = coast::covariance(&fit.parts, pull)?;
    let count = fit.parts.len();
    let steps = (0..count).map(|out| coast::solved(&fit.parts, pull, &fit.shared, Some(out)));
    let steps: Vec<[f64; SHARED]> = steps.collect::<Option<_>>()?;
    let by_coast = jackknife_variances(&steps, SHARED);
    let variance = |k: usize| {
        let drawn: f64 = (0..SHARED)
            .map(|i| (covariance[k][i] / pull.sigma[i]) * (covariance[k][i] / pull.sigma[i]))
            .sum();
        let out = LEFT_OUT_SHARE[k] * fit.shared[k];
        let seen = (by_coast[k] + drawn).max(covariance[k][k]);
        TOO_SMALL_RATIO * TOO_SMALL_RATIO * seen + out * out
    };
    let alike: Vec<f64> = (0..SHARED * SHARED)
        .map(|at| {
            let (i, j) = (at / SHARED, at % SHARED);
            covariance[i][j] / (covariance[i][i] * covariance[j][j]).sqrt()
        })
        .collect();
    Some(Errors {
        variances: core::array::from_fn(variance),
        condition_ratio: condition(&alike, SHARED),
    })
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
    let by_fit = coast::alone(own, &fit.shared, false)?;
    let by_itself = coast::alone(own, &fit.shared, true)?;
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
        .map(|(time, (angle, [found, _]))| {
            [*time, coast::logged_deg(own, *angle), coast::logged_deg(own, *found)]
        })
        .collect();
    let off = |points: &[[f64; 3]]| rms(points.iter().map(|[_, measured, found]| found - measured));
    let own_rms = rms(torque.iter().map(|[_, measured, _]| *measured));
    let way_deg = degrees(own.way_rad());
    let end = angle.last().copied().unwrap_or_default();
    Some(HeldOut {
        number,
        torque_off_share: if own_rms > 0.0 { off(&torque) / own_rms } else { f64::INFINITY },
        angle_off_share: off(&angle) / way_deg,
        end_off_deg: end[2] - end[1],
        way_deg,
        slow: true,
        torque,
        angle,
    })
}
