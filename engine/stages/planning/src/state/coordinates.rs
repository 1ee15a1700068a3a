//! Numbers that stand for parts of a state.
//!
//! Orienting sees the sense of the corners (3⁷) and of the edges (2¹¹), and which four
//! slots hold the edges of the belt between U and D (12 choose 4). Arranging sees the
//! order of the corners (8!), of the caps' edges, those of U and D (8!), and of the
//! belt's (4!). Slot numbers are those of `dryturn_cube`: edges 0…7 lie on the caps,
//! 8…11 in the belt.

use dryturn_cube::{CORNERS, CubeState, EDGES, Turn};

pub(crate) const CORNER_SENSES: usize = 2187;
pub(crate) const EDGE_SENSES: usize = 2048;
pub(crate) const BELTS: usize = 495;
pub(crate) const PERMUTATIONS_8: usize = 40320;
pub(crate) const PERMUTATIONS_4: usize = 24;
/// The first slot of the belt's edges.
pub(super) const BELT: usize = 8;

pub(crate) fn corner_sense_of(senses: &[u8; CORNERS]) -> usize {
    senses[..CORNERS - 1].iter().fold(0, |n, &t| 3 * n + usize::from(t))
}

pub(crate) fn corner_senses_from(mut number: usize) -> [u8; CORNERS] {
    let mut senses = [0; CORNERS];
    let mut sum = 0;
    for sense in senses[..CORNERS - 1].iter_mut().rev() {
        *sense = (number % 3) as u8;
        sum += *sense;
        number /= 3;
    }
    senses[CORNERS - 1] = (3 - sum % 3) % 3;
    senses
}

pub(crate) fn edge_sense_of(senses: &[u8; EDGES]) -> usize {
    senses[..EDGES - 1].iter().fold(0, |n, &f| 2 * n + usize::from(f))
}

pub(crate) fn edge_senses_from(mut number: usize) -> [u8; EDGES] {
    let mut senses = [0; EDGES];
    let mut sum = 0;
    for sense in senses[..EDGES - 1].iter_mut().rev() {
        *sense = (number % 2) as u8;
        sum ^= *sense;
        number /= 2;
    }
    senses[EDGES - 1] = sum;
    senses
}

fn choose(n: usize, k: usize) -> usize {
    (0..k).fold(1, |product, i| product * (n - i) / (i + 1))
}

/// Number of the set of slots that hold the belt's edges; 0 when they are home.
pub(crate) fn belt_of(occupied: &[bool; EDGES]) -> usize {
    // Combinatorial number system, counted from the highest slot.
    let (mut number, mut left) = (0, 4);
    for (passed, &full) in occupied.iter().rev().enumerate() {
        if full {
            left -= 1;
        } else if left > 0 {
            number += choose(EDGES - 1 - passed, left - 1);
        }
    }
    number
}

pub(crate) fn belt_from(number: usize) -> [bool; EDGES] {
    let (mut number, mut left) = (number, 4);
    let mut occupied = [false; EDGES];
    for (passed, full) in occupied.iter_mut().rev().enumerate() {
        if left == 0 {
            break;
        }
        let skipped = choose(EDGES - 1 - passed, left - 1);
        if number < skipped {
            *full = true;
            left -= 1;
        } else {
            number -= skipped;
        }
    }
    occupied
}

/// Rank of a permutation of 0…N−1 in lexicographic order.
pub(crate) fn rank<const N: usize>(permutation: &[u8; N]) -> usize {
    let (mut number, mut passed) = (0, 0u32);
    for (i, &p) in permutation.iter().enumerate() {
        let smaller = u32::from(p) - (passed & ((1 << p) - 1)).count_ones();
        number = number * (N - i) + smaller as usize;
        passed |= 1 << p;
    }
    number
}

pub(crate) fn unrank<const N: usize>(mut number: usize) -> [u8; N] {
    let mut permutation = [0; N];
    // From the last place on: who stands after it and is not smaller moves up.
    for i in (0..N).rev() {
        permutation[i] = (number % (N - i)) as u8;
        number /= N - i;
        for later in i + 1..N {
            if permutation[later] >= permutation[i] {
                permutation[later] += 1;
            }
        }
    }
    permutation
}

/// What orienting must bring home.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Coordinates {
    pub(crate) corner_sense: u16,
    pub(crate) edge_sense: u16,
    pub(crate) belt: u16,
}

impl Coordinates {
    pub(crate) fn of(state: &CubeState) -> Self {
        let belt = state.edge_piece().map(|piece| usize::from(piece) >= BELT);
        Self {
            corner_sense: corner_sense_of(state.corner_twist()) as u16,
            edge_sense: edge_sense_of(state.edge_flip()) as u16,
            belt: belt_of(&belt) as u16,
        }
    }
}

/// Permutations that arranging must sort.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Arrangement {
    pub(crate) corner_order: u16,
    pub(crate) cap_order: u16,
    pub(crate) belt_order: u8,
}

/// Each coordinate after a turn, decoded, moved and encoded again.
pub(crate) fn turn_corner_sense(number: usize, turn: Turn) -> usize {
    let (before, motion) = (corner_senses_from(number), turn.as_state());
    let after: [u8; CORNERS] = core::array::from_fn(|slot| {
        (before[usize::from(motion.corner_piece()[slot])] + motion.corner_twist()[slot]) % 3
    });
    corner_sense_of(&after)
}

pub(crate) fn turn_edge_sense(number: usize, turn: Turn) -> usize {
    let (before, motion) = (edge_senses_from(number), turn.as_state());
    let after: [u8; EDGES] = core::array::from_fn(|slot| {
        before[usize::from(motion.edge_piece()[slot])] ^ motion.edge_flip()[slot]
    });
    edge_sense_of(&after)
}

pub(crate) fn turn_belt(number: usize, turn: Turn) -> usize {
    let before = belt_from(number);
    belt_of(&turn.as_state().edge_piece().map(|from| before[usize::from(from)]))
}

pub(crate) fn turn_corner_order(number: usize, turn: Turn) -> usize {
    let before: [u8; CORNERS] = unrank(number);
    rank(&turn.as_state().corner_piece().map(|from| before[usize::from(from)]))
}

/// For turns that arranging uses: they keep the caps' edges among themselves.
pub(crate) fn turn_cap_order(number: usize, turn: Turn) -> usize {
    let before: [u8; BELT] = unrank(number);
    let motion = turn.as_state().edge_piece();
    rank::<BELT>(&core::array::from_fn(|slot| before[usize::from(motion[slot])]))
}

/// For turns that arranging uses: they keep the belt's edges among themselves.
pub(crate) fn turn_belt_order(number: usize, turn: Turn) -> usize {
    let before: [u8; EDGES - BELT] = unrank(number);
    let motion = turn.as_state().edge_piece();
    rank::<{ EDGES - BELT }>(&core::array::from_fn(|slot| {
        before[usize::from(motion[BELT + slot]) - BELT]
    }))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_and_what_they_stand_for_are_one_to_one() {
        assert!((0..CORNER_SENSES).all(|n| corner_sense_of(&corner_senses_from(n)) == n));
        assert!((0..EDGE_SENSES).all(|n| edge_sense_of(&edge_senses_from(n)) == n));
        assert!((0..BELTS).all(|n| belt_of(&belt_from(n)) == n));
        assert!((0..PERMUTATIONS_4).all(|n| rank::<4>(&unrank(n)) == n));
        assert!((0..PERMUTATIONS_8).all(|n| rank::<8>(&unrank(n)) == n));
        let solved = Coordinates::of(&CubeState::SOLVED);
        assert_eq!((solved.corner_sense, solved.edge_sense, solved.belt), (0, 0, 0));
    }
}
