//! Why pictures are none of a legal cube in any light, where they are not.

use dryturn_cube::{Colouring, Facelet};
use dryturn_handoff::RefusalKind;
use dryturn_scene::Rig;

use super::explained::{Explained, colours_of};
use super::matches::matches;
use super::prior::Moved;
use super::search::{Search, Sight};
use crate::decoder::{in_rig, law_cost};

/// Squared distances of what is seen from the cube's colours, in standard deviations, above
/// which it is far, and the share of all that may be.
const FAR: f64 = 14.0;
const MOST_FAR: f64 = 0.30;
/// Most that may lie under a lamp's reflection.
const MOST_GLARE: f64 = 0.7;
/// Their mean over all that are not far, above which the picture is not one of what was
/// calibrated.
const MOST_MEAN: f64 = 3.5;
/// Most that may be like nothing that is expected of any colour.
const MOST_STRANGE: f64 = 0.13;
/// And so many times as much where the colours are a cube's at less than this cost (below): pictures
/// of none cost far more. (Rendered scans under a sun patch whose cube was found had 13 to 18 %.)
const MORE: f64 = 1.5;
const LITTLE_COST: f64 = 3.0;
/// By how much, as a logarithm, the facelets may fit better if each took the colour that suits
/// it best, cube or no cube. (Of some 250 rendered scans of a cube in a light that has
/// changed, most cost nothing and none more than 8; a mirrored picture costs 16 and more, a face
/// turned by 15 degrees 11 and more.)
const MOST_CUBE_COST: f64 = 9.0;
/// The same without a calibration, whose classes are wider: there right cubes cost up to 4.
const MOST_COST_BLIND: f64 = 5.0;
/// By how much, as a logarithm, pieces each used once may fit better if twists, flips and
/// parity need not add up. More, and the cube has been put together wrongly, or stands
/// with a face part-turned: then no legal cube is the answer.
const MOST_LAW_COST: f64 = 8.0;
/// Smallest share of the facelets that must not be clipped, or dark, in all channels.
const LEAST_OPEN: f64 = 0.5;

/// The reason, where there is one.
pub(super) fn misfit(search: &Search<'_>, best: &Explained) -> Option<(RefusalKind, String)> {
    let colours = colours_of(best, &best.mounted.decoded.best.state);
    let matches = matches(search, &best.light.straying(), &colours);
    let share =
        |of: &dyn Fn(usize, &Sight) -> bool| search.mean(|k, s| f64::from(u8::from(of(k, s))));
    let open = share(&|_, sight| !sight.seen.is_full());
    if open < LEAST_OPEN {
        let clipped = 100.0 * (1.0 - open);
        let law = format!(
            "{clipped:.0} % of what is seen is as bright as the cameras show: expose less, or dim \
             the lamps"
        );
        return Some((RefusalKind::TooBright, law));
    }
    let dark = share(&|_, sight| sight.seen.is_dark());
    if dark > 1.0 - LEAST_OPEN {
        let law = format!(
            "{:.0} % of what is seen is as dark as the cameras show: more light, or a longer \
             exposure",
            100.0 * dark,
        );
        return Some((RefusalKind::TooDark, law));
    }
    let is_glare = |k: usize| matches[k].glare > 0.5;
    let glare = share(&|k, _| is_glare(k));
    if glare > MOST_GLARE {
        let law = format!(
            "lamps are mirrored on {:.0} % of what is seen: move them or the cameras, or shade them",
            100.0 * glare,
        );
        return Some((RefusalKind::Glare, law));
    }
    let is_far = |k: usize| matches[k].distance2 > FAR && !is_glare(k);
    let far = share(&|k, _| is_far(k));
    let is_odd = |k: usize| is_far(k) || is_glare(k);
    let near = search.mean(|k, _| if is_odd(k) { 0.0 } else { matches[k].distance2 });
    let mean = near / (1.0 - far - glare).max(1e-9);
    let strange = search.mean(|k, _| matches[k].strange);
    let cost = cube_cost(best, &colours);
    let more = if cost < LITTLE_COST { MORE } else { 1.0 };
    if far > MOST_FAR || mean > MOST_MEAN || strange > more * MOST_STRANGE {
        let law = format!(
            "the pictures do not look like this cube in any light ({:.0} % of what is seen lies far \
             from its colour, {:.0} % like none at all, the rest {:.1} standard deviations in the \
             mean): are they of this rig, in the cameras' order, not mirrored, is the cube in \
             place, and is every face at its stop?",
            100.0 * far,
            100.0 * strange,
            mean.sqrt(),
        );
        return Some((RefusalKind::Strange, law));
    }
    let law = law_cost(&in_rig(&best.evidence, &best.mounted.centres), &best.mounted.decoded.best);
    if law > MOST_LAW_COST {
        let law = format!(
            "what is seen fits a cube that cannot be turned to be solved e^{law:.0} times better than \
             any that can: is a corner twisted, an edge flipped, or a face part-turned?"
        );
        return Some((RefusalKind::Unsolvable, law));
    }
    let most = if best.light.moved == Moved::Unknown { MOST_COST_BLIND } else { MOST_CUBE_COST };
    (cost > most).then(|| {
        let law = format!(
            "what is seen fits colours that no cube has e^{cost:.0} times better than those of any \
             cube: are the pictures mirrored or of another moment each, or is a face part-turned?"
        );
        (RefusalKind::NoCube, law)
    })
}

/// What it costs that the colours are those of a cube: by how much the facelets fit better if
/// each takes the colour that suits it best.
fn cube_cost(best: &Explained, colours: &Colouring) -> f64 {
    let of = |facelet: Facelet| {
        let own = best.evidence.at(facelet);
        let most = own.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        most - own[colours[facelet.index()].index()]
    };
    Rig::facelets_to_read().map(of).sum()
}
