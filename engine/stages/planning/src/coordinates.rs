//! Numbers that stand for parts of a state.
//!
//! Phase 1 sees twist (3⁷), flip (2¹¹) and which four slots hold the edges of
//! the middle layer (12 choose 4). Phase 2 sees how corners (8!), the edges of
//! U and D (8!) and the middle edges (4!) are permuted. Slot numbers are those of
//! `dryturn_cube`: edges 0…7 lie on U and D, 8…11 in the middle layer.

use dryturn_cube::{CORNERS, CubeState, EDGES, Turn};

pub(crate) const TWISTS: usize = 2187;
pub(crate) const FLIPS: usize = 2048;
pub(crate) const SLICES: usize = 495;
pub(crate) const PERMUTATIONS_8: usize = 40320;
pub(crate) const PERMUTATIONS_4: usize = 24;
const MIDDLE: usize = 8;

pub(crate) fn twist_of(twists: &[u8; CORNERS]) -> usize {
    twists[..CORNERS - 1].iter().fold(0, |n, &t| 3 * n + usize::from(t))
}

pub(crate) fn twists_from(mut number: usize) -> [u8; CORNERS] {
    let mut twists = [0; CORNERS];
    let mut sum = 0;
    for twist in twists[..CORNERS - 1].iter_mut().rev() {
        *twist = (number % 3) as u8;
        sum += *twist;
        number /= 3;
    }
    twists[CORNERS - 1] = (3 - sum % 3) % 3;
    twists
}

pub(crate) fn flip_of(flips: &[u8; EDGES]) -> usize {
    flips[..EDGES - 1].iter().fold(0, |n, &f| 2 * n + usize::from(f))
}

pub(crate) fn flips_from(mut number: usize) -> [u8; EDGES] {
    let mut flips = [0; EDGES];
    let mut sum = 0;
    for flip in flips[..EDGES - 1].iter_mut().rev() {
        *flip = (number % 2) as u8;
        sum ^= *flip;
        number /= 2;
    }
    flips[EDGES - 1] = sum;
    flips
}

fn choose(n: usize, k: usize) -> usize {
    (0..k).fold(1, |product, i| product * (n - i) / (i + 1))
}

/// Number of the set of slots that hold middle edges; 0 when they are home.
pub(crate) fn slice_of(occupied: &[bool; EDGES]) -> usize {
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

pub(crate) fn slice_from(number: usize) -> [bool; EDGES] {
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

/// What phase 1 must bring home.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(crate) struct Coordinates {
    pub(crate) twist: u16,
    pub(crate) flip: u16,
    pub(crate) slice: u16,
}

impl Coordinates {
    pub(crate) fn of(state: &CubeState) -> Self {
        let middle = state.edge_piece().map(|piece| usize::from(piece) >= MIDDLE);
        Self {
            twist: twist_of(state.corner_twist()) as u16,
            flip: flip_of(state.edge_flip()) as u16,
            slice: slice_of(&middle) as u16,
        }
    }
}

/// Permutations that phase 2 must sort.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Arrangement {
    pub(crate) corners: u16,
    pub(crate) outer: u16,
    pub(crate) middle: u8,
}

/// Each coordinate after a turn, decoded, moved and encoded again.
pub(crate) fn turn_twist(number: usize, turn: Turn) -> usize {
    let (before, motion) = (twists_from(number), turn.as_state());
    let after: [u8; CORNERS] = core::array::from_fn(|slot| {
        (before[usize::from(motion.corner_piece()[slot])] + motion.corner_twist()[slot]) % 3
    });
    twist_of(&after)
}

pub(crate) fn turn_flip(number: usize, turn: Turn) -> usize {
    let (before, motion) = (flips_from(number), turn.as_state());
    let after: [u8; EDGES] = core::array::from_fn(|slot| {
        before[usize::from(motion.edge_piece()[slot])] ^ motion.edge_flip()[slot]
    });
    flip_of(&after)
}

pub(crate) fn turn_slice(number: usize, turn: Turn) -> usize {
    let before = slice_from(number);
    slice_of(&turn.as_state().edge_piece().map(|from| before[usize::from(from)]))
}

pub(crate) fn turn_corners(number: usize, turn: Turn) -> usize {
    let before: [u8; CORNERS] = unrank(number);
    rank(&turn.as_state().corner_piece().map(|from| before[usize::from(from)]))
}

/// For turns of phase 2 only: they keep the outer edges among themselves.
pub(crate) fn turn_outer(number: usize, turn: Turn) -> usize {
    let before: [u8; MIDDLE] = unrank(number);
    let motion = turn.as_state().edge_piece();
    rank::<MIDDLE>(&core::array::from_fn(|slot| before[usize::from(motion[slot])]))
}

/// For turns of phase 2 only: they keep the middle edges among themselves.
pub(crate) fn turn_middle(number: usize, turn: Turn) -> usize {
    let before: [u8; EDGES - MIDDLE] = unrank(number);
    let motion = turn.as_state().edge_piece();
    rank::<{ EDGES - MIDDLE }>(&core::array::from_fn(|slot| {
        before[usize::from(motion[MIDDLE + slot]) - MIDDLE]
    }))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_and_what_they_stand_for_are_one_to_one() {
        assert!((0..TWISTS).all(|n| twist_of(&twists_from(n)) == n));
        assert!((0..FLIPS).all(|n| flip_of(&flips_from(n)) == n));
        assert!((0..SLICES).all(|n| slice_of(&slice_from(n)) == n));
        assert!((0..PERMUTATIONS_4).all(|n| rank::<4>(&unrank(n)) == n));
        assert!((0..PERMUTATIONS_8).all(|n| rank::<8>(&unrank(n)) == n));
        let solved = Coordinates::of(&CubeState::SOLVED);
        assert_eq!((solved.twist, solved.flip, solved.slice), (0, 0, 0));
    }
}
