//! Linear least squares with errors for residuals that hang together.
//!
//! Samples of a filtered log are no independent witnesses, and what differs from block to
//! block (a move, a run) is the same within one. Each standard error is the larger of two: by W.
//! K. Newey and K. D. West (Econometrica 55, 1987) for residuals that hang together over a number
//! of samples, and, from three blocks on, by leaving out each block in turn (the jackknife: J. W.
//! Tukey, Ann. Math. Stat. 29, 1958). Both from memory. It is wide rather than narrow: leaving
//! out blocks alone does not see what blurs all blocks alike. Columns are scaled to length one
//! first, and the condition number is that of the scaled columns (M. Gautier and W. Khalil,
//! Int. J. Robotics Research 11, 1992; from memory).

use crate::{Cholesky, condition, dot};

/// Rows that hang together over more lags than twice this are summed in groups first.
const MOST_LAGS: usize = 100;

/// What least squares gives.
#[derive(Clone, Debug, PartialEq)]
pub struct Regression {
    /// One for each column.
    pub values: Vec<f64>,
    /// Standard errors for residuals that hang together.
    pub errors: Vec<f64>,
    /// Of the scaled columns: largest over smallest singular value.
    pub condition_ratio: f64,
    /// What is left of each row.
    pub residuals: Vec<f64>,
}

/// The combination of `columns` that comes nearest to `target`. `blocks` are the numbers of rows
/// of independent blocks, one after the other; residuals of a block hang together over `lags`
/// rows. `None` where the columns leave it open, or there are no more rows than columns.
///
/// # Panics
/// If columns, target and blocks have different lengths.
#[must_use]
pub fn regression(
    columns: &[Vec<f64>],
    target: &[f64],
    blocks: &[usize],
    lags: usize,
) -> Option<Regression> {
    let (size, rows) = (columns.len(), target.len());
    assert!(columns.iter().all(|column| column.len() == rows), "columns of different lengths");
    assert_eq!(blocks.iter().sum::<usize>(), rows, "blocks of another length");
    let lengths: Vec<f64> =
        columns.iter().map(|column| column.iter().map(|v| v * v).sum::<f64>().sqrt()).collect();
    if rows <= size || lengths.iter().any(|length| *length <= 0.0) {
        return None;
    }
    let scaled: Vec<Vec<f64>> = columns
        .iter()
        .zip(&lengths)
        .map(|(column, length)| column.iter().map(|v| v / length).collect())
        .collect();
    let mut normal = vec![0.0; size * size];
    for i in 0..size {
        for j in 0..size {
            normal[i * size + j] = dot(&scaled[i], &scaled[j]);
        }
    }
    let condition_ratio = condition(&normal, size);
    let cholesky = Cholesky::of(normal, size)?;
    let right: Vec<f64> = scaled.iter().map(|column| dot(column, target)).collect();
    let solution = cholesky.solve(&right);
    let residuals: Vec<f64> = (0..rows)
        .map(|row| target[row] - (0..size).map(|k| scaled[k][row] * solution[k]).sum::<f64>())
        .collect();
    // Each row's part of the gradient.
    let parts: Vec<Vec<f64>> = scaled
        .iter()
        .map(|column| column.iter().zip(&residuals).map(|(a, b)| a * b).collect())
        .collect();
    let free = rows as f64 / (rows - size) as f64;
    let group = (lags / MOST_LAGS).max(1);
    let (sums, of_block) = grouped(&parts, blocks, group);
    let near = sandwich(&cholesky, &newey_west(&sums, &of_block, lags / group, free), size);
    let by_block =
        if blocks.len() > 2 { jackknife(&scaled, target, blocks) } else { vec![0.0; size] };
    let error = |k: usize| near[k].max(by_block[k]).max(0.0).sqrt() / lengths[k];
    Some(Regression {
        values: solution.iter().zip(&lengths).map(|(value, length)| value / length).collect(),
        errors: (0..size).map(error).collect(),
        condition_ratio,
        residuals,
    })
}

/// Variances by bread and filling, `N⁻¹ M N⁻¹`.
fn sandwich(cholesky: &Cholesky, middle: &[f64], size: usize) -> Vec<f64> {
    let variance = |k: usize| {
        let row = cholesky.inverse_column(k);
        (0..size)
            .flat_map(|i| (0..size).map(move |j| (i, j)))
            .map(|(i, j)| row[i] * middle[i * size + j] * row[j])
            .sum()
    };
    (0..size).map(variance).collect()
}

/// Sums of so many neighbours within each block, and the blocks' lengths then.
fn grouped(parts: &[Vec<f64>], blocks: &[usize], group: usize) -> (Vec<Vec<f64>>, Vec<usize>) {
    let sums = |part: &Vec<f64>| {
        let mut from = 0;
        let own = blocks.iter().map(|&block| {
            from += block;
            part[from - block..from].chunks(group).map(|rows| rows.iter().sum())
        });
        own.flatten().collect()
    };
    (parts.iter().map(sums).collect(), blocks.iter().map(|n| n.div_ceil(group)).collect())
}

/// Products of parts up to `lags` apart, with weights that fall evenly to nothing.
fn newey_west(parts: &[Vec<f64>], blocks: &[usize], lags: usize, free: f64) -> Vec<f64> {
    let size = parts.len();
    let mut middle = vec![0.0; size * size];
    let mut from = 0;
    for &block in blocks {
        let to = from + block;
        for lag in 0..=lags.min(block.saturating_sub(1)) {
            let weight = free * (1.0 - lag as f64 / (lags as f64 + 1.0));
            for i in 0..size {
                for j in 0..size {
                    let (now, before) = (&parts[i][from + lag..to], &parts[j][from..to - lag]);
                    let sum = dot(now, before);
                    middle[i * size + j] += weight * sum;
                    if lag > 0 {
                        middle[j * size + i] += weight * sum;
                    }
                }
            }
        }
        from = to;
    }
    middle
}

/// Variances from what each block changes; infinite where the others leave it open.
fn jackknife(columns: &[Vec<f64>], target: &[f64], blocks: &[usize]) -> Vec<f64> {
    let size = columns.len();
    // Products of each block by itself: of the columns, then of each with the target.
    let mut from = 0;
    let products = blocks.iter().map(|&block| -> Vec<f64> {
        let own = from..from + block;
        from += block;
        let of = |a: &[f64], b: &[f64]| dot(&a[own.clone()], &b[own.clone()]);
        let pairs = (0..size * size).map(|k| of(&columns[k / size], &columns[k % size]));
        pairs.chain(columns.iter().map(|column| of(column, target))).collect()
    });
    let products: Vec<Vec<f64>> = products.collect();
    let mut without: Vec<Vec<f64>> = Vec::new();
    for out in 0..blocks.len() {
        let others = || products.iter().enumerate().filter(|(block, _)| *block != out);
        let sum = |k: usize| others().map(|(_, own)| own[k]).sum::<f64>();
        let normal: Vec<f64> = (0..size * size).map(sum).collect();
        let Some(cholesky) = Cholesky::of(normal, size) else {
            return vec![f64::INFINITY; size];
        };
        let right: Vec<f64> = (size * size..size * (size + 1)).map(sum).collect();
        without.push(cholesky.solve(&right));
    }
    jackknife_variances(&without, size)
}

/// Variances of `size` numbers from what they come to with each witness in turn left out (the
/// jackknife: J. W. Tukey, Ann. Math. Stat. 29, 1958; from memory). Of fewer than two witnesses 0
/// or no number.
#[must_use]
pub fn jackknife_variances(without: &[impl AsRef<[f64]>], size: usize) -> Vec<f64> {
    let count = without.len() as f64;
    let variance = |k: usize| {
        let values = || without.iter().map(|values| values.as_ref()[k]);
        let mean = values().sum::<f64>() / count;
        let squares = values().map(|value| (value - mean) * (value - mean));
        (count - 1.0) / count * squares.sum::<f64>()
    };
    (0..size).map(variance).collect()
}

/// Half the width of a 95 % interval over the standard error: Student's t at 0.975, from the
/// usual table, for so many degrees of freedom, the witnesses less one (0 as 1; normal from 31
/// on).
#[must_use]
pub fn half_width(freedom: usize) -> f64 {
    const TABLE: [f64; 30] = [
        12.706, 4.303, 3.182, 2.776, 2.571, 2.447, 2.365, 2.306, 2.262, 2.228, 2.201, 2.179, 2.160,
        2.145, 2.131, 2.120, 2.110, 2.101, 2.093, 2.086, 2.080, 2.074, 2.069, 2.064, 2.060, 2.056,
        2.052, 2.048, 2.045, 2.042,
    ];
    TABLE.get(freedom.max(1) - 1).copied().unwrap_or(1.960)
}
