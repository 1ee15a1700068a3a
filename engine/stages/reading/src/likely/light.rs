//! How the light may have changed since the calibration, by camera: how each colour looks now,
//! what each face has besides and how that goes across and down it; and, where a second light
//! falls on some of the cube only, what that adds there, by face. All are logarithms, unknown
//! beforehand and found together with the cube.

use dryturn_cube::Facelet;
use dryturn_geometry::{DMat3, DVec3};
use dryturn_units::linear::Cholesky;
use dryturn_units::maths;

use super::prior::ColourPrior;
use crate::classes::outer;

/// Blocks of three channels: of the six colours, of the six faces, of the slopes across and
/// down the six faces, of the second light, and of that on each face.
pub(super) const BLOCKS: usize = 31;
/// Blocks without the second light.
pub(super) const ONE_LIGHT: usize = 24;
const COLOURS: usize = 6;
const FACES: usize = 6;
const SLOPES: usize = 12;
const SECOND: usize = 24;
/// Standard deviations beforehand, in brightness and in each direction of colour: of a face,
/// of a slope from a face's middle to its rim, of a second light, and of that on a face.
const FACE: [f64; 2] = [0.5, 0.12];
const SLOPE: [f64; 2] = [0.12, 0.04];
const STEP: [f64; 2] = [1.0, 0.35];
const STEP_FACE: [f64; 2] = [0.4, 0.10];
/// How far a camera's change may be from what the grey patch says: the patch is not where
/// the cube is.
const PATCH: [f64; 2] = [0.3, 0.06];

/// Precision of a prior with its own spread in brightness and in colour.
fn precision([brightness, colour]: [f64; 2]) -> DMat3 {
    let grey = outer(DVec3::ONE / 3f64.sqrt(), 1.0);
    let (b, c) = (1.0 / (brightness * brightness), 1.0 / (colour * colour));
    grey * (b - c) + DMat3::from_diagonal(DVec3::splat(c))
}

/// The blocks that a facelet and a colour have a part in, and how much.
pub(super) fn blocks(facelet: Facelet, colour: usize) -> [(usize, f64); 4] {
    let face = facelet.face().index();
    let (across, down) = (facelet.column() as f64 - 1.0, facelet.row() as f64 - 1.0);
    let slope = SLOPES + 2 * face;
    [(colour, 1.0), (FACES + face, 1.0), (slope, across), (slope + 1, down)]
}

/// The blocks of the second light there.
pub(super) fn second_blocks(facelet: Facelet) -> [(usize, f64); 2] {
    [(SECOND, 1.0), (SECOND + 1 + facelet.face().index(), 1.0)]
}

/// Unknowns of one camera.
#[derive(Clone)]
pub(crate) struct Change(pub(super) [DVec3; BLOCKS]);

impl Change {
    /// All colours alike.
    pub(super) fn all(by: DVec3) -> Self {
        let mut change = Self([DVec3::ZERO; BLOCKS]);
        change.0[..COLOURS].fill(by);
        change
    }

    /// The same with another second light.
    pub(super) fn with_second(&self, step: f64) -> Self {
        let mut change = self.clone();
        change.0[SECOND..].fill(DVec3::ZERO);
        change.0[SECOND] = DVec3::splat(step);
        change
    }

    /// A change drawn about this one, from independent numbers of variance one.
    pub(super) fn drawn(&self, triangle: &Cholesky, normal: &[f64]) -> Self {
        let mut drawn = self.clone();
        for (own, by) in drawn.0.iter_mut().zip(triangle.coloured(normal).chunks_exact(3)) {
            *own += DVec3::from_slice(by);
        }
        drawn
    }

    pub(super) fn gain(&self, facelet: Facelet, colour: usize) -> DVec3 {
        blocks(facelet, colour).into_iter().map(|(k, part)| self.0[k] * part).sum()
    }

    pub(super) fn second(&self, facelet: Facelet) -> DVec3 {
        second_blocks(facelet).into_iter().map(|(k, part)| self.0[k] * part).sum()
    }

    /// What a facelet has of it whatever its colour, colours in the mean.
    pub(super) fn of_place(&self, facelet: Facelet) -> DVec3 {
        let colours = self.0[..COLOURS].iter().sum::<DVec3>() / COLOURS as f64;
        self.gain(facelet, 0) - self.0[0] + colours
    }
}

/// What is known of the light of a camera beforehand.
pub(crate) struct Beforehand<'a> {
    pub(super) colours: &'a ColourPrior,
    /// The change that the grey patch shows.
    pub(super) patch: Option<DVec3>,
}

impl Beforehand<'_> {
    fn other(&self, block: usize) -> DMat3 {
        let by = self.colours.moved().besides();
        let spread = match block {
            FACES..SLOPES => FACE,
            SLOPES..SECOND => SLOPE,
            SECOND => STEP,
            _ => STEP_FACE,
        };
        precision(if block < SECOND { spread.map(|sigma| sigma * by) } else { spread })
    }

    /// Logarithm of how probable a change is, up to what all have in common.
    pub(super) fn log_density(&self, change: &Change, blocks: usize) -> f64 {
        let square = |precision: DMat3, off: DVec3| -0.5 * off.dot(precision * off);
        let others = change.0[..blocks].iter().enumerate().skip(COLOURS);
        let others: f64 = others.map(|(block, v)| square(self.other(block), *v)).sum();
        let patch = self
            .patch
            .map_or(0.0, |shown| square(precision(PATCH), shown - change.of_colours(self.colours)));
        self.colours.log_density(&change.0[..COLOURS]) + others + patch
    }

    /// Half the logarithm of the determinant of the prior's precision.
    pub(super) fn half_log_determinant(&self, blocks: usize) -> f64 {
        let others = (COLOURS..blocks).map(|b| maths::ln(self.other(b).determinant()));
        0.5 * (self.colours.log_determinant() + others.sum::<f64>())
    }
}

impl Change {
    /// How neutral things have changed.
    fn of_colours(&self, prior: &ColourPrior) -> DVec3 {
        (0..COLOURS).map(|c| self.0[c] * prior.neutral_share(c)).sum()
    }
}

/// Equations for a step of the unknowns of a camera (Gauss and Newton).
pub(super) struct Equations {
    blocks: usize,
    matrix: Vec<f64>,
    right: Vec<f64>,
}

impl Equations {
    /// Of what is known beforehand, at a change.
    pub(super) fn of(known: &Beforehand<'_>, change: &Change, blocks: usize) -> Self {
        let n = 3 * blocks;
        let mut equations = Self { blocks, matrix: vec![0.0; n * n], right: vec![0.0; n] };
        known.colours.add_to(&change.0[..COLOURS], &mut equations.matrix, &mut equations.right);
        for (block, own) in change.0.iter().enumerate().take(blocks).skip(COLOURS) {
            let precision = known.other(block);
            equations.add(&[(block, 1.0)], precision, -(precision * *own));
        }
        if let Some(shown) = known.patch {
            let off = shown - change.of_colours(known.colours);
            let parts: [(usize, f64); COLOURS] =
                core::array::from_fn(|c| (c, known.colours.neutral_share(c)));
            equations.add(&parts, precision(PATCH), precision(PATCH) * off);
        }
        equations
    }

    /// Adds what is seen of a sum of blocks: its precision, and how it pulls.
    pub(super) fn add(&mut self, parts: &[(usize, f64)], precision: DMat3, pull: DVec3) {
        let n = 3 * self.blocks;
        for &(row, part) in parts.iter().filter(|(_, part)| *part != 0.0) {
            (0..3).for_each(|i| self.right[3 * row + i] += part * pull[i]);
            for &(column, other) in parts.iter().filter(|&&(k, part)| part != 0.0 && k <= row) {
                let by = part * other;
                for i in 0..3 {
                    let at = (3 * row + i) * n + 3 * column;
                    (0..3).for_each(|j| self.matrix[at + j] += by * precision.col(j)[i]);
                }
            }
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
        for (block, own) in change.0.iter_mut().enumerate().take(self.blocks) {
            let by = DVec3::from_slice(&found[3 * block..]).clamp(DVec3::splat(-1.0), DVec3::ONE);
            largest = largest.max(by.abs().max_element());
            *own += by;
        }
        Some((largest, 0.5 * cholesky.log_determinant()))
    }
}
