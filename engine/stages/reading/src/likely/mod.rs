//! The most probable cube, under light that may have changed since the calibration.
//!
//! Samples are taken as logarithms of light on the sensor, where a change of the light is
//! a sum. What each colour looks like at each place is known from the calibration
//! ([`crate::appearance`]); how the light has changed is not, and is found together with the cube
//! ([`drift`]), from several starts, since orange in warm light is not far from red in
//! cool light: of all explanations the most probable counts.

mod drift;

use dryturn_cube::{Face, Facelet, FaceletKind};
use dryturn_geometry::DVec3;
use dryturn_handoff::{CameraFound, FaceletReading, Outcome, Reading, RunnerUp, Source};
use dryturn_units::maths;

use self::drift::{Explained, Search, explain, grey_world};
use crate::appearance::{Appearance, Seen, log_light};
use crate::calibration::Calibration;
use crate::decoder::{decode_any_mounting, decode_as_drawn, in_rig, law_cost};
use crate::judge::unreadable;
use crate::patches::Patches;
use crate::plane::plane;
use crate::samples::{Sample, Sampled};

/// Changes of colour from which the search for the light starts, besides none and the one
/// that makes the mean grey: towards red and away from blue, and back.
const TINTS: [f64; 2] = [0.35, -0.35];
/// A cube is beyond doubt when all others together are less probable than this.
const NO_DOUBT: f64 = 1e-6;
/// The samples' squared distances from the cube's colours, in standard deviations, at two
/// of their quantiles and in the mean, above which the picture is not one of what was
/// calibrated: it is all wrong, or more than a few facelets are. (4.1, 6.3 and 3 where all
/// is as assumed: chi-squared with three degrees of freedom. Less is usual, since the gains
/// are fitted to the same samples: the mean stays below 1.5 even in other light.)
const MOST_MISFIT: [(f64, f64); 2] = [(0.75, 5.0), (0.9, 8.0)];
const MOST_MEAN_MISFIT: f64 = 2.5;
/// By how much, as a logarithm, pieces each used once may fit better if twists, flips and
/// parity need not add up. More, and the cube has been put together wrongly, or stands
/// with a face part-turned: then no legal cube is the answer.
const MOST_LAW_COST: f64 = 8.0;
/// Smallest share of the samples that must not be saturated.
const LEAST_UNSATURATED: f64 = 0.5;

/// Reads one scan.
pub(crate) fn read_likely(
    patches: &Patches,
    calibration: &Calibration,
    sampled: &Sampled,
) -> Reading {
    let looks = Appearance::of(patches, calibration.references(), calibration.scales());
    let of = |(facelet, sample): (Facelet, &Option<Sample>)| {
        let sample = sample.as_ref()?;
        Some(Seen::of(patches.rendering(sample.camera), facelet, sample))
    };
    let seen: Vec<Seen> = Facelet::all().zip(&sampled.samples).filter_map(of).collect();
    let reader = patches.reader();
    let search = Search {
        looks: &looks,
        seen: &seen,
        patch: &patch_changes(patches, calibration, sampled),
        decode: if reader.mounting_known { decode_as_drawn } else { decode_any_mounting },
    };
    let found = explanations(&search);
    let (best, probability) = most_probable(&found);

    let decoded = &best.mounted.decoded;
    let misfit = misfit(&seen, best);
    let because = if misfit.is_some() {
        misfit.clone()
    } else if !reader.mounting_known && patches.centres_hidden() {
        Some("nothing shows the centres, so nothing tells how the cube is mounted".to_owned())
    } else if probability < reader.certainty_share {
        let percent = 100.0 * probability;
        Some(format!("the most probable cube has a probability of only {percent:.0} %"))
    } else {
        None
    };
    let entries = facelets(sampled, best, because.is_none());
    let outcome = match because {
        None => Outcome::Read(decoded.best.state),
        Some(because) => unreadable(patches, &entries, because),
    };
    // What a camera's facelets have in common, whichever unknown holds it.
    let camera = |(number, found): (usize, &CameraFound)| {
        let own = seen.iter().zip(&best.gains).filter(|(seen, _)| seen.camera == number);
        let (sum, count) =
            own.fold((DVec3::ZERO, 0.0), |(sum, n), (_, gain)| (sum + *gain, n + 1.0));
        let gain = sum / f64::max(count, 1.0);
        CameraFound { light_ratio: gain.to_array().map(maths::exp), ..*found }
    };
    let in_first_light =
        seen.iter().zip(&best.gains).map(|(seen, gain)| (seen.facelet, seen.log - *gain));
    Reading {
        facelets: entries,
        outcome,
        most_probable: Some(decoded.best.state),
        probability: misfit.is_none().then_some(probability),
        runner_up: Some(runner_up(&found, best)),
        centres: best.mounted.centres,
        cameras: sampled.cameras.iter().enumerate().map(camera).collect(),
        plane: Some(plane(&looks, in_first_light)),
    }
}

/// By camera: how the light has changed on the grey patch since the calibration.
fn patch_changes(
    patches: &Patches,
    calibration: &Calibration,
    sampled: &Sampled,
) -> Vec<Option<DVec3>> {
    let change = |(camera, now): (usize, &Option<_>)| {
        let log = |colour| log_light(patches.rendering(camera).light(colour));
        Some(log((*now)?) - log(calibration.grey(camera)?))
    };
    sampled.grey.iter().enumerate().map(change).collect()
}

/// Why the samples are none of a legal cube in any light, where they are not.
fn misfit(seen: &[Seen], best: &Explained) -> Option<String> {
    let Explained { mounted, evidence, distances, .. } = best;
    if (distances.len() as f64) < LEAST_UNSATURATED * seen.len() as f64 {
        let saturated = seen.len() - distances.len();
        return Some(format!(
            "{saturated} of {} facelets are saturated: expose less, or dim the lamps",
            seen.len()
        ));
    }
    if strange(distances) {
        return Some(
            "the pictures do not look like this cube in any light: are they of this rig, in the \
             cameras' order, not mirrored, and is the cube in place?"
                .to_owned(),
        );
    }
    let cost = law_cost(&in_rig(evidence, &mounted.centres), &mounted.decoded.best);
    (cost > MOST_LAW_COST).then(|| {
        format!(
            "what is seen fits a cube that cannot be turned to be solved e^{cost:.0} times better than \
             any that can: is a corner twisted, an edge flipped, or a face part-turned?"
        )
    })
}

/// Whether samples are too far from what is expected of them.
fn strange(distances: &[f64]) -> bool {
    let mut sorted = distances.to_vec();
    sorted.sort_by(f64::total_cmp);
    let at = |share: f64| sorted.get((share * sorted.len() as f64) as usize);
    let mean = sorted.iter().sum::<f64>() / sorted.len().max(1) as f64;
    mean > MOST_MEAN_MISFIT
        || MOST_MISFIT.iter().any(|&(share, most)| at(share).is_some_and(|found| *found > most))
}

/// The next most probable cube, under the best explanation or another.
fn runner_up(found: &[Explained], best: &Explained) -> RunnerUp {
    let decoded = &best.mounted.decoded;
    let own = RunnerUp {
        state: decoded.second.state,
        log_odds: decoded.best.weight - decoded.second.weight,
    };
    let of = |explained: &Explained| explained.weight + explained.mounted.decoded.log_probability();
    let others = found.iter().filter(|other| !same_cube(other, best));
    let others = others.map(|other| RunnerUp {
        state: other.mounted.decoded.best.state,
        log_odds: of(best) - of(other),
    });
    others.fold(own, |next, other| if other.log_odds < next.log_odds { other } else { next })
}

/// Explanations of the samples from several starts.
fn explanations(search: &Search<'_>) -> Vec<Explained> {
    let cameras = search.patch.len();
    let grey: Vec<DVec3> = (0..cameras)
        .map(|camera| {
            let patch = search.patch[camera];
            patch.unwrap_or_else(|| grey_world(search.looks, search.seen, camera))
        })
        .collect();
    let mut found = vec![explain(search, &vec![DVec3::ZERO; cameras]), explain(search, &grey)];
    // Two starts that come to the same cube without a doubt settle it.
    let sure = |explained: &Explained| 1.0 - explained.mounted.decoded.probability() < NO_DOUBT;
    if !(same_cube(&found[0], &found[1]) && found.iter().all(sure)) {
        for tint in TINTS {
            let tinted = grey.iter().map(|own| *own + DVec3::new(tint, 0.0, -tint));
            found.push(explain(search, &tinted.collect::<Vec<_>>()));
        }
    }
    found
}

fn same_cube(one: &Explained, other: &Explained) -> bool {
    let state = |explained: &Explained| explained.mounted.decoded.best.state;
    one.mounted.centres == other.mounted.centres && state(one) == state(other)
}

/// The most probable explanation, and how probable its cube is. Explanations that come to
/// the same cube are one.
fn most_probable(found: &[Explained]) -> (&Explained, f64) {
    let mut best = &found[0];
    let mut cubes: Vec<&Explained> = Vec::new();
    for other in found {
        if other.weight > best.weight {
            best = other;
        }
        match cubes.iter_mut().find(|cube| same_cube(cube, other)) {
            Some(cube) if other.weight > cube.weight => *cube = other,
            Some(_) => {}
            None => cubes.push(other),
        }
    }
    let all: f64 = cubes.iter().map(|cube| maths::exp(cube.weight - best.weight)).sum();
    (best, best.mounted.decoded.probability() / all)
}

/// Every facelet, with the cube's colours where it is `believed`.
fn facelets(sampled: &Sampled, best: &Explained, believed: bool) -> Vec<FaceletReading> {
    let Explained { mounted, evidence, .. } = best;
    let colours = mounted.decoded.best.state.colours();
    let one = |(facelet, sample): (Facelet, &Option<Sample>)| {
        let colour = mounted.centres[colours[facelet.index()].index()];
        let colour = believed.then_some(colour);
        let Some(sample) = sample else {
            let source = match (facelet.kind(), believed) {
                (FaceletKind::Centre, _) => Source::Mounted,
                (_, true) => Source::Inferred,
                (_, false) => Source::Unknown,
            };
            let centre = mounted.centres[facelet.face().index()];
            let known = (source == Source::Mounted).then_some(centre);
            return FaceletReading { colour: known.or(colour), source };
        };
        let probabilities = &mounted.decoded.facelets[facelet.index()];
        let mut ranked = Face::ALL;
        ranked.sort_by(|a, b| probabilities[b.index()].total_cmp(&probabilities[a.index()]));
        let source = Source::Seen {
            camera: sample.camera,
            colour: sample.median,
            margin: probabilities[ranked[0].index()] - probabilities[ranked[1].index()],
            runner_up: ranked[1],
            saturated_share: sample.saturated_share,
            log_likelihoods: *evidence.at(facelet),
        };
        FaceletReading { colour: colour.or(Some(ranked[0])), source }
    };
    Facelet::all().zip(&sampled.samples).map(one).collect()
}
