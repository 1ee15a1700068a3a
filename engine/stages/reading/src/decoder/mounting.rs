//! The most probable cube when nobody knows how it is mounted: all 24 ways are tried.
//!
//! Which colour the centres show is then evidence like any other. Where nothing shows the
//! centres, twelve mountings fit any colours equally well.

use core::array::from_fn;

use dryturn_cube::{Face, Facelet, Stickering};
use dryturn_units::maths;

use super::{CUT, Decoded, Evidence, decode, most_probable};

/// The face whose colour each of the rig's faces U R F D L B shows at its centre.
pub type Centres = [Face; 6];

/// The most probable cube in its most probable mounting.
#[derive(Clone, Debug, PartialEq)]
pub struct Mounted {
    /// How it is mounted.
    pub centres: Centres,
    /// The cube in terms of the rig's faces: a face's colour is that of the centre there.
    /// `second` is the next most probable cube, in this mounting or another, `log_total` the
    /// sum over all mountings, and so are the probabilities of colours at facelets, which
    /// are in the order of the drawn colours. Pieces are those of this mounting.
    pub decoded: Decoded,
}

/// All 24 mountings, the usual one first.
#[must_use]
pub fn mountings() -> Vec<Centres> {
    let mut found: Vec<(Centres, Vec<Face>)> = vec![(Face::ALL, Vec::new())];
    let mut next = 0;
    while next < found.len() {
        for turned in [Face::U, Face::R] {
            let way = [&found[next].1[..], &[turned]].concat();
            let colours = Stickering::solved_in(&way).colours();
            let centres = Face::ALL.map(|face| colours[Facelet::new(face, 1, 1).index()]);
            if found.iter().all(|known| known.0 != centres) {
                found.push((centres, way));
            }
        }
        next += 1;
    }
    found.into_iter().map(|mounting| mounting.0).collect()
}

/// Evidence in terms of the rig's faces, for a cube mounted so.
pub(crate) fn in_rig(evidence: &Evidence, centres: &Centres) -> Evidence {
    let mut own = Evidence::none();
    for facelet in Facelet::all() {
        let logs = evidence.at(facelet);
        own.set(facelet, centres.map(|colour| logs[colour.index()]));
    }
    own
}

/// Decodes evidence, whose centres count, over all mountings.
#[must_use]
pub fn decode_any_mounting(evidence: &Evidence) -> Mounted {
    let all: Vec<(Centres, Evidence)> =
        mountings().into_iter().map(|centres| (centres, in_rig(evidence, &centres))).collect();
    let weights: Vec<f64> = all.iter().map(|(_, own)| most_probable(own).weight).collect();
    let top = weights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let likely = all.into_iter().zip(weights).filter(|(_, weight)| *weight > top - CUT);
    let found: Vec<(Centres, Decoded)> =
        likely.map(|((centres, own), _)| (centres, decode(&own))).collect();

    let best = (0..found.len()).fold(0, |best, k| {
        if found[k].1.best.weight > found[best].1.best.weight { k } else { best }
    });
    let most = found.iter().map(|(_, d)| d.log_total).fold(f64::NEG_INFINITY, f64::max);
    let sum: f64 = found.iter().map(|(_, d)| maths::exp(d.log_total - most)).sum();
    let log_total = most + maths::ln(sum);
    let mut facelets = [[0.0; 6]; Facelet::COUNT];
    for (centres, own) in &found {
        let share = maths::exp(own.log_total - log_total);
        for (mixed, own) in facelets.iter_mut().zip(&own.facelets) {
            (0..6).for_each(|face| mixed[centres[face].index()] += share * own[face]);
        }
    }
    let (centres, mut decoded) = found[best].clone();
    for (k, (_, other)) in found.iter().enumerate() {
        if k != best && other.best.weight > decoded.second.weight {
            decoded.second = other.best;
        }
    }
    (decoded.log_total, decoded.facelets) = (log_total, facelets);
    Mounted { centres, decoded }
}

/// Evidence of a cube that is mounted as drawn.
#[must_use]
pub fn decode_as_drawn(evidence: &Evidence) -> Mounted {
    Mounted { centres: from_fn(Face::from_index), decoded: decode(evidence) }
}
