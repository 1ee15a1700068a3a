//! Eigenvalues of small symmetric matrices.

/// So many sweeps leave nothing off the diagonal that a double could hold.
const SWEEPS: usize = 30;

/// The eigenvalues of a symmetric matrix, row-major, `size · size` values, in no order: C. G. J.
/// Jacobi's rotations (1846).
///
/// # Panics
/// If there are fewer than `size · size` values.
#[must_use]
pub fn symmetric_eigenvalues(matrix: &[f64], size: usize) -> Vec<f64> {
    let mut a = matrix.to_vec();
    for _ in 0..SWEEPS {
        for p in 0..size {
            for q in p + 1..size {
                let off = a[p * size + q];
                if off.abs() < 1e-300 {
                    continue;
                }
                let theta = (a[q * size + q] - a[p * size + p]) / (2.0 * off);
                let t = theta.signum() / (theta.abs() + (theta * theta + 1.0).sqrt());
                let c = 1.0 / (t * t + 1.0).sqrt();
                let s = t * c;
                for k in 0..size {
                    let (x, y) = (a[k * size + p], a[k * size + q]);
                    (a[k * size + p], a[k * size + q]) = (c * x - s * y, s * x + c * y);
                }
                for k in 0..size {
                    let (x, y) = (a[p * size + k], a[q * size + k]);
                    (a[p * size + k], a[q * size + k]) = (c * x - s * y, s * x + c * y);
                }
            }
        }
    }
    (0..size).map(|k| a[k * size + k]).collect()
}

/// Largest over smallest singular value of some columns, from the matrix of their inner
/// products, row-major: 1 where they are perpendicular and equally long, infinite where one is
/// a combination of the others.
///
/// # Panics
/// If there are fewer than `size · size` products.
#[must_use]
pub fn condition(products: &[f64], size: usize) -> f64 {
    let values = symmetric_eigenvalues(products, size).into_iter();
    let (low, high) = values.fold((f64::INFINITY, 0.0_f64), |(l, h), v| (l.min(v), h.max(v)));
    if low > 0.0 { (high / low).sqrt() } else { f64::INFINITY }
}
