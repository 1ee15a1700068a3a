//! Two equations with two unknowns and a symmetric matrix, in closed form.

/// A symmetric matrix of two rows: `[xx, xy], [xy, yy]`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Symmetric2 {
    /// First row, first column.
    pub xx: f64,
    /// Off the diagonal.
    pub xy: f64,
    /// Second row, second column.
    pub yy: f64,
}

impl Symmetric2 {
    /// `xx · yy − xy²`. Whether it is far enough from 0 is for the caller to say.
    #[must_use]
    pub fn determinant(&self) -> f64 {
        self.xx * self.yy - self.xy * self.xy
    }

    /// The solution for a right-hand side (G. Cramer 1750); not finite where the determinant
    /// is 0.
    #[must_use]
    pub fn solve(&self, [x, y]: [f64; 2]) -> [f64; 2] {
        let determinant = self.determinant();
        [(self.yy * x - self.xy * y) / determinant, (self.xx * y - self.xy * x) / determinant]
    }
}
