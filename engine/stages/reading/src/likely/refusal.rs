//! Why pictures are none of a legal cube in any light, where they are not.

use super::colours_of;
use super::fit::{Explained, Search, Sight, lies};
use crate::decoder::{in_rig, law_cost};

/// Squared distances of what is seen from the cube's colours, in standard deviations, above
/// which it is far, and the share of all that may be.
const FAR: f64 = 14.0;
const MOST_FAR: f64 = 0.30;
/// Their mean over all that are not far, above which the picture is not one of what was
/// calibrated.
const MOST_MEAN: f64 = 3.5;
/// By how much, as a logarithm, pieces each used once may fit better if twists, flips and
/// parity need not add up. More, and the cube has been put together wrongly, or stands
/// with a face part-turned: then no legal cube is the answer.
const MOST_LAW_COST: f64 = 8.0;
/// Smallest share of the facelets that must not be clipped in all channels.
const LEAST_OPEN: f64 = 0.5;

/// The reason, where there is one.
pub(super) fn misfit(search: &Search<'_>, best: &Explained) -> Option<String> {
    let colours = colours_of(best, &best.mounted.decoded.best.state);
    let lies = lies(search, &best.light, &colours);
    let all: f64 = search.sights.iter().map(|sight| sight.weight).sum();
    let share = |of: &dyn Fn(usize, &Sight) -> bool| {
        let found = search.sights.iter().enumerate().filter(|(k, sight)| of(*k, sight));
        found.map(|(_, sight)| sight.weight).sum::<f64>() / all.max(1e-9)
    };
    let open = share(&|_, sight| !sight.seen.is_full());
    if open < LEAST_OPEN {
        let clipped = 100.0 * (1.0 - open);
        return Some(format!(
            "{clipped:.0} % of what is seen is as bright as the cameras show: expose less, or dim \
             the lamps"
        ));
    }
    let far = share(&|k, _| lies[k].distance2 > FAR);
    let (sum, count) = lies
        .iter()
        .zip(search.sights)
        .filter(|(lie, _)| lie.distance2 <= FAR)
        .fold((0.0, 0.0), |(sum, count), (lie, sight)| {
            (sum + sight.weight * lie.distance2, count + sight.weight)
        });
    let mean = sum / f64::max(count, 1e-9);
    if far > MOST_FAR || mean > MOST_MEAN {
        return Some(format!(
            "the pictures do not look like this cube in any light ({:.0} % of what is seen lies far \
             from every colour, the rest {:.1} standard deviations in the mean): are they of this \
             rig, in the cameras' order, not mirrored, and is the cube in place?",
            100.0 * far,
            mean.sqrt(),
        ));
    }
    let cost = law_cost(&in_rig(&best.evidence, &best.mounted.centres), &best.mounted.decoded.best);
    (cost > MOST_LAW_COST).then(|| {
        format!(
            "what is seen fits a cube that cannot be turned to be solved e^{cost:.0} times better than \
             any that can: is a corner twisted, an edge flipped, or a face part-turned?"
        )
    })
}
