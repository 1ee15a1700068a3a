//! Matrices, least squares and the exponential against nalgebra 0.35, which solves the same by
//! other algorithms (its Cholesky apart): random cases, with tolerances relative to what the
//! condition of each case lets one expect of doubles.

use dryturn_numerics::regression::regression;
use dryturn_numerics::{
    Cholesky, Matrix, NormalEquations, Symmetric2, condition, exponential, symmetric_eigenvalues,
    times,
};
use dryturn_units::maths;
use dryturn_units::noise::{Noise, Seed};
use nalgebra::{DMatrix, DVector};

const CASES: u64 = 200;

fn noise(name: &str, case: u64) -> Noise {
    Seed::new(17).stream(name, case, 0)
}

fn random(rows: usize, columns: usize, noise: &mut Noise) -> DMatrix<f64> {
    DMatrix::from_fn(rows, columns, |_, _| noise.gaussian())
}

/// Positive definite, of 1 to 12 rows; row-major is column-major, for it is symmetric.
fn definite(noise: &mut Noise) -> DMatrix<f64> {
    let size = 1 + (noise.uniform() * 12.0) as usize;
    let root = random(size + 2, size, noise);
    root.transpose() * root
}

fn near(found: &[f64], wanted: &[f64], tolerance: f64) {
    assert_eq!(found.len(), wanted.len());
    let scale = wanted.iter().fold(1e-300, |most: f64, value| most.max(value.abs()));
    for (a, b) in found.iter().zip(wanted) {
        assert!((a - b).abs() <= tolerance * scale, "{a} for {b}, of {scale}, within {tolerance}");
    }
}

/// Solutions, inverses and determinants within 1e-14 times the condition of the matrix.
#[test]
fn definite_matrices() {
    for case in 0..CASES {
        let mut noise = noise("definite", case);
        let matrix = definite(&mut noise);
        let size = matrix.nrows();
        let singular = matrix.singular_values();
        let tolerance = 1e-14 * size as f64 * singular.max() / singular.min();
        let right = random(size, 1, &mut noise);
        let ours = Cholesky::of(matrix.as_slice().to_vec(), size).unwrap();
        let lu = matrix.clone().lu();
        near(&ours.solve(right.as_slice()), lu.solve(&right).unwrap().as_slice(), tolerance);
        let inverse = lu.try_inverse().unwrap();
        near(&ours.inverse(), inverse.transpose().as_slice(), tolerance);
        for k in 0..size {
            near(&ours.inverse_column(k), inverse.column(k).as_slice(), tolerance);
        }
        let log = maths::ln(matrix.determinant());
        assert!((ours.log_determinant() - log).abs() <= 1e-13 + tolerance);
        let theirs = matrix.clone().cholesky().unwrap();
        let whitened = theirs.l().solve_lower_triangular(&right).unwrap();
        near(&ours.whitened(right.as_slice()), whitened.as_slice(), tolerance);
        // Not definite once its least eigenvalue is taken away twice.
        let shift = 2.0 * singular.min();
        let less = matrix - DMatrix::identity(size, size) * shift;
        assert!(Cholesky::of(less.as_slice().to_vec(), size).is_none());
    }
}

/// Eigenvalues within 1e-13 of the largest, conditions of columns within 1e-9.
#[test]
fn eigenvalues() {
    for case in 0..CASES {
        let mut noise = noise("eigenvalues", case);
        let size = 1 + (noise.uniform() * 10.0) as usize;
        let half = random(size, size, &mut noise);
        let matrix = &half + half.transpose();
        let mut found = symmetric_eigenvalues(matrix.as_slice(), size);
        let mut wanted = matrix.symmetric_eigenvalues().as_slice().to_vec();
        found.sort_by(f64::total_cmp);
        wanted.sort_by(f64::total_cmp);
        near(&found, &wanted, 1e-13);
        let columns = random(size + 5, size, &mut noise);
        let singular = columns.singular_values();
        let products = columns.transpose() * &columns;
        near(&[condition(products.as_slice(), size)], &[singular.max() / singular.min()], 1e-9);
    }
}

/// Two equations within 1e-14 times their condition.
#[test]
fn two_equations() {
    for case in 0..CASES {
        let mut noise = noise("two", case);
        let [xx, xy, yy] = [0; 3].map(|_| noise.gaussian());
        let matrix = DMatrix::from_row_slice(2, 2, &[xx, xy, xy, yy]);
        let right = random(2, 1, &mut noise);
        let ours = Symmetric2 { xx, xy, yy };
        let singular = matrix.singular_values();
        let tolerance = 1e-14 * singular.max() / singular.min();
        let wanted = matrix.clone().lu().solve(&right).unwrap();
        near(&ours.solve([right[0], right[1]]), wanted.as_slice(), tolerance);
        near(&[ours.determinant()], &[matrix.determinant()], tolerance);
    }
}

/// Weighted equations of two coordinates each, some of which know a few unknowns only, and
/// pulls, against the singular value decomposition of all rows; within 1e-13 times the square of
/// the rows' condition.
#[test]
fn least_squares() {
    for case in 0..CASES {
        let mut noise = noise("least squares", case);
        let size = 2 + (noise.uniform() * 6.0) as usize;
        let mut ours = NormalEquations::new(size);
        let (mut rows, mut wanted): (Vec<f64>, Vec<f64>) = (Vec::new(), Vec::new());
        for k in 0..2 * size {
            let weight = noise.between(0.1, 3.0);
            let known: Vec<usize> = (0..size).filter(|i| k % 3 > 0 || i % 2 == k % 2).collect();
            let slopes: Vec<[f64; 2]> =
                known.iter().map(|_| [noise.gaussian(), noise.gaussian()]).collect();
            let missing = [noise.gaussian(), noise.gaussian()];
            let mut weight_root = 1.0;
            if known.len() < size {
                ours.add_at(&known, &slopes, missing);
            } else if k % 2 == 0 {
                ours.add(&slopes, missing);
            } else {
                ours.add_weighted(weight, &slopes, missing);
                weight_root = weight.sqrt();
            }
            for (coordinate, missing) in missing.into_iter().enumerate() {
                let mut row = vec![0.0; size];
                known.iter().zip(&slopes).for_each(|(&i, s)| row[i] = weight_root * s[coordinate]);
                rows.extend(row);
                wanted.push(weight_root * missing);
            }
        }
        // A value that is off by 0.7, known to a half.
        ours.pull(1, 4.0, 0.7);
        rows.extend((0..size).map(|i| if i == 1 { 2.0 } else { 0.0 }));
        wanted.push(-1.4);
        let matrix = DMatrix::from_row_slice(wanted.len(), size, &rows);
        let right = DVector::from_vec(wanted);
        let svd = matrix.clone().svd(true, true);
        let bound = svd.singular_values.max() / svd.singular_values.min();
        let tolerance = 1e-13 * bound * bound;
        let step = svd.solve(&right, 0.0).unwrap();
        near(&ours.solved().unwrap(), step.as_slice(), tolerance);
        // Damped it is the same problem with other diagonals.
        let mut normal = matrix.transpose() * &matrix;
        (0..size).for_each(|k| normal[(k, k)] *= 1.5);
        let damped = normal.lu().solve(&(matrix.transpose() * &right)).unwrap();
        near(&ours.damped(0.5).unwrap(), damped.as_slice(), tolerance);
        let covariance = (matrix.transpose() * &matrix).try_inverse().unwrap();
        near(&ours.triangle().unwrap().inverse(), covariance.as_slice(), tolerance);
    }
}

/// Exponentials within 1e-12 of their largest value.
#[test]
fn exponentials() {
    for case in 0..CASES {
        let mut noise = noise("exponentials", case);
        let rates: Matrix<4> = [[0.0; 4]; 4].map(|row| row.map(|_| 3.0 * noise.gaussian()));
        let time = noise.between(0.0, 1.5);
        let matrix = DMatrix::from_fn(4, 4, |i, j| rates[i][j] * time);
        let ours = exponential(&rates, time);
        let wanted = matrix.exp();
        near(&ours.concat(), wanted.transpose().as_slice(), 1e-12);
        let start = [0; 4].map(|_| noise.gaussian());
        let state = wanted * DVector::from_row_slice(&start);
        near(&times(&ours, &start), state.as_slice(), 1e-11);
    }
}

/// The values of a regression against the singular value decomposition, within 1e-10.
#[test]
fn regressions() {
    for case in 0..CASES {
        let mut noise = noise("regressions", case);
        let columns = random(60, 4, &mut noise);
        let target = random(60, 1, &mut noise);
        let own: Vec<Vec<f64>> = columns.column_iter().map(|c| c.as_slice().to_vec()).collect();
        let found = regression(&own, target.as_slice(), &[20, 25, 15], 3).unwrap();
        let wanted = columns.clone().svd(true, true).solve(&target, 0.0).unwrap();
        near(&found.values, wanted.as_slice(), 1e-10);
        near(&found.residuals, (&target - &columns * wanted).as_slice(), 1e-10);
    }
}
