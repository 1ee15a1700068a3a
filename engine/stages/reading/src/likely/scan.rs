//! One scan under one light after another: its sights, the most probable cube, and whether that is
//! believed.

use core::cell::Cell;
use std::sync::Arc;

use dryturn_cube::{Face, Facelet, FaceletKind};
use dryturn_geometry::DVec3;
use dryturn_handoff::{CameraFound, FaceletReading, Outcome, Reading, RefusalKind, Source};
use dryturn_units::maths;

use super::alternatives::{Rival, better, rivals, weighed};
use super::beforehand::Beforehand;
use super::belief::Belief;
use super::explained::{Explained, most_probable, value};
use super::explanations::{blind, explanations};
use super::fit::explain;
use super::known::Before;
use super::prior::{ColourPrior, Moved};
use super::refusal::misfit;
use super::search::{Search, Sight, weighted_mean};
use crate::decoder::{decode_any_mounting, decode_as_drawn};
use crate::judge::unreadable;
use crate::looks::{Appearance, plane};
use crate::pixels::{Part, Patches, Sample, Sampled};

/// From this share of a facelet on a part of it counts in full, and how much all of them
/// count together at most.
const WHOLE_SHARE: f64 = 0.25;
const MOST_WEIGHT: f64 = 1.5;
/// How often a cube that turns out to be more probable than the best one takes its place.
const MOST_BETTER: usize = 3;

/// Reads one scan; what comes of it under each belief.
pub(super) fn read_from<const N: usize>(
    patches: &Patches,
    before: &Before,
    sampled: &Sampled,
    beliefs: [Belief; N],
) -> [Reading; N] {
    let looks = &before.looks;
    let sights = sights(patches, looks, sampled);
    let reader = patches.reader();
    let pigments = patches.pigments();
    let known = |camera: usize| {
        let overlap = looks.overlap(camera);
        let of = |moved| ColourPrior::of(pigments, moved, overlap);
        [Moved::Not, Moved::Little, Moved::Far, Moved::Added, Moved::Lamps, Moved::Unknown]
            .map(|moved| Beforehand::of(of(moved), overlap, before.patches[camera]))
    };
    let search = Search {
        looks,
        sights: &sights,
        known: (0..patches.camera_count()).map(known).collect(),
        elsewhere: (0..patches.camera_count()).map(|k| Arc::new(looks.elsewhere(k))).collect(),
        shares: before.shares.clone(),
        patches: before.patches.clone(),
        whitest: whitest(looks),
        decoder: if reader.mounting_known { decode_as_drawn } else { decode_any_mounting },
        steps: Cell::new(0),
    };
    let mut found = if before.calibrated { explanations(&search) } else { blind(&search) };
    let rivals = settled_rivals(&search, &mut found);
    let best = most_probable(&found);
    let weighed = weighed(&search, best, &rivals);
    let probability = weighed.probability;
    let misfit = misfit(&search, best);
    let gain = |sight: &Sight| best.light.changes[sight.seen.camera].of_place(sight.seen.facelet);
    // What a camera's facelets have in common, whichever unknown holds it.
    let camera = |(number, found): (usize, &CameraFound)| {
        let own = sights.iter().filter(|sight| sight.seen.camera == number);
        let gain = weighted_mean(own.map(|sight| (sight.weight, gain(sight))));
        CameraFound { light_ratio: gain.to_array().map(maths::exp), ..*found }
    };
    let cameras: Vec<CameraFound> = sampled.cameras.iter().enumerate().map(camera).collect();
    let first = in_first_light(patches, &sights, &sampled.parts, gain);
    let plane = plane(looks, first.into_iter());

    beliefs.map(|belief| {
        let why = if misfit.is_some() {
            misfit.clone()
        } else if !reader.mounting_known && patches.centres_hidden() {
            let law = "nothing shows the centres, so nothing tells how the cube is mounted";
            Some((RefusalKind::CentresHidden, law.to_owned()))
        } else if 1.0 - probability > belief.most_doubt(reader, best.light.moved) {
            let percent = 100.0 * probability;
            let digits = if percent > 99.0 { 3 } else { 0 };
            let law =
                format!("the most probable cube has a probability of only {percent:.digits$} %");
            Some((RefusalKind::Uncertain, law))
        } else {
            None
        };
        let entries = facelets(sampled, best, why.is_none());
        let outcome = match why {
            None => Outcome::Read(best.mounted.decoded.best.state),
            Some(why) => unreadable(patches, &entries, why),
        };
        Reading {
            facelets: entries,
            outcome,
            most_probable: Some(best.mounted.decoded.best.state),
            probability: misfit.is_none().then_some(probability),
            runner_up: Some(weighed.runner_up),
            steps: search.steps.get(),
            without_calibration: !before.calibrated,
            centres: best.mounted.centres,
            cameras: cameras.clone(),
            plane: Some(plane.clone()),
        }
    })
}

/// The best cube's rivals; where one is more probable, in a light that was fitted to it, explanations
/// from there are sought first.
fn settled_rivals(search: &Search<'_>, found: &mut Vec<Explained>) -> Vec<Rival> {
    for _ in 0..MOST_BETTER {
        let best = most_probable(found);
        let (before, rivals) = (value(best), rivals(search, found, best));
        let Some(light) = better(&rivals) else { return rivals };
        found.push(explain(search, light.clone(), true));
        if value(most_probable(found)) <= before {
            return rivals;
        }
    }
    rivals(search, found, most_probable(found))
}

/// What is seen of each facelet, part by part, and how much it counts.
fn sights(patches: &Patches, looks: &Appearance, sampled: &Sampled) -> Vec<Sight> {
    let parts = &sampled.parts;
    let own = |part: &Part| (part.share / WHOLE_SHARE).min(1.0);
    let of = |part: &Part| {
        let together = |other: &&Part| other.facelet == part.facelet && other.camera == part.camera;
        let all: f64 = parts.iter().filter(together).map(own).sum();
        let cameras = sampled.seen_by(patches, part.facelet) as f64;
        let seen = looks.seen((part.camera, part.facelet), &part.pixels);
        // What a sticker has of its own is the same in all cameras: n of them count as √n.
        let weight = own(part) * (MOST_WEIGHT / all).min(1.0) / cameras.max(1.0).sqrt();
        Sight { seen, weight }
    };
    parts.iter().map(of).collect()
}

/// The colour that throws back most light.
fn whitest(looks: &Appearance) -> usize {
    let mut sums = [0.0; 6];
    for logs in Facelet::all().filter_map(|facelet| looks.logs(facelet)) {
        (0..6).for_each(|c| sums[c] += logs[c].element_sum());
    }
    (0..6).fold(0, |best, c| if sums[c] > sums[best] { c } else { best })
}

/// The largest part of each facelet in the camera that sees most of it, as it would be in the
/// light of the calibration.
fn in_first_light(
    patches: &Patches,
    sights: &[Sight],
    parts: &[Part],
    gain: impl Fn(&Sight) -> DVec3,
) -> Vec<(Facelet, DVec3)> {
    let largest = |facelet: Facelet| {
        let own = sights.iter().zip(parts).filter(|(_, part)| {
            part.facelet == facelet && Some(part.camera) == patches.camera_of(facelet)
        });
        own.reduce(|a, b| if b.1.share > a.1.share { b } else { a })
    };
    let of = |facelet: Facelet| {
        let (sight, _) = largest(facelet)?;
        Some((facelet, sight.seen.log - gain(sight)))
    };
    Facelet::all().filter_map(of).collect()
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
            colour: sample.pixels.median,
            margin: probabilities[ranked[0].index()] - probabilities[ranked[1].index()],
            runner_up: ranked[1],
            saturated_share: sample.pixels.saturated_share,
            log_likelihoods: *evidence.at(facelet),
        };
        FaceletReading { colour: colour.or(Some(ranked[0])), source }
    };
    Facelet::all().zip(&sampled.samples).map(one).collect()
}
