//! One kind of pieces (eight corners, or twelve edges): every way to put each piece into
//! one slot, walked slot by slot.
//!
//! What has to be known of the slots filled so far is which pieces are used, what their
//! turns add up to and whether they are permuted oddly: 256 × 3 × 2 states for corners,
//! 4096 × 2 × 2 for edges, instead of 88,179,840 and 980,995,276,800 arrangements.

use core::array::from_fn;

use dryturn_units::maths;

/// How probable each piece is in each slot, in each of its turns: logarithms, by slot,
/// piece and turn.
pub(super) type Weights<const N: usize, const T: usize> = [[[f64; T]; N]; N];

/// One arrangement: piece and turn by slot.
pub(super) type Arrangement<const N: usize> = [(usize, usize); N];

/// Best sums of weights, or their best continuations, by state.
type Heights = Vec<f64>;

/// A kind of `N` pieces with `T` turns each, under given weights.
pub(super) struct Chain<const N: usize, const T: usize> {
    weights: Weights<N, T>,
    /// Best sum of weights from the start to each state.
    reached: Heights,
}

/// From one state to the next: which piece comes into the slot, in which turn.
struct Step {
    from: u32,
    to: u32,
    piece: u8,
    turn: u8,
    /// Share of all ways into `to` that come this way.
    share: f64,
}

/// Exponentials that the shares of steps are products of: there are far fewer of them than
/// steps.
struct Scaled<const N: usize, const T: usize> {
    heights: Vec<f64>,
    weights: Weights<N, T>,
}

impl<const N: usize, const T: usize> Scaled<N, T> {
    /// Exponential of what the way from a state by a piece and turn lacks to the best way
    /// to where it leads, whose height is `height`.
    fn ratio(
        &self,
        chain: &Chain<N, T>,
        from: usize,
        (piece, turn): (usize, usize),
        to: usize,
        height: f64,
    ) -> f64 {
        let slot = (from / Chain::<N, T>::STATES).count_ones() as usize;
        let factors = [self.heights[from], self.weights[slot][piece][turn], self.heights[to]];
        // Near the ends of what a number can hold the product is not to be trusted.
        if factors.iter().all(|factor| SAFE.contains(factor)) {
            factors[0] * factors[1] / factors[2]
        } else {
            maths::exp(height - chain.reached[to])
        }
    }
}

/// Sums over all arrangements.
pub(super) struct Sums {
    steps: Vec<Step>,
    /// For even and odd permutations: sum over all arrangements of the exponential of
    /// their weight, as a multiple of that of the best.
    pub(super) ways: [f64; 2],
}

/// Exponentials that can be multiplied and divided without loss.
const SAFE: core::ops::Range<f64> = 1e-140..1e140;

fn bits(set: usize) -> impl Iterator<Item = usize> {
    let mut left = set;
    core::iter::from_fn(move || {
        let bit = left.trailing_zeros() as usize;
        left &= left.wrapping_sub(1);
        (bit < usize::BITS as usize).then_some(bit)
    })
}

impl<const N: usize, const T: usize> Chain<N, T> {
    const SUBSETS: usize = 1 << N;
    /// States of one set of used pieces: sum of turns, then odd or even.
    const STATES: usize = 2 * T;

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
    fn without(used: usize, piece: usize) -> (usize, usize) {
        let before = used & !(1 << piece);
        (before, (before >> piece).count_ones() as usize & 1)
    }

    /// The state after one more piece.
    fn after(state: usize, turn: usize, odd: usize) -> usize {
        2 * ((state / 2 + turn) % T) + ((state % 2) ^ odd)
    }

    /// The state in which all pieces are placed, the turns add up and the permutation is
    /// even or odd.
    fn end(odd: usize) -> usize {
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

    /// Best weight from each state to the end, where the ends have weights of their own.
    fn ahead(&self, ends: [f64; 2]) -> Heights {
        let mut ahead = vec![f64::NEG_INFINITY; Self::SUBSETS * Self::STATES];
        (0..2).for_each(|odd| ahead[Self::end(odd)] = ends[odd]);
        for used in (0..Self::SUBSETS - 1).rev() {
            let slot = used.count_ones() as usize;
            let (before, after) = ahead.split_at_mut((used + 1) * Self::STATES);
            let here = &mut before[used * Self::STATES..];
            for piece in bits(!used & (Self::SUBSETS - 1)) {
                let later = used | 1 << piece;
                let (_, odd) = Self::without(later, piece);
                let next = &after[(later - used - 1) * Self::STATES..][..Self::STATES];
                for (turn, weight) in self.weights[slot][piece].iter().enumerate() {
                    for (state, height) in here.iter_mut().enumerate() {
                        *height = height.max(next[Self::after(state, turn, odd)] + weight);
                    }
                }
            }
        }
        ahead
    }

    /// Sums over all arrangements, but for those that are worse than `least` when the
    /// weights of the ends are counted in. Relative to the best way to each state, so
    /// nothing overflows, and what underflows does not count.
    pub(super) fn sums(&self, ends: [f64; 2], least: f64) -> Sums {
        let ahead = self.ahead(ends);
        let scaled = self.scaled();
        let mut ways = vec![0.0; self.reached.len()];
        ways[0] = 1.0;
        let mut steps = Vec::with_capacity(self.reached.len());
        for to in Self::STATES..self.reached.len() {
            let (reached, left) = (self.reached[to], ahead[to]);
            if reached + left < least || reached == f64::NEG_INFINITY {
                continue;
            }
            let first = steps.len();
            let mut all = 0.0;
            for (from, piece, turn, height) in self.ways_into(to) {
                if height + left < least || ways[from] == 0.0 {
                    continue;
                }
                let share = ways[from] * scaled.ratio(self, from, (piece, turn), to, height);
                all += share;
                let (from, to) = (from as u32, to as u32);
                steps.push(Step { from, to, piece: piece as u8, turn: turn as u8, share });
            }
            steps[first..].iter_mut().for_each(|step| step.share /= all);
            ways[to] = all;
        }
        Sums { steps, ways: from_fn(|odd| ways[Self::end(odd)]) }
    }

    /// Exponentials of heights and weights, each about its own slot's best.
    fn scaled(&self) -> Scaled<N, T> {
        let mut most = vec![f64::NEG_INFINITY; N + 1];
        let slot = |state: usize| (state / Self::STATES).count_ones() as usize;
        for (state, height) in self.reached.iter().enumerate() {
            most[slot(state)] = most[slot(state)].max(*height);
        }
        let heights = self.reached.iter().enumerate();
        Scaled {
            heights: heights.map(|(state, h)| maths::exp(h - most[slot(state)])).collect(),
            weights: from_fn(|slot| {
                let rise = most[slot + 1] - most[slot];
                from_fn(|piece| from_fn(|turn| maths::exp(self.weights[slot][piece][turn] - rise)))
            }),
        }
    }

    /// Probability of each piece and turn in each slot, from the probabilities of the two
    /// parities.
    pub(super) fn marginals(&self, sums: &Sums, parities: [f64; 2]) -> Weights<N, T> {
        let mut probability = vec![0.0; self.reached.len()];
        (0..2).for_each(|odd| probability[Self::end(odd)] = parities[odd]);
        let mut marginals = [[[0.0; T]; N]; N];
        // Steps are in order of where they lead.
        for step in sums.steps.iter().rev() {
            let mass = probability[step.to as usize] * step.share;
            let slot = (step.from as usize / Self::STATES).count_ones() as usize;
            marginals[slot][usize::from(step.piece)][usize::from(step.turn)] += mass;
            probability[step.from as usize] += mass;
        }
        marginals
    }
}
