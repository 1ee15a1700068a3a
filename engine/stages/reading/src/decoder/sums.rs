//! Sums over every arrangement of a chain, and how much of them goes through each piece, turn
//! and slot (forward and backward).
//!
//! Terms are exponentials of weights, each as a multiple of its slot's largest: sums of them
//! lose nothing. Evidence that no cube comes near makes every one of them too small for a
//! number; they are then summed as logarithms.

use core::array::from_fn;

use dryturn_units::maths;

use super::chain::{Chain, Weights, bits};

/// Below this, sums may have lost some of their terms.
const SAFE: f64 = 1e-250;

/// A number that is not negative.
trait Number: Copy {
    const NOTHING: Self;
    fn of_log(log: f64) -> Self;
    fn log(self) -> f64;
    fn plus(self, other: Self) -> Self;
    fn times(self, other: Self) -> Self;
}

/// As it is.
#[derive(Clone, Copy)]
struct Plain(f64);

/// By its logarithm.
#[derive(Clone, Copy)]
struct Logarithm(f64);

impl Number for Plain {
    const NOTHING: Self = Self(0.0);

    fn of_log(log: f64) -> Self {
        Self(maths::exp(log))
    }

    fn log(self) -> f64 {
        maths::ln(self.0)
    }

    fn plus(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }

    fn times(self, other: Self) -> Self {
        Self(self.0 * other.0)
    }
}

impl Number for Logarithm {
    const NOTHING: Self = Self(f64::NEG_INFINITY);

    fn of_log(log: f64) -> Self {
        Self(log)
    }

    fn log(self) -> f64 {
        self.0
    }

    fn plus(self, other: Self) -> Self {
        let (more, less) = if self.0 < other.0 { (other.0, self.0) } else { (self.0, other.0) };
        if less == f64::NEG_INFINITY {
            return Self(more);
        }
        Self(more + maths::ln_1p(maths::exp(less - more)))
    }

    fn times(self, other: Self) -> Self {
        Self(self.0 + other.0)
    }
}

/// Sums over all arrangements of the slots so far, by state.
struct Forward<V, const N: usize, const T: usize> {
    /// Terms by slot, piece and turn, as multiples of the slot's largest.
    terms: [[[V; T]; N]; N],
    /// Logarithm of the product of those.
    scale: f64,
    ways: Vec<V>,
}

impl<V: Number, const N: usize, const T: usize> Forward<V, N, T> {
    fn of(weights: &Weights<N, T>) -> Self {
        let largest =
            |slot: usize| weights[slot].iter().flatten().copied().fold(f64::NEG_INFINITY, f64::max);
        let most: [f64; N] = from_fn(largest);
        let term = |slot: usize| weights[slot].map(|own| own.map(|w| V::of_log(w - most[slot])));
        let terms: [[[V; T]; N]; N] = from_fn(term);
        let mut ways = vec![V::NOTHING; Chain::<N, T>::SUBSETS * Chain::<N, T>::STATES];
        ways[0] = V::of_log(0.0);
        for used in 1..Chain::<N, T>::SUBSETS {
            let slot = used.count_ones() as usize - 1;
            let (before, here) = ways.split_at_mut(used * Chain::<N, T>::STATES);
            let here = &mut here[..Chain::<N, T>::STATES];
            for piece in bits(used) {
                let (earlier, odd) = Chain::<N, T>::without(used, piece);
                let from = &before[earlier * Chain::<N, T>::STATES..][..Chain::<N, T>::STATES];
                for (turn, term) in terms[slot][piece].iter().enumerate() {
                    for (state, own) in from.iter().enumerate() {
                        let to = &mut here[Chain::<N, T>::after(state, turn, odd)];
                        *to = to.plus(own.times(*term));
                    }
                }
            }
        }
        Self { terms, scale: most.iter().sum(), ways }
    }

    /// Sum over all arrangements of a parity.
    fn end(&self, odd: usize) -> V {
        self.ways[Chain::<N, T>::end(odd)]
    }

    /// Share of all arrangements, of whom each parity has a known share, that has each piece
    /// and turn in each slot.
    fn shares(&self, parities: [f64; 2]) -> Weights<N, T> {
        let mut left = vec![V::NOTHING; self.ways.len()];
        for odd in (0..2).filter(|odd| parities[*odd] > 0.0) {
            let each = maths::ln(parities[odd]) - self.end(odd).log();
            left[Chain::<N, T>::end(odd)] = V::of_log(each);
        }
        let mut sums = [[[V::NOTHING; T]; N]; N];
        for used in (0..Chain::<N, T>::SUBSETS - 1).rev() {
            let slot = used.count_ones() as usize;
            let (before, after) = left.split_at_mut((used + 1) * Chain::<N, T>::STATES);
            let here = &mut before[used * Chain::<N, T>::STATES..];
            let ways = &self.ways[used * Chain::<N, T>::STATES..][..Chain::<N, T>::STATES];
            for piece in bits(!used & (Chain::<N, T>::SUBSETS - 1)) {
                let later = used | 1 << piece;
                let (_, odd) = Chain::<N, T>::without(later, piece);
                let next = &after[(later - used - 1) * Chain::<N, T>::STATES..];
                let next = &next[..Chain::<N, T>::STATES];
                for (turn, term) in self.terms[slot][piece].iter().enumerate() {
                    let sum = &mut sums[slot][piece][turn];
                    for (state, (own, ways)) in here.iter_mut().zip(ways).enumerate() {
                        let goes = next[Chain::<N, T>::after(state, turn, odd)].times(*term);
                        *own = own.plus(goes);
                        *sum = sum.plus(ways.times(goes));
                    }
                }
            }
        }
        sums.map(|own| own.map(|own| own.map(|sum| maths::exp(sum.log()))))
    }
}

/// Sums over all arrangements of a chain.
pub(super) struct Sums<const N: usize, const T: usize>(Kept<N, T>);

enum Kept<const N: usize, const T: usize> {
    Plain(Forward<Plain, N, T>),
    Logarithms(Forward<Logarithm, N, T>),
}

impl<const N: usize, const T: usize> Sums<N, T> {
    /// Of a chain's weights.
    pub(super) fn of(chain: &Chain<N, T>) -> Self {
        let plain: Forward<Plain, N, T> = Forward::of(&chain.weights);
        if (0..2).all(|odd| plain.end(odd).0 > SAFE) {
            return Self(Kept::Plain(plain));
        }
        Self(Kept::Logarithms(Forward::of(&chain.weights)))
    }

    /// For even and odd permutations: logarithm of the sum over all arrangements.
    pub(super) fn logs(&self) -> [f64; 2] {
        from_fn(|odd| match &self.0 {
            Kept::Plain(sums) => sums.end(odd).log() + sums.scale,
            Kept::Logarithms(sums) => sums.end(odd).log() + sums.scale,
        })
    }

    /// Probability of each piece and turn in each slot, from the probabilities of the two
    /// parities.
    pub(super) fn marginals(&self, parities: [f64; 2]) -> Weights<N, T> {
        match &self.0 {
            Kept::Plain(sums) => sums.shares(parities),
            Kept::Logarithms(sums) => sums.shares(parities),
        }
    }
}

#[cfg(test)]
mod tests {
    use dryturn_units::noise::Seed;

    use super::*;

    fn chain(spread: f64) -> Chain<8, 3> {
        let mut noise = Seed::new(3).stream("sums-test", spread as u64, 0);
        Chain::new(from_fn(|_| from_fn(|_| from_fn(|_| noise.between(-spread, 0.0)))))
    }

    /// Plain numbers and logarithms come to the same.
    #[test]
    fn logarithms_are_the_same_sums() {
        for spread in [0.0, 1.0, 10.0, 60.0] {
            let chain = chain(spread);
            let plain: Forward<Plain, 8, 3> = Forward::of(&chain.weights);
            let logarithms: Forward<Logarithm, 8, 3> = Forward::of(&chain.weights);
            for odd in 0..2 {
                let (one, other) = (plain.end(odd).log(), logarithms.end(odd).log());
                assert!((one - other).abs() < 1e-9, "{spread}: {one} {other}");
            }
            let [one, other] = [plain.shares([0.3, 0.7]), logarithms.shares([0.3, 0.7])];
            for (one, other) in one.iter().flatten().zip(other.iter().flatten()) {
                assert!((0..3).all(|turn| (one[turn] - other[turn]).abs() < 1e-9), "{spread}");
            }
        }
    }

    /// Where nothing fits, numbers would be too small; the best arrangement then has it all.
    #[test]
    fn sums_of_what_hardly_is_are_still_sums() {
        let chain = chain(4000.0);
        let sums = Sums::of(&chain);
        assert!(matches!(sums.0, Kept::Logarithms(_)));
        for odd in 0..2 {
            assert!((sums.logs()[odd] - chain.best()[odd]).abs() < 0.7);
        }
        let shares = sums.marginals([1.0, 0.0]);
        for (slot, (piece, turn)) in chain.best_arrangement(0).into_iter().enumerate() {
            assert!(shares[slot][piece][turn] > 0.5, "{slot}");
        }
    }
}
