//! The normal equations of a least-squares problem (C. F. Gauss 1809), gathered equation by
//! equation.

use crate::Cholesky;

/// Sums over equations: of slopes by slopes, and of slopes by what is missing. Solved they give
/// the step that leaves the least sum of squares.
#[derive(Clone, Debug)]
pub struct NormalEquations {
    size: usize,
    /// Row-major; nothing stands above the diagonal.
    matrix: Vec<f64>,
    right: Vec<f64>,
}

impl NormalEquations {
    /// Without any equation, of so many unknowns.
    #[must_use]
    pub fn new(size: usize) -> Self {
        Self { size, matrix: vec![0.0; size * size], right: vec![0.0; size] }
    }

    /// Adds `M` equations at once, the coordinates of one residual. `slopes` say how what is
    /// found changes with each unknown; `missing` is what is wanted less what is found.
    ///
    /// # Panics
    /// If there are more slopes than unknowns.
    pub fn add<const M: usize>(&mut self, slopes: &[[f64; M]], missing: [f64; M]) {
        self.gather(1.0, |slot| slot, slopes, missing);
    }

    /// The same for equations that count `weight` times, 0 or more.
    ///
    /// # Panics
    /// If there are more slopes than unknowns.
    pub fn add_weighted<const M: usize>(
        &mut self,
        weight: f64,
        slopes: &[[f64; M]],
        missing: [f64; M],
    ) {
        self.gather(weight, |slot| slot, slopes, missing);
    }

    /// The same for equations that know some of the unknowns only: their numbers, rising, as
    /// many as there are slopes.
    ///
    /// # Panics
    /// If there are fewer numbers than slopes, or one is no unknown's.
    pub fn add_at<const M: usize>(
        &mut self,
        unknowns: &[usize],
        slopes: &[[f64; M]],
        missing: [f64; M],
    ) {
        self.gather(1.0, |slot| unknowns[slot], slopes, missing);
    }

    fn gather<const M: usize>(
        &mut self,
        weight: f64,
        unknown: impl Fn(usize) -> usize,
        slopes: &[[f64; M]],
        missing: [f64; M],
    ) {
        for (i, slope) in slopes.iter().enumerate() {
            let (row, own) = (unknown(i), slope.map(|slope| weight * slope));
            self.right[row] += product(&own, &missing);
            for (j, other) in slopes[..=i].iter().enumerate() {
                self.matrix[row * self.size + unknown(j)] += product(&own, other);
            }
        }
    }

    /// Draws an unknown towards a value that it is `off` from now (its own less that value),
    /// with a precision: the inverse of a variance.
    ///
    /// # Panics
    /// If there is no such unknown.
    pub fn pull(&mut self, unknown: usize, precision: f64, off: f64) {
        self.matrix[unknown * self.size + unknown] += precision;
        self.right[unknown] -= precision * off;
    }

    /// The matrix's triangle, whose inverse is the covariance of the unknowns for errors of
    /// variance 1; `None` where the equations leave an unknown open.
    #[must_use]
    pub fn triangle(&self) -> Option<Cholesky> {
        Cholesky::of(self.matrix.clone(), self.size)
    }

    /// The least-squares step; `None` where the equations leave an unknown open.
    #[must_use]
    pub fn solved(&self) -> Option<Vec<f64>> {
        Some(self.triangle()?.solve(&self.right))
    }

    /// The step with the diagonal `1 + damping` times as large (D. W. Marquardt 1963), shorter
    /// and nearer to the steepest descent the more it is damped.
    #[must_use]
    pub fn damped(&self, damping: f64) -> Option<Vec<f64>> {
        let mut damped = self.matrix.clone();
        (0..self.size).for_each(|k| damped[k * self.size + k] *= 1.0 + damping);
        Some(Cholesky::of(damped, self.size)?.solve(&self.right))
    }
}

/// An inner product without a zero to begin with.
fn product<const M: usize>(a: &[f64; M], b: &[f64; M]) -> f64 {
    const { assert!(M > 0, "an equation has coordinates") }
    (1..M).fold(a[0] * b[0], |sum, k| sum + a[k] * b[k])
}
