//! The most probable cube when nobody knows how it is mounted: all 24 ways are weighed.
//!
//! Which colour the centres show is then evidence like any other. Where nothing shows the
//! centres, twelve mountings fit any colours equally well: corners and edges are the same
//! pieces in every mounting, under other names, and all that the mounting changes is whether
//! their permutations must be of the same parity. So two kinds of cubes are decoded, not 24.

use core::array::from_fn;
use std::sync::LazyLock;

use dryturn_cube::legality::is_odd;
use dryturn_cube::{
    CORNERS, EDGES, Face, Facelet, Stickering, corner_facelets, corner_index, edge_facelets,
    edge_index,
};
use dryturn_units::maths;

use super::chain::{Arrangement, Weights};
use super::placed::{Chains, Parity, Pieces, Placed};
use super::{Decoded, Evidence, Weighted, decode};

/// Mountings whose best cube's weight is further below the best than this are left out of sums.
/// All cubes in all of them together have less than 10⁻¹³ of the best one's probability:
/// 24 · 4.33·10¹⁹ · e⁻⁸⁰ = 1.9·10⁻¹⁴.
const CUT: f64 = 80.0;

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

/// The name and turn, in terms of a mounting, of each piece as drawn.
type Names<const N: usize> = [(usize, usize); N];

/// A way to mount a cube, and what pieces and parity are in it.
struct Mounting {
    centres: Centres,
    corners: Names<CORNERS>,
    edges: Names<EDGES>,
    parity: Parity,
}

impl Mounting {
    fn of(centres: Centres) -> Self {
        let here = |facelet: Facelet| {
            let face = centres.iter().position(|colour| *colour == facelet.face());
            Face::from_index(face.expect("every colour has a centre"))
        };
        const SAME: &str = "turned cubes have the same pieces";
        let corners = from_fn(|k| corner_index(corner_facelets(k).map(here)).expect(SAME));
        let edges = from_fn(|k| edge_index(edge_facelets(k).map(here)).expect(SAME));
        let odd = |pieces: &[(usize, usize)]| {
            is_odd(&pieces.iter().map(|(piece, _)| *piece as u8).collect::<Vec<_>>())
        };
        let same = odd(&corners) == odd(&edges);
        let parity = if same { Parity::Same } else { Parity::Other };
        Self { centres, corners, edges, parity }
    }

    /// A cube whose pieces as drawn are known.
    fn cube(&self, pieces: &Pieces, weight: f64) -> Weighted {
        let corners = named::<CORNERS, 3>(&self.corners, &pieces.corners);
        let edges = named::<EDGES, 2>(&self.edges, &pieces.edges);
        Weighted { state: Pieces { corners, edges }.cube(), weight }
    }
}

static MOUNTED: LazyLock<Vec<Mounting>> =
    LazyLock::new(|| mountings().into_iter().map(Mounting::of).collect());

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

/// An arrangement in terms of a mounting.
fn named<const N: usize, const T: usize>(
    names: &Names<N>,
    drawn: &Arrangement<N>,
) -> Arrangement<N> {
    drawn.map(|(piece, turn)| {
        let (name, by) = names[piece];
        (name, (turn + by) % T)
    })
}

/// Probabilities of pieces in terms of a mounting.
fn renamed<const N: usize, const T: usize>(
    names: &Names<N>,
    drawn: &Weights<N, T>,
) -> Weights<N, T> {
    let mut found = [[[0.0; T]; N]; N];
    for (own, drawn) in found.iter_mut().zip(drawn) {
        for (turns, &(name, by)) in drawn.iter().zip(names) {
            (0..T).for_each(|turn| own[name][(turn + by) % T] = turns[turn]);
        }
    }
    found
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
    let centre = |face: Face| Facelet::new(face, 1, 1);
    let of_centres = |mounting: &Mounting| -> f64 {
        let own = Face::ALL.into_iter().zip(mounting.centres);
        own.map(|(face, colour)| evidence.at(centre(face))[colour.index()]).sum()
    };
    let chains = Chains::of(evidence);
    let pieces = [Parity::Same, Parity::Other].map(|parity| chains.best(parity));
    let weights: Vec<f64> = MOUNTED
        .iter()
        .map(|mounting| of_centres(mounting) + pieces[mounting.parity as usize].0)
        .collect();
    let best =
        (0..weights.len()).fold(0, |best, k| if weights[k] > weights[best] { k } else { best });
    let likely = || {
        let all = MOUNTED.iter().zip(&weights);
        all.filter(|(_, weight)| **weight > weights[best] - CUT).map(|(mounting, _)| mounting)
    };
    let sums = chains.sums();
    let placed = [Parity::Same, Parity::Other].map(|parity| {
        let wanted = likely().any(|mounting| mounting.parity == parity);
        wanted.then(|| chains.placed(&sums, parity))
    });
    let placed_in = |mounting: &Mounting| -> &Placed {
        placed[mounting.parity as usize].as_ref().expect("decoded where it is likely")
    };
    let log_totals: Vec<(&Mounting, f64)> =
        likely().map(|own| (own, of_centres(own) + placed_in(own).log_total)).collect();
    let most = log_totals.iter().map(|(_, log)| *log).fold(f64::NEG_INFINITY, f64::max);
    let sum: f64 = log_totals.iter().map(|(_, log)| maths::exp(log - most)).sum();
    let log_total = most + maths::ln(sum);

    let mut facelets = [[0.0; 6]; Facelet::COUNT];
    let mut shares = [0.0; 2];
    for (mounting, log) in &log_totals {
        let share = maths::exp(log - log_total);
        shares[mounting.parity as usize] += share;
        for (face, colour) in Face::ALL.into_iter().zip(mounting.centres) {
            facelets[centre(face).index()][colour.index()] += share;
        }
    }
    for (placed, share) in placed.iter().zip(shares) {
        let Some(placed) = placed else { continue };
        for (mixed, own) in facelets.iter_mut().zip(&placed.facelets) {
            (0..6).for_each(|colour| mixed[colour] += share * own[colour]);
        }
    }

    let own = &MOUNTED[best];
    let found = placed_in(own);
    let (second, pieces_of_second) = &found.second;
    let mut second = own.cube(pieces_of_second, second + of_centres(own));
    for (k, (mounting, &weight)) in MOUNTED.iter().zip(&weights).enumerate() {
        if k != best && weight > second.weight {
            second = mounting.cube(&pieces[mounting.parity as usize].1, weight);
        }
    }
    Mounted {
        centres: own.centres,
        decoded: Decoded {
            best: own.cube(&found.best.1, weights[best]),
            second,
            log_total,
            facelets,
            corners: renamed(&own.corners, &found.corners),
            edges: renamed(&own.edges, &found.edges),
        },
    }
}

/// Evidence of a cube that is mounted as drawn.
#[must_use]
pub fn decode_as_drawn(evidence: &Evidence) -> Mounted {
    Mounted { centres: from_fn(Face::from_index), decoded: decode(evidence) }
}
