//! The most probable cube, under light that may have changed since the calibration.
//!
//! Samples are taken as logarithms of light on the sensor, where a change of the light is
//! a sum. What each colour looks like at each place is known from the calibration
//! ([`appearance`]); how the light has changed is not, and is found together with the cube
//! ([`drift`]), from several starts, since orange in warm light is not far from red in
//! cool light: of all explanations the most probable counts.

mod appearance;
mod drift;

use dryturn_cube::{CubeState, Face, Facelet, FaceletKind};
use dryturn_geometry::DVec3;
use dryturn_handoff::{FaceletReading, Frame, Outcome, Reading, Source};
use dryturn_units::maths;

pub(crate) use self::appearance::Rendering;
use self::appearance::{Appearance, log_light};
use self::drift::{Explained, Seen, explain, grey_world};
use crate::calibration::Calibration;
use crate::judge::unreadable;
use crate::patches::{Patches, Sample};

/// Changes of colour from which the search for the light starts, besides none and the one
/// that makes the mean grey: towards red and away from blue, and back.
const TINTS: [f64; 2] = [0.35, -0.35];
/// A cube is beyond doubt when all others together are less probable than this.
const NO_DOUBT: f64 = 1e-6;
/// The samples' squared distances from the cube's colours, in standard deviations, at two
/// of their quantiles, above which the picture is not one of what was calibrated: it is
/// all wrong, or more than a few facelets are. (4.1 and 6.3 where all is as assumed:
/// chi-squared with three degrees of freedom.)
const MOST_MISFIT: [(f64, f64); 2] = [(0.75, 5.0), (0.9, 10.0)];
/// Above this share of saturated pixels a sample says little of how well all else fits.
const MUCH_SATURATED: f64 = 0.2;
/// From the distance of quartiles to a standard deviation (of a normal distribution), and
/// how much of a patch's own spread its median may be off.
const QUARTILES_PER_SIGMA: f64 = 1.349;
const SPREAD_SHARE: f64 = 0.3;

/// Reads one scan, whose frames fit the scene.
pub(crate) fn read_likely(
    patches: &Patches,
    calibration: &Calibration,
    frames: &[Frame],
) -> Reading {
    let looks = Appearance::of(patches, calibration);
    let standing = patches.standing(frames);
    let samples: Vec<Option<Sample>> =
        Facelet::all().map(|facelet| patches.sample(frames, &standing, facelet)).collect();
    let seen: Vec<Seen> = Facelet::all()
        .zip(&samples)
        .filter_map(|(facelet, sample)| Some(seen(patches, facelet, sample.as_ref()?)))
        .collect();
    let found = explanations(&looks, &seen, frames.len());
    let (best, probability) = most_probable(&found);

    let least = patches.reader().certainty_share;
    let state = best.decoded.best.state;
    let because = if strange(&best.distances) {
        Some(
            "the pictures do not look like this cube in any light: are they of this rig, in the \
             cameras' order, and is the cube in place?"
                .to_owned(),
        )
    } else if probability < least {
        let percent = 100.0 * probability;
        Some(format!("the most probable cube has a probability of only {percent:.0} %"))
    } else {
        None
    };
    let entries = facelets(&samples, best, because.is_none().then_some(&state));
    let outcome = match because {
        None => Outcome::Read(state),
        Some(because) => unreadable(patches, &entries, because),
    };
    Reading { facelets: entries, outcome, probability: Some(probability) }
}

/// Whether samples are too far from what is expected of them.
fn strange(distances: &[f64]) -> bool {
    let mut sorted = distances.to_vec();
    sorted.sort_by(f64::total_cmp);
    let at = |share: f64| sorted.get((share * sorted.len() as f64) as usize);
    MOST_MISFIT.iter().any(|&(share, most)| at(share).is_some_and(|found| *found > most))
}

fn seen(patches: &Patches, facelet: Facelet, sample: &Sample) -> Seen {
    let rendering = patches.rendering(sample.camera);
    let log = |colour| log_light(rendering.light(colour));
    let [low, high] = sample.quartiles.map(log);
    let doubt = (high - low).abs() * (SPREAD_SHARE / QUARTILES_PER_SIGMA);
    Seen {
        facelet,
        camera: sample.camera,
        log: log(sample.median),
        doubt,
        saturated: sample.saturated_share > MUCH_SATURATED,
    }
}

/// Explanations of the samples from several starts.
fn explanations(looks: &Appearance, seen: &[Seen], cameras: usize) -> Vec<Explained> {
    let from = |start: &[DVec3]| explain(looks, seen, cameras, start);
    let grey: Vec<DVec3> = (0..cameras).map(|camera| grey_world(looks, seen, camera)).collect();
    let mut found = vec![from(&vec![DVec3::ZERO; cameras]), from(&grey)];
    // Two starts that come to the same cube without a doubt settle it.
    let sure = |explained: &Explained| 1.0 - explained.decoded.probability() < NO_DOUBT;
    let agree = found[0].decoded.best.state == found[1].decoded.best.state;
    if !(agree && found.iter().all(sure)) {
        for tint in TINTS {
            let tinted = grey.iter().map(|own| *own + DVec3::new(tint, 0.0, -tint));
            found.push(from(&tinted.collect::<Vec<_>>()));
        }
    }
    found
}

/// The most probable explanation, and how probable its cube is. Explanations that come to
/// the same cube are one.
fn most_probable(found: &[Explained]) -> (&Explained, f64) {
    let mut best = &found[0];
    let mut cubes: Vec<(CubeState, f64)> = Vec::new();
    for other in found {
        if other.weight > best.weight {
            best = other;
        }
        let state = other.decoded.best.state;
        match cubes.iter_mut().find(|cube| cube.0 == state) {
            Some(cube) => cube.1 = cube.1.max(other.weight),
            None => cubes.push((state, other.weight)),
        }
    }
    let all: f64 = cubes.iter().map(|cube| maths::exp(cube.1 - best.weight)).sum();
    (best, best.decoded.probability() / all)
}

/// Every facelet, with the cube's colours where there is one.
fn facelets(
    samples: &[Option<Sample>],
    best: &Explained,
    cube: Option<&CubeState>,
) -> Vec<FaceletReading> {
    let colours = cube.map(CubeState::colours);
    let one = |(facelet, sample): (Facelet, &Option<Sample>)| {
        let colour = colours.map(|colours| colours[facelet.index()]);
        if facelet.kind() == FaceletKind::Centre {
            return FaceletReading { colour: Some(facelet.face()), source: Source::Mounted };
        }
        let Some(sample) = sample else {
            let source = if colour.is_some() { Source::Inferred } else { Source::Unknown };
            return FaceletReading { colour, source };
        };
        let probabilities = &best.decoded.facelets[facelet.index()];
        let mut ranked = Face::ALL;
        ranked.sort_by(|a, b| probabilities[b.index()].total_cmp(&probabilities[a.index()]));
        let source = Source::Seen {
            camera: sample.camera,
            colour: sample.median,
            margin: probabilities[ranked[0].index()] - probabilities[ranked[1].index()],
            runner_up: ranked[1],
            saturated_share: sample.saturated_share,
        };
        FaceletReading { colour: colour.or(Some(ranked[0])), source }
    };
    Facelet::all().zip(samples).map(one).collect()
}
