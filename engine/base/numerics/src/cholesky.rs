//! Systems of linear equations with a symmetric positive definite matrix.

use dryturn_units::maths;

/// The inner product of two lists, summed from the first on; what one has beyond the other's
/// length does not count.
#[must_use]
pub fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

/// The lower triangle whose product with its transpose is the matrix (A.-L. Cholesky 1910).
#[derive(Clone, Debug)]
pub struct Cholesky {
    size: usize,
    /// Row-major; what is above the diagonal is not looked at.
    lower: Vec<f64>,
}

impl Cholesky {
    /// Of a matrix, row-major, `size · size` values of which those above the diagonal are
    /// not looked at; `None` where it is not positive definite.
    ///
    /// # Panics
    /// If there are not `size · size` values.
    #[must_use]
    pub fn of(mut matrix: Vec<f64>, size: usize) -> Option<Self> {
        assert_eq!(matrix.len(), size * size);
        for i in 0..size {
            for j in 0..=i {
                let sum: f64 = (0..j).map(|k| matrix[i * size + k] * matrix[j * size + k]).sum();
                let rest = matrix[i * size + j] - sum;
                matrix[i * size + j] = if i != j {
                    rest / matrix[j * size + j]
                } else if rest > 0.0 {
                    rest.sqrt()
                } else {
                    return None;
                };
            }
        }
        Some(Self { size, lower: matrix })
    }

    /// The solution for a right-hand side.
    ///
    /// # Panics
    /// If the right-hand side has another size than the matrix.
    #[must_use]
    pub fn solve(&self, right: &[f64]) -> Vec<f64> {
        self.coloured(&self.whitened(right))
    }

    /// The first half of solving: the triangle's own solution for a right-hand side. Of errors
    /// with the matrix as covariance it makes independent ones of variance one.
    ///
    /// # Panics
    /// If the right-hand side has another size than the matrix.
    #[must_use]
    pub fn whitened(&self, right: &[f64]) -> Vec<f64> {
        assert_eq!(right.len(), self.size);
        let (n, lower) = (self.size, &self.lower);
        let mut x = right.to_vec();
        for i in 0..n {
            let sum: f64 = (0..i).map(|k| lower[i * n + k] * x[k]).sum();
            x[i] = (x[i] - sum) / lower[i * n + i];
        }
        x
    }

    /// The second half of solving. Of independent errors of variance one it makes errors with
    /// the matrix as precision.
    ///
    /// # Panics
    /// If the right-hand side has another size than the matrix.
    #[must_use]
    pub fn coloured(&self, right: &[f64]) -> Vec<f64> {
        assert_eq!(right.len(), self.size);
        let (n, lower) = (self.size, &self.lower);
        let mut x = right.to_vec();
        for i in (0..n).rev() {
            let sum: f64 = (i + 1..n).map(|k| lower[k * n + i] * x[k]).sum();
            x[i] = (x[i] - sum) / lower[i * n + i];
        }
        x
    }

    /// A column of the matrix's inverse, counted from 0: the solution for a right-hand side that
    /// is 1 there and 0 elsewhere.
    ///
    /// # Panics
    /// If the matrix has no such column.
    #[must_use]
    pub fn inverse_column(&self, k: usize) -> Vec<f64> {
        let mut unit = vec![0.0; self.size];
        unit[k] = 1.0;
        self.solve(&unit)
    }

    /// The matrix's inverse, row-major, column by column of [`Self::inverse_column`]: symmetric
    /// but for rounding.
    #[must_use]
    pub fn inverse(&self) -> Vec<f64> {
        let n = self.size;
        let mut inverse = vec![0.0; n * n];
        for k in 0..n {
            let column = self.inverse_column(k);
            (0..n).for_each(|i| inverse[i * n + k] = column[i]);
        }
        inverse
    }

    /// Natural logarithm of the matrix's determinant.
    #[must_use]
    pub fn log_determinant(&self) -> f64 {
        let diagonal = (0..self.size).map(|i| self.lower[i * self.size + i]);
        2.0 * diagonal.map(maths::ln).sum::<f64>()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn solutions_solve() {
        // A Hilbert matrix of order 4: determinant 1/6048000 (published widely; from
        // memory).
        let hilbert: Vec<f64> = (0..16).map(|i| 1.0 / f64::from(i / 4 + i % 4 + 1)).collect();
        let cholesky = Cholesky::of(hilbert.clone(), 4).unwrap();
        let wanted = [1.0, -2.0, 3.0, 0.5];
        let right: Vec<f64> =
            (0..4).map(|i| (0..4).map(|j| hilbert[4 * i + j] * wanted[j]).sum()).collect();
        let found = cholesky.solve(&right);
        assert!(found.iter().zip(wanted).all(|(a, b)| (a - b).abs() < 1e-10), "{found:?}");
        // Whitened, its length is that of the solution seen through the matrix.
        let square: f64 = cholesky.whitened(&right).iter().map(|v| v * v).sum();
        let seen: f64 = right.iter().zip(wanted).map(|(a, b)| a * b).sum();
        assert!((square - seen).abs() < 1e-10);
        let determinant = maths::exp(cholesky.log_determinant());
        assert!((determinant * 6_048_000.0 - 1.0).abs() < 1e-9);
        assert!(Cholesky::of(vec![1.0, 2.0, 2.0, 1.0], 2).is_none());
    }
}
