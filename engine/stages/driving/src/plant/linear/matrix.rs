//! Small matrices and their exponential.

/// Row by row.
pub(super) type Matrix<const N: usize> = [[f64; N]; N];

/// A matrix times a vector.
pub(super) fn times<const N: usize>(matrix: &Matrix<N>, x: &[f64; N]) -> [f64; N] {
    matrix.map(|row| row.iter().zip(x).map(|(a, b)| a * b).sum())
}

fn product<const N: usize>(a: &Matrix<N>, b: &Matrix<N>) -> Matrix<N> {
    a.map(|row| core::array::from_fn(|j| (0..N).map(|k| row[k] * b[k][j]).sum()))
}

/// `exp(A t)` of a time of 0 or more: a Taylor series of `A t / 2^s`, then squared `s` times.
pub(super) fn exponential<const N: usize>(rates: &Matrix<N>, time_s: f64) -> Matrix<N> {
    let widest = |m: &Matrix<N>| {
        m.iter().map(|row| row.iter().map(|x| x.abs()).sum::<f64>()).fold(0.0, f64::max)
    };
    let (mut halvings, mut part) = (0, rates.map(|row| row.map(|x| x * time_s)));
    while widest(&part) > 0.5 && halvings < 1000 {
        part = part.map(|row| row.map(|x| 0.5 * x));
        halvings += 1;
    }
    let mut sum: Matrix<N> =
        core::array::from_fn(|i| core::array::from_fn(|j| f64::from(u8::from(i == j))));
    let mut term = sum;
    // 0.5^16 / 16! is below what a double holds.
    for order in 1..=16 {
        term = product(&term, &part).map(|row| row.map(|x| x / f64::from(order)));
        for (row, more) in sum.iter_mut().zip(&term) {
            row.iter_mut().zip(more).for_each(|(x, y)| *x += y);
        }
    }
    (0..halvings).for_each(|_| sum = product(&sum, &sum));
    sum
}

#[cfg(test)]
mod tests {
    use dryturn_units::maths::{cos, exp, sin};

    use super::*;

    /// What turns by an angle a second, and decays.
    #[test]
    fn an_exponential_turns_and_decays() {
        let rates = [[-2.0, -300.0], [300.0, -2.0]];
        for time_s in [0.0_f64, 1e-6, 0.01, 1.0] {
            let [[cosine, _], [sine, _]] = exponential(&rates, time_s);
            let (angle, size) = (300.0 * time_s, exp(-2.0 * time_s));
            assert!((cosine - size * cos(angle)).abs() < 1e-12, "{cosine} at {time_s}");
            assert!((sine - size * sin(angle)).abs() < 1e-12, "{sine} at {time_s}");
        }
    }
}
