//! The cube's symmetries, and how they shrink tables.
//!
//! Sixteen symmetries keep the axis through U and D. A state seen through one of
//! them needs the same turns, seen through it: so a table need hold only one
//! *class* of such states, and the symmetry that leads there.

use dryturn_cube::{
    CORNERS, CubeState, EDGES, Face, Facelet, Turn, corner_facelets, edge_facelets,
};
use dryturn_units::stop::checkpoint;

use super::coordinates::{
    BELT, BELTS, CORNER_SENSES, EDGE_SENSES, PERMUTATIONS_8, belt_from, belt_of, corner_sense_of,
    corner_senses_from, edge_sense_of, edge_senses_from, rank, unrank,
};

/// Symmetries that keep the axis through U and D.
pub(crate) const SYMMETRIES: usize = 16;

/// Where a vector goes under symmetry number `number`: bit 0 mirrors x, bit 1 y,
/// bit 2 z, bit 3 then swaps x and z.
fn image(number: usize, v: [i32; 3]) -> [i32; 3] {
    let sign = |bit: usize| if number >> bit & 1 == 1 { -1 } else { 1 };
    let [x, y, z] = [v[0] * sign(0), v[1] * sign(1), v[2] * sign(2)];
    if number >> 3 == 1 { [z, y, x] } else { [x, y, z] }
}

/// The symmetry that leads back. With the swap in it, x and z change their roles.
fn inverse(number: usize) -> usize {
    if number >> 3 == 1 {
        (number & 0b1010) | (number & 1) << 2 | (number >> 2 & 1)
    } else {
        number
    }
}

fn moved(facelet: Facelet, image: &dyn Fn([i32; 3]) -> [i32; 3]) -> Facelet {
    let face = Face::from_normal(image(facelet.face().normal()));
    let place = face.and_then(|face| Facelet::at(image(facelet.piece_position()), face));
    place.expect("a symmetry takes facelets to facelets")
}

/// What a symmetry does to pieces.
pub(crate) struct Symmetry {
    corner_to: [usize; CORNERS],
    edge_to: [usize; EDGES],
    /// Whether it turns clockwise into anticlockwise.
    mirrors: bool,
    /// Whether it takes the belt edges' reference facelets off F and B.
    swaps_belt_reference: bool,
}

impl Symmetry {
    pub(crate) fn all() -> [Self; SYMMETRIES] {
        core::array::from_fn(|number| {
            let image = |v| image(number, v);
            let corner = |slot| {
                let place = moved(corner_facelets(slot)[0], &image);
                (0..CORNERS).find(|&to| corner_facelets(to)[0] == place)
            };
            let edge = |slot| {
                let place = moved(edge_facelets(slot)[0], &image);
                (0..EDGES).find(|&to| edge_facelets(to).contains(&place))
            };
            let reference = edge_facelets(BELT)[0];
            let of_f_or_b = moved(reference, &image).face().same_axis(Face::F);
            // Each mirrored axis and the swap turn the sense once.
            let mirrors = (0..4).filter(|bit| number >> bit & 1 == 1).count() % 2 == 1;
            Self {
                corner_to: core::array::from_fn(|slot| corner(slot).unwrap_or(slot)),
                edge_to: core::array::from_fn(|slot| edge(slot).unwrap_or(slot)),
                mirrors,
                swaps_belt_reference: !of_f_or_b,
            }
        })
    }

    fn corner_sense(&self, number: usize) -> usize {
        let before = corner_senses_from(number);
        let mut after = [0; CORNERS];
        for slot in 0..CORNERS {
            let sense = before[slot];
            after[self.corner_to[slot]] = if self.mirrors { (3 - sense) % 3 } else { sense };
        }
        corner_sense_of(&after)
    }

    fn edge_sense_belt(&self, sense: usize, belt: usize) -> (usize, usize) {
        let (senses, in_belt) = (edge_senses_from(sense), belt_from(belt));
        let (mut senses_after, mut belt_after) = ([0; EDGES], [false; EDGES]);
        for slot in 0..EDGES {
            // A belt edge on a cap slot, or the reverse, changes its reference.
            let changes = self.swaps_belt_reference && (slot >= BELT) != in_belt[slot];
            senses_after[self.edge_to[slot]] = senses[slot] ^ u8::from(changes);
            belt_after[self.edge_to[slot]] = in_belt[slot];
        }
        (edge_sense_of(&senses_after), belt_of(&belt_after))
    }

    fn corner_order(&self, number: usize) -> usize {
        self.eight(number, &self.corner_to)
    }

    fn cap_order(&self, number: usize) -> usize {
        self.eight(number, &self.edge_to[..BELT])
    }

    fn eight(&self, number: usize, to: &[usize]) -> usize {
        let before: [u8; 8] = unrank(number);
        let mut after = [0; 8];
        for slot in 0..8 {
            after[to[slot]] = to[usize::from(before[slot])] as u8;
        }
        rank(&after)
    }
}

/// `table[symmetry][number]` of a coordinate that each symmetry maps on itself.
pub(crate) fn corner_sense_images(all: &[Symmetry]) -> Vec<Vec<u16>> {
    all.iter().map(|s| (0..CORNER_SENSES).map(|n| s.corner_sense(n) as u16).collect()).collect()
}

/// The same for the permutation of the edges of U and D.
pub(crate) fn cap_order_images(all: &[Symmetry]) -> Vec<Vec<u16>> {
    all.iter().map(|s| (0..PERMUTATIONS_8).map(|n| s.cap_order(n) as u16).collect()).collect()
}

/// Numbers grouped in classes of those that symmetries take to one another.
pub(crate) struct Classes {
    /// `class · 16 + symmetry` that takes a number to its class's representative.
    pub(crate) of: Vec<u32>,
    /// The smallest number of each class.
    pub(crate) representative: Vec<u32>,
    /// Classes whose representative some symmetries keep, with those symmetries.
    pub(crate) kept_by: Vec<(usize, Vec<usize>)>,
}

impl Classes {
    fn new(size: usize, image: impl Fn(usize, usize) -> usize) -> Self {
        let mut of = vec![u32::MAX; size];
        let (mut representative, mut kept_by) = (Vec::new(), Vec::new());
        for number in 0..size {
            if of[number] != u32::MAX {
                continue;
            }
            checkpoint();
            let class = representative.len();
            representative.push(number as u32);
            let mut keeping = Vec::new();
            for symmetry in 0..SYMMETRIES {
                let member = image(symmetry, number);
                if member == number && symmetry > 0 {
                    keeping.push(symmetry);
                }
                if of[member] == u32::MAX {
                    of[member] = (class * SYMMETRIES + inverse(symmetry)) as u32;
                }
            }
            if !keeping.is_empty() {
                kept_by.push((class, keeping));
            }
        }
        Self { of, representative, kept_by }
    }

    /// Edge sense and belt together, numbered `belt · 2048 + sense`.
    pub(crate) fn of_edges(all: &[Symmetry]) -> Self {
        Self::new(EDGE_SENSES * BELTS, |symmetry, number| {
            let (sense, belt) =
                all[symmetry].edge_sense_belt(number % EDGE_SENSES, number / EDGE_SENSES);
            belt * EDGE_SENSES + sense
        })
    }

    /// The permutation of the corners.
    pub(crate) fn of_corner_orders(all: &[Symmetry]) -> Self {
        Self::new(PERMUTATIONS_8, |symmetry, number| all[symmetry].corner_order(number))
    }

    pub(crate) fn count(&self) -> usize {
        self.representative.len()
    }
}

/// The next axis: what was on R is now on U, what was on F on R, and so on.
fn next_axis(v: [i32; 3]) -> [i32; 3] {
    [v[2], v[0], v[1]]
}

/// A state seen with the next axis through U and D.
pub(crate) fn seen_along_next_axis(state: &CubeState) -> CubeState {
    let before = state.colours();
    let mut after = before;
    for facelet in Facelet::all() {
        let colour = before[facelet.index()];
        after[moved(facelet, &next_axis).index()] = face_seen(colour);
    }
    CubeState::from_colours(&after).expect("a rotation keeps the cube legal")
}

fn face_seen(face: Face) -> Face {
    Face::from_normal(next_axis(face.normal())).unwrap_or(face)
}

/// The turn that looks like `turn` along the next axis, seen as it really is.
pub(crate) fn seen_back(turn: Turn) -> Turn {
    let face = Face::ALL.into_iter().find(|&face| face_seen(face) == turn.face);
    Turn { face: face.unwrap_or(turn.face), ..turn }
}

#[cfg(test)]
mod tests {
    use dryturn_cube::ALL_TURNS;

    use super::*;
    use crate::state::coordinates::{
        turn_belt, turn_cap_order, turn_corner_order, turn_corner_sense, turn_edge_sense,
    };

    fn seen(symmetry: &Symmetry, number: usize, turn: Turn) -> Turn {
        let face = Face::from_normal(image(number, turn.face.normal())).unwrap();
        if symmetry.mirrors { Turn { face, ..turn.inverse() } } else { Turn { face, ..turn } }
    }

    /// Turning and then looking through a symmetry is looking first and making the
    /// turn that is seen: for every symmetry, turn and many numbers.
    #[test]
    fn symmetries_go_with_turns() {
        for (number, symmetry) in Symmetry::all().iter().enumerate() {
            for turn in ALL_TURNS {
                let seen = seen(symmetry, number, turn);
                for n in (0..40_000).step_by(611) {
                    let sense = n % CORNER_SENSES;
                    assert_eq!(
                        symmetry.corner_sense(turn_corner_sense(sense, turn)),
                        turn_corner_sense(symmetry.corner_sense(sense), seen)
                    );
                    let (sense, belt) = (n % EDGE_SENSES, n % BELTS);
                    let after = symmetry
                        .edge_sense_belt(turn_edge_sense(sense, turn), turn_belt(belt, turn));
                    let (sense, belt) = symmetry.edge_sense_belt(sense, belt);
                    assert_eq!(after, (turn_edge_sense(sense, seen), turn_belt(belt, seen)));
                    assert_eq!(
                        symmetry.corner_order(turn_corner_order(n, turn)),
                        turn_corner_order(symmetry.corner_order(n), seen)
                    );
                    if crate::state::steps::alone(turn).in_subgroup() {
                        assert_eq!(
                            symmetry.cap_order(turn_cap_order(n, turn)),
                            turn_cap_order(symmetry.cap_order(n), seen)
                        );
                    }
                }
            }
        }
    }

    /// Numbers of classes by Burnside's lemma, counted here by what each symmetry
    /// keeps.
    #[test]
    fn classes_are_as_many_as_burnside_says() {
        let all = Symmetry::all();
        let kept: usize = all
            .iter()
            .map(|s| (0..PERMUTATIONS_8).filter(|&n| s.corner_order(n) == n).count())
            .sum();
        let classes = Classes::of_corner_orders(&all);
        assert_eq!(classes.count(), kept / SYMMETRIES);
        for (number, &of) in classes.of.iter().enumerate() {
            let (class, symmetry) = (of as usize / SYMMETRIES, of as usize % SYMMETRIES);
            assert_eq!(all[symmetry].corner_order(number) as u32, classes.representative[class]);
        }
    }

    #[test]
    fn inverses_lead_back() {
        for number in 0..SYMMETRIES {
            assert_eq!(image(inverse(number), image(number, [1, 2, 3])), [1, 2, 3]);
        }
    }

    #[test]
    fn a_solution_seen_along_another_axis_solves_the_real_cube() {
        let turns = dryturn_cube::notation::parse("R U2 F' L D B2 U'").unwrap();
        let state = CubeState::SOLVED.turned_by(&turns);
        let seen = seen_along_next_axis(&state);
        let back: Vec<Turn> = ALL_TURNS.into_iter().map(seen_back).collect();
        for turn in ALL_TURNS {
            let real = state.turned(back[turn.index()]);
            assert_eq!(seen_along_next_axis(&real), seen.turned(turn), "{turn}");
        }
    }
}
