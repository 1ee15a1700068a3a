//! Equations for a step of what a camera's light has done, by what is known beforehand and by
//! what is seen.

use dryturn_geometry::{DMat3, DVec3};
use dryturn_numerics::Cholesky;

use super::beforehand::Beforehand;
use super::light::{COLOURS, Change};

/// Equations for a step of the unknowns of a camera (Gauss and Newton).
pub(super) struct Equations {
    blocks: usize,
    matrix: Vec<f64>,
    right: Vec<f64>,
}

impl Equations {
    /// Of what is known beforehand, at a change.
    pub(super) fn of(known: &Beforehand, change: &Change, blocks: usize) -> Self {
        let n = 3 * blocks;
        let mut equations = Self { blocks, matrix: vec![0.0; n * n], right: vec![0.0; n] };
        known.colours.add_to(&change.of[..COLOURS], &mut equations.matrix, &mut equations.right);
        for (block, own) in change.of.iter().enumerate().take(blocks).skip(COLOURS) {
            let precision = known.other(block).0;
            equations.add(&[(block, 1.0)], precision, -(precision * *own));
        }
        if let Some((shown, precision)) = known.patch {
            let off = shown - change.of_colours(&known.colours);
            let parts: [(usize, f64); COLOURS] =
                core::array::from_fn(|c| (c, known.colours.neutral_share(c)));
            equations.add(&parts, precision, precision * off);
        }
        equations
    }

    /// Adds what is known of a sum of blocks: its precision, and how it pulls.
    fn add(&mut self, parts: &[(usize, f64)], precision: DMat3, pull: DVec3) {
        for &(row, part) in parts.iter().filter(|(_, part)| *part != 0.0) {
            self.add_right(row, pull * part);
            for &(column, other) in parts.iter().filter(|&&(k, part)| part != 0.0 && k <= row) {
                self.add_block((row, column), &precision, part * other);
            }
        }
    }

    /// The same of what is seen, of which each channel has its own share of a block.
    pub(super) fn add_by_channel(
        &mut self,
        parts: &[(usize, DVec3)],
        precision: DMat3,
        pull: DVec3,
    ) {
        for &(row, part) in parts {
            self.add_right(row, pull * part);
            for &(column, other) in parts.iter().filter(|&&(k, _)| k <= row) {
                let own = DMat3::from_diagonal(part) * precision * DMat3::from_diagonal(other);
                self.add_block((row, column), &own, 1.0);
            }
        }
    }

    fn add_right(&mut self, row: usize, pull: DVec3) {
        (0..3).for_each(|i| self.right[3 * row + i] += pull[i]);
    }

    fn add_block(&mut self, (row, column): (usize, usize), block: &DMat3, by: f64) {
        let n = 3 * self.blocks;
        for i in 0..3 {
            let at = (3 * row + i) * n + 3 * column;
            (0..3).for_each(|j| self.matrix[at + j] += by * block.col(j)[i]);
        }
    }

    /// The triangle of the precision, with which changes can be drawn.
    pub(super) fn triangle(self) -> Option<Cholesky> {
        Cholesky::of(self.matrix, 3 * self.blocks)
    }

    /// Takes the step; how long its longest part is, and half the logarithm of the
    /// determinant of the precision.
    pub(super) fn step(self, change: &mut Change) -> Option<(f64, f64)> {
        let cholesky = Cholesky::of(self.matrix, 3 * self.blocks)?;
        let found = cholesky.solve(&self.right);
        let mut largest: f64 = 0.0;
        for (block, own) in change.of.iter_mut().enumerate().take(self.blocks) {
            let by = DVec3::from_slice(&found[3 * block..]).clamp(DVec3::splat(-1.0), DVec3::ONE);
            largest = largest.max(by.abs().max_element());
            *own += by;
        }
        change.within_reach();
        Some((largest, 0.5 * cholesky.log_determinant()))
    }
}
