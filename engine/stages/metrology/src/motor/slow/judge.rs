//! From what was found to what is said: figures with their intervals, what is not determined
//! and which logs would tell it, and the move that was kept out.

use dryturn_numerics::regression::half_width;
use dryturn_scene::file::SceneFile;
use dryturn_units::degrees;

use crate::motor::fit::rms;
use crate::motor::{
    Estimate, HeldOut, Identified, IdentifyError, Limit, LimitKind, MOST_ERROR_SHARE, MoveSeen,
    Parameter, SlowFit, block,
};

use super::course::{Belief, Course};
use super::cut::Cut;
use super::drawn::Drawn;
use super::errors::{Errors, errors};
use super::fit::{Guess, Problem, Pull};
use super::guess::{self, Own};
use super::model::{MAIN, SHARED, Trip, units};
use super::nearer;
use super::search::{FREE_SIGMA, Found, largest_a, pull, spreads};

/// An axis that is farther off what is simulated does not move as drawn: degrees, and share
/// of the currents. Simulated rigs are off by up to 0.1° and 0.2; moves along half a cosine,
/// which no drawn profile gives, by a degree, and then inertia comes out at a half.
const MOST_OFF: (f64, f64) = (0.25, 0.35);
/// How surely its angles alone must tell where the kept-out move was commanded, degrees.
const PROBED_SIGMA_DEG: f64 = 0.1;

/// All that is said of a fit.
pub(super) fn judged(
    drawn: &Drawn,
    file: &SceneFile,
    (all, out): (&[Cut], usize),
    trips: &[Trip],
    found: Found,
) -> Result<Identified, IdentifyError> {
    let Found { mut guess, mut seen, first, sigmas } = found;
    let nothing = || IdentifyError::Nothing {
        rows: trips.iter().map(|trip| trip.rows.1 - trip.rows.0).sum(),
    };
    let spread = spreads(trips, &seen);
    let off = [degrees(spread[0] * sigmas[0]), spread[1] * sigmas[1]];
    let currents = trips.iter().flat_map(|trip| &trip.cut.current_a[trip.rows.0..trip.rows.1]);
    let misfit_share = off[1] / rms(currents.copied());
    if off[0] > MOST_OFF.0 || misfit_share > MOST_OFF.1 {
        return Err(IdentifyError::Unlike { off_deg: off[0], off_share: misfit_share });
    }
    let problem =
        |pull: Pull| Problem { drawn, trips, sigmas, pull, free: [true; SHARED], first: &first };
    let mut pull = pull(drawn);
    let mut own = errors(&problem(pull), &guess, &seen).ok_or_else(nothing)?;
    // Viscous friction and detents: told by the log alone, or drawn towards their drawing.
    let mut told = [true, true, false, false];
    let mut alone = [0.0; MAIN];
    for k in 2..MAIN {
        let mut without = pull;
        without.sigma[k] = FREE_SIGMA;
        let free = errors(&problem(without), &guess, &seen).ok_or_else(nothing)?;
        alone[k] = free.variances[k].sqrt() / guess.shared[k].abs();
        if alone[k] < MOST_ERROR_SHARE && guess.shared[k] > 0.0 {
            (guess, seen) = problem(without).solved(guess).ok_or_else(nothing)?;
            pull = without;
            own = errors(&problem(pull), &guess, &seen).ok_or_else(nothing)?;
            told[k] = true;
        }
    }
    let step_ms = 1e3 * trips[0].cut.step_s;
    let estimates = estimates(drawn, &guess, &own, trips.len(), (told, alone), step_ms);
    let belief = Belief { inertia_ratio: 1.0, friction_ratio: 1.0 };
    let unit = units(drawn);
    let values: [f64; MAIN] = core::array::from_fn(|k| guess.shared[k] * unit[k]);
    let course = |cut: &Cut, own: &Own| {
        Course::of(drawn, own.command, belief, (cut.to_rad - cut.from_rad).abs())
    };
    let (way, time) = trips.iter().zip(&guess.own).fold((0.0, 0.0), |(way, time), (trip, own)| {
        let course = course(&trip.cut, own);
        (way + (trip.cut.to_rad - trip.cut.from_rad).abs(), time + course.duration_s)
    });
    let mean_speed = way / time;
    let friction = values[1] + values[2] * mean_speed;
    for (what, value) in [("inertia of all that turns", values[0]), ("friction in all", friction)] {
        if value <= 0.0 {
            let what = format!("{what} comes out at {value:.3e}");
            return Err(IdentifyError::Reversed { log: None, what });
        }
    }
    let (held_out, probed) =
        held_out(drawn, &guess, pull, &all[out - 1], out).ok_or_else(nothing)?;
    let mut fitted = trips.iter().zip(&guess.own).peekable();
    let moves = all.iter().enumerate().map(|(k, cut)| {
        let same = |trip: &Trip| trip.cut.log == cut.log && trip.cut.time_s[0] == cut.time_s[0];
        let own = match fitted.next_if(|(trip, _)| same(trip)) {
            Some((_, own)) => Some(*own),
            None => (k + 1 == out).then_some(probed),
        };
        let top = own.map_or(0.0, |own| course(cut, &own).peak_rad_s);
        MoveSeen {
            log: cut.log + 1,
            start_s: own.map_or(cut.time_s[0], |own| own.start_s),
            way_deg: degrees(cut.to_rad - cut.from_rad),
            top_speed_rad_s: top,
            friction: own
                .filter(|_| k + 1 != out)
                .map(|own| values[1] * (1.0 + own.friction_off) + values[2] * top),
        }
    });
    let moves: Vec<MoveSeen> = moves.collect();
    let mut said = Identified {
        over_inertia: false,
        constant_n_m_per_a: drawn.constant_v_s,
        friction_at: [mean_speed, friction],
        condition_ratio: own.condition_ratio,
        rows: trips.iter().map(|trip| trip.rows.1 - trip.rows.0).sum(),
        misfit_share,
        corner_hz: 0.0,
        limits: limits(drawn, trips, &moves, step_ms),
        moves,
        held_out,
        estimates,
        fields: Vec::new(),
        warnings: Vec::new(),
        slow: Some(SlowFit { step_ms, angle_off_deg: off[0], current_off_a: Some(off[1]) }),
    };
    (said.fields, said.warnings) = block::fields(&said, file);
    Ok(said)
}

/// Figures, or why there is none, and what would tell it.
fn estimates(
    drawn: &Drawn,
    guess: &Guess,
    own: &Errors,
    moves: usize,
    (told, alone): ([bool; MAIN], [f64; MAIN]),
    step_ms: f64,
) -> Vec<Estimate> {
    let unit = units(drawn);
    let half = half_width(moves.saturating_sub(1).max(2));
    let nearer = format!(
        "samples at most {} ms apart, and more moves at several speeds, would",
        nearer(step_ms)
    );
    let estimate = |(k, parameter): (usize, Parameter)| {
        let value = guess.shared[k] * unit[k];
        let error = own.variances[k].sqrt() * unit[k];
        if !told[k] {
            let why = format!(
                "by these logs alone its standard error is {:.0} % of the value, {:.0} % or more: {nearer} \
                 tell more",
                (100.0 * alone[k]).min(999.0),
                100.0 * MOST_ERROR_SHARE
            );
            let value = match parameter {
                Parameter::Viscous => drawn.viscous_n_m_s,
                _ => drawn.detent_n_m,
            };
            return Estimate { parameter, value, error: None, interval: None, open: Some(why) };
        }
        let share = error / value.abs();
        let open = if value <= 0.0 {
            Some(format!("{} comes out negative", parameter.words()))
        } else {
            (!share.is_finite() || share >= MOST_ERROR_SHARE).then(|| {
                format!(
                    "the standard error is {:.0} % of the value, {:.0} % or more: {nearer} tell it",
                    (100.0 * share).min(999.0),
                    100.0 * MOST_ERROR_SHARE
                )
            })
        };
        let interval = Some([value - half * error, value + half * error]);
        Estimate { parameter, value, error: Some(error), interval, open }
    };
    Parameter::ALL.into_iter().enumerate().map(estimate).collect()
}

/// What slow samples can say of limits: the largest that was seen.
fn limits(drawn: &Drawn, trips: &[Trip], moves: &[MoveSeen], step_ms: f64) -> Vec<Limit> {
    let because = |what: &str| {
        format!(
            "not told: samples are {step_ms:.1} ms apart, and whether {what} stands level between them they \
             do not show; samples at most 1 ms apart would"
        )
    };
    let speed = moves.iter().map(|own| own.top_speed_rad_s).fold(0.0, f64::max);
    let torque = largest_a(trips) * drawn.constant_v_s;
    vec![
        Limit {
            kind: LimitKind::Torque,
            largest: torque,
            reached: None,
            because: because("the current"),
        },
        Limit {
            kind: LimitKind::Speed,
            largest: speed,
            reached: None,
            because: because("the speed"),
        },
    ]
}

/// The move that was kept out: its course by its angles alone, then its currents predicted.
fn held_out(
    drawn: &Drawn,
    guess: &Guess,
    pull: Pull,
    cut: &Cut,
    number: usize,
) -> Option<(HeldOut, Own)> {
    let mut share = 0.0;
    guess.own.iter().for_each(|own| share += own.command.torque_share);
    let (_, first) = guess::guess(drawn, cut, share / guess.own.len() as f64);
    let mut trip = Trip::of(drawn, cut.clone(), &first);
    let with_current = core::mem::take(&mut trip.with_current);
    trip.with_current = vec![false; with_current.len()];
    let (trips, first) = ([trip], [first]);
    let pull = Pull { centre: guess.shared, ..pull };
    let sigmas = [dryturn_units::radians(PROBED_SIGMA_DEG), 1.0];
    let problem =
        Problem { drawn, trips: &trips, sigmas, pull, free: [false; SHARED], first: &first };
    let start = Guess { shared: guess.shared, own: first.to_vec() };
    let (probed, _) = problem.solved(start)?;
    let own = probed.own[0];
    let trip = &trips[0];
    let logged = trip.logged(drawn, &guess.shared, &own);
    let times = trip.times_s();
    let constant = drawn.constant_v_s;
    let rows = (0..logged.len()).filter(|&k| with_current[k]);
    let torque: Vec<[f64; 3]> = rows
        .map(|k| {
            let measured = cut.current_a[trip.rows.0 + k];
            [times[k] - times[0], constant * measured, constant * logged[k][1]]
        })
        .collect();
    let sign = |angle: f64| degrees(angle - cut.from_rad);
    let angle: Vec<[f64; 3]> = (0..logged.len())
        .map(|k| {
            let measured = cut.angle_rad[trip.rows.0 + k];
            [times[k] - times[0], sign(measured), sign(logged[k][0])]
        })
        .collect();
    let way_deg = degrees(cut.to_rad - cut.from_rad).abs();
    Some((HeldOut::compared(number, way_deg, true, torque, angle), own))
}
