//! From which starts the light is sought, and which explanations are tried.

use dryturn_geometry::DVec3;

use super::explained::{
    Explained, NO_DOUBT, colours_of, more_probable, most_probable, same_cube, value,
};
use super::fit::explain;
use super::hypothesis::Light;
use super::light::MOST_LAMPS;
use super::matches::matches;
use super::prior::Moved;
use super::search::{Search, Sight, weighted_mean};
use crate::looks::Appearance;

/// Changes of colour from which the search for the light starts, besides none and the one
/// that makes the mean grey: towards red and away from blue, and back.
const TINTS: [f64; 2] = [0.35, -0.35];
/// A second light this much stronger than the first, or weaker, is where its search starts.
const SECOND_LIGHTS: [f64; 2] = [0.8, -0.8];
/// Patches of added light that have this times, as a logarithm, the light of the calibration.
const PATCHES: [f64; 2] = [0.8, 1.6];
/// And veils this much stronger or weaker than a usual one.
const VEILS: [f64; 2] = [0.7, -0.7];
/// And patches of added light that are mirrored, both as above.
const GLEAMS: [[f64; 2]; 2] = [[0.8, 0.0], [1.6, -0.7]];
/// From this share of all sights on that no one light accounts for, a second is sought.
const MUCH_UNEXPLAINED: f64 = 0.04;
/// Beside the lights of so many cubes.
const MOST_CUBES: usize = 3;

/// By camera: the change that the grey patch shows, or the one that makes the mean grey.
fn grey(search: &Search<'_>) -> Vec<DVec3> {
    let of = |camera: usize| {
        let shown = search.patches[camera];
        shown.unwrap_or_else(|| grey_world(search.looks, search.sights, camera))
    };
    (0..search.patches.len()).map(of).collect()
}

/// The change of the light that brings the mean of a camera's samples to the mean of all
/// colours at those places.
fn grey_world(looks: &Appearance, sights: &[Sight], camera: usize) -> DVec3 {
    let own = sights.iter().filter(|sight| sight.seen.camera == camera);
    let off = own.filter_map(|sight| {
        let logs = looks.logs_in(camera, sight.seen.facelet)?;
        Some((sight.weight, sight.seen.log - logs.iter().sum::<DVec3>() / 6.0))
    });
    weighted_mean(off)
}

/// A change besides towards red and away from blue, or back.
fn tinted(looks: &Appearance, change: &[DVec3], tint: f64) -> Vec<DVec3> {
    let by = |camera: usize| looks.overlap(camera).grey() * DVec3::new(tint, 0.0, -tint);
    change.iter().enumerate().map(|(camera, own)| *own + by(camera)).collect()
}

/// Explanations of the samples from several starts.
pub(super) fn explanations(search: &Search<'_>) -> Vec<Explained> {
    let cameras = search.patches.len();
    let grey = grey(search);
    let from = |start: &[DVec3], moved: Moved| explain(search, Light::one(start, moved), false);
    let mut found = vec![from(&vec![DVec3::ZERO; cameras], Moved::Not), from(&grey, Moved::Little)];
    if !settled(&found) {
        if search.shares[0].len() <= MOST_LAMPS {
            found.push(explain(search, Light::lamps(search), false));
        }
        found.push(explain(search, Light::added(search, &grey), false));
        found.push(from(&grey, Moved::Far));
    }
    if !settled(&found) {
        for tint in TINTS {
            found.push(from(&tinted(search.looks, &grey, tint), Moved::Far));
        }
        found.push(from(&vec![DVec3::ZERO; cameras], Moved::Little));
        found.push(from(&vec![DVec3::ZERO; cameras], Moved::Far));
    }
    plainer(search, &mut found);
    if much_unexplained(search, &found) {
        with_second_light(search, &mut found);
        plainer(search, &mut found);
    }
    found
}

/// Whether the most probable explanation and the one after it come to the same cube without a
/// doubt.
fn settled(found: &[Explained]) -> bool {
    let sure = |explained: &Explained| 1.0 - explained.mounted.decoded.probability() < NO_DOUBT;
    let mut ranked: Vec<&Explained> = found.iter().collect();
    ranked.sort_by(|a, b| value(b).total_cmp(&value(a)));
    same_cube(ranked[0], ranked[1]) && ranked[..2].iter().all(|explained| sure(explained))
}

/// Explanations where nothing was calibrated.
pub(super) fn blind(search: &Search<'_>) -> Vec<Explained> {
    let grey = grey(search);
    let tints = [0.0, TINTS[0], TINTS[1]];
    let one = |tint: f64| Light::one(&tinted(search.looks, &grey, tint), Moved::Unknown);
    let mut found: Vec<Explained> = tints.map(|tint| explain(search, one(tint), false)).into();
    if much_unexplained(search, &found) {
        with_second_light(search, &mut found);
        // Where lamps are mirrored from the outset, other cubes may come out.
        for tint in tints {
            found.push(explain(search, one(tint).with_veil(0.0), false));
            found.push(explain(search, one(tint).with_gleam(GLEAMS[0]), false));
        }
    }
    plainer(search, &mut found);
    found
}

/// Adds the best explanation with samples that stray less, while that is better, and the best one
/// in which the light has changed in another way.
fn plainer(search: &Search<'_>, found: &mut Vec<Explained>) {
    let best = most_probable(found).light.moved;
    for same in [true, false] {
        let own = |explained: &&Explained| (explained.light.moved == best) == same;
        let Some(start) = found.iter().filter(own).reduce(more_probable) else { continue };
        let (mut light, mut least) = (start.light.clone(), value(start));
        while let Some(next) = light.plainer() {
            let plainer = explain(search, next, true);
            let better = value(&plainer) > least;
            (light, least) = (plainer.light.clone(), value(&plainer));
            found.push(plainer);
            if !better {
                break;
            }
        }
    }
}

/// Whether the best explanation leaves much of what is seen open.
fn much_unexplained(search: &Search<'_>, found: &[Explained]) -> bool {
    let best = most_probable(found);
    let colours = colours_of(best, &best.mounted.decoded.best.state);
    let matches = matches(search, &best.light, &colours);
    search.mean(|k, _| 1.0 - matches[k].explained) > MUCH_UNEXPLAINED
}

/// Adds explanations by a second light, or by lamps that are mirrored, besides the lights of the most
/// probable cubes, each in its best.
fn with_second_light(search: &Search<'_>, found: &mut Vec<Explained>) {
    for light in lights_of_cubes(found) {
        for step in SECOND_LIGHTS {
            found.push(explain(search, light.with_second(step), true));
        }
        for strength in PATCHES {
            found.push(explain(search, light.with_patch(strength), true));
        }
        for step in VEILS {
            found.push(explain(search, light.with_veil(step), false));
        }
        for gleam in GLEAMS {
            found.push(explain(search, light.with_gleam(gleam), false));
        }
    }
}

/// The best light of each of the most probable cubes.
fn lights_of_cubes(found: &[Explained]) -> Vec<Light> {
    let mut ranked: Vec<&Explained> = found.iter().collect();
    ranked.sort_by(|a, b| value(b).total_cmp(&value(a)));
    let mut cubes: Vec<&Explained> = Vec::new();
    for explained in ranked {
        if cubes.iter().all(|earlier| !same_cube(earlier, explained)) {
            cubes.push(explained);
        }
    }
    cubes.into_iter().take(MOST_CUBES).map(|explained| explained.light.clone()).collect()
}
