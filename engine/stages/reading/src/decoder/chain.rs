//! One kind of pieces (eight corners, or twelve edges): every way to put each piece into
//! one slot, walked slot by slot.
//!
//! What has to be known of the slots filled so far is which pieces are used, what their
//! turns add up to and whether they are permuted oddly: 256 × 3 × 2 states for corners,
//! 4096 × 2 × 2 for edges, instead of 88,179,840 and 980,995,276,800 arrangements.

use core::array::from_fn;

/// How probable each piece is in each slot, in each of its turns: logarithms, by slot,
/// piece and turn.
pub(super) type Weights<const N: usize, const T: usize> = [[[f64; T]; N]; N];

/// One arrangement: piece and turn by slot.
pub(super) type Arrangement<const N: usize> = [(usize, usize); N];

/// A kind of `N` pieces with `T` turns each, under given weights.
pub(super) struct Chain<const N: usize, const T: usize> {
    pub(super) weights: Weights<N, T>,
    /// Best sum of weights from the start to each state.
    reached: Vec<f64>,
}

/// The pieces of a set, as their numbers.
pub(super) fn bits(set: usize) -> impl Iterator<Item = usize> {
    let mut left = set;
    core::iter::from_fn(move || {
        let bit = left.trailing_zeros() as usize;
        left &= left.wrapping_sub(1);
        (bit < usize::BITS as usize).then_some(bit)
    })
}

impl<const N: usize, const T: usize> Chain<N, T> {
    pub(super) const SUBSETS: usize = 1 << N;
    /// States of one set of used pieces: sum of turns, then odd or even.
    pub(super) const STATES: usize = 2 * T;

    pub(super) fn new(weights: Weights<N, T>) -> Self {
        let mut reached = vec![f64::NEG_INFINITY; Self::SUBSETS * Self::STATES];
        reached[0] = 0.0;
        for used in 1..Self::SUBSETS {
            let slot = used.count_ones() as usize - 1;
            let (before, here) = reached.split_at_mut(used * Self::STATES);
            for piece in bits(used) {
                let (earlier, odd) = Self::without(used, piece);
                let from = &before[earlier * Self::STATES..][..Self::STATES];
                for (turn, weight) in weights[slot][piece].iter().enumerate() {
                    for (state, height) in from.iter().enumerate() {
                        let to = &mut here[Self::after(state, turn, odd)];
                        *to = to.max(height + weight);
                    }
                }
            }
        }
        Self { weights, reached }
    }

    /// The set before a piece came to it, and whether its coming changes the parity:
    /// as often as there are later pieces in earlier slots.
    pub(super) fn without(used: usize, piece: usize) -> (usize, usize) {
        let before = used & !(1 << piece);
        (before, (before >> piece).count_ones() as usize & 1)
    }

    /// The state after one more piece.
    pub(super) fn after(state: usize, turn: usize, odd: usize) -> usize {
        2 * ((state / 2 + turn) % T) + ((state % 2) ^ odd)
    }

    /// The state in which all pieces are placed, the turns add up and the permutation is
    /// even or odd.
    pub(super) fn end(odd: usize) -> usize {
        (Self::SUBSETS - 1) * Self::STATES + odd
    }

    /// Weight of the best arrangement with an even permutation, and with an odd one.
    pub(super) fn best(&self) -> [f64; 2] {
        from_fn(|odd| self.reached[Self::end(odd)])
    }

    /// Weight of the best arrangement if turns and parity need not add up.
    pub(super) fn best_without_laws(&self) -> f64 {
        let ends = &self.reached[(Self::SUBSETS - 1) * Self::STATES..];
        ends.iter().copied().fold(f64::NEG_INFINITY, f64::max)
    }

    /// All ways into a state: where from, the piece and its turn, and the best sum of
    /// weights that comes that way. In a fixed order.
    fn ways_into(&self, state: usize) -> impl Iterator<Item = (usize, usize, usize, f64)> + '_ {
        let (used, own) = (state / Self::STATES, state % Self::STATES);
        let slot = (used.count_ones() as usize).wrapping_sub(1);
        bits(used).flat_map(move |piece| {
            let (earlier, odd) = Self::without(used, piece);
            (0..T).map(move |turn| {
                let from = 2 * ((own / 2 + T - turn) % T) + ((own % 2) ^ odd);
                let from = earlier * Self::STATES + from;
                (from, piece, turn, self.reached[from] + self.weights[slot][piece][turn])
            })
        })
    }

    /// The best arrangement that ends in a state, written into the slots before it.
    fn trace(&self, mut state: usize, into: &mut Arrangement<N>) {
        while state >= Self::STATES {
            let slot = (state / Self::STATES).count_ones() as usize - 1;
            // The first of the best: the same on every machine.
            let best = self.ways_into(state).reduce(|a, b| if b.3 > a.3 { b } else { a });
            let Some((from, piece, turn, _)) = best else { return };
            into[slot] = (piece, turn);
            state = from;
        }
    }

    /// The best arrangement of a parity.
    pub(super) fn best_arrangement(&self, odd: usize) -> Arrangement<N> {
        let mut best = [(0, 0); N];
        self.trace(Self::end(odd), &mut best);
        best
    }

    /// The second-best arrangement of a parity and its weight: it goes with the best one
    /// from the end back to some slot, leaves it there, and is the best from there on.
    pub(super) fn second_best(&self, odd: usize) -> (Arrangement<N>, f64) {
        let best = self.best_arrangement(odd);
        let mut second = (f64::NEG_INFINITY, best, Self::end(odd));
        let (mut state, mut after) = (Self::end(odd), 0.0);
        for slot in (0..N).rev() {
            let mut stays = None;
            for (from, piece, turn, height) in self.ways_into(state) {
                if (piece, turn) == best[slot] {
                    stays = Some(from);
                } else if height + after > second.0 {
                    let mut other = best;
                    other[slot] = (piece, turn);
                    second = (height + after, other, from);
                }
            }
            after += self.weights[slot][best[slot].0][best[slot].1];
            match stays {
                Some(from) => state = from,
                None => break,
            }
        }
        let (weight, mut other, from) = second;
        self.trace(from, &mut other);
        (other, weight)
    }
}
