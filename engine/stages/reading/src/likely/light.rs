//! How the light may have changed since the calibration, by camera: how each colour looks now,
//! what each face has besides and how that goes across and down it; where a second light falls
//! on some of the cube only, what that adds there, by face; and, where lamps are mirrored, how
//! strong their veil on each face is and how that goes across and down it. All are logarithms,
//! unknown beforehand and found together with the cube.

use std::sync::Arc;

use dryturn_cube::Facelet;
use dryturn_geometry::{DMat3, DVec3};
use dryturn_units::linear::Cholesky;
use dryturn_units::maths;

use super::prior::{ColourPrior, Moved};
use crate::overlap::Overlap;

/// Blocks of three channels: of the six colours, of the six faces, of the slopes across and
/// down the six faces, of the second light, of that on each face, and of the veil on the six
/// faces and its slopes across and down each.
pub(super) const BLOCKS: usize = 49;
/// Blocks of one light alone, and with the second light.
pub(super) const ONE_LIGHT: usize = 24;
pub(super) const TWO_LIGHTS: usize = 31;
const VEIL_SLOPES: usize = VEIL + FACES;
const COLOURS: usize = 6;
const FACES: usize = 6;
const SLOPES: usize = 12;
const SECOND: usize = ONE_LIGHT;
const SECOND_FACES: usize = SECOND + 1;
const VEIL: usize = TWO_LIGHTS;
/// Standard deviations beforehand, in brightness and in each direction of colour: of a face,
/// of a slope from a face's middle to its rim, of a second light, and of that on a face.
const FACE: [f64; 2] = [0.5, 0.12];
const SLOPE: [f64; 2] = [0.12, 0.04];
/// The same of a light that was added: of a face, and of a slope.
const ADDED: ([f64; 2], [f64; 2]) = ([1.0, 0.12], [0.25, 0.04]);
/// The least that it is taken to add at first, as a logarithm.
const LEAST_ADDED: f64 = 0.1;
const STEP: [f64; 2] = [1.0, 0.35];
const STEP_FACE: [f64; 2] = [0.4, 0.10];
/// Logarithm of a usual veil's light as a multiple of what white throws back there; standard
/// deviations of a face's and of its slopes.
const USUAL_VEIL: f64 = -1.5;
const VEIL_FACE: [f64; 2] = [2.0, 0.08];
const VEIL_SLOPE: [f64; 2] = [1.2, 0.03];
/// How far a camera's change may be from what the grey patch says: the patch is not where
/// the cube is.
const PATCH: [f64; 2] = [0.3, 0.06];

/// Precision of a prior with its own spread in brightness and, in usual channels, in colour.
fn precision(overlap: &Overlap, [brightness, colour]: [f64; 2]) -> DMat3 {
    let together = ((brightness * brightness - colour * colour) / 3.0).sqrt();
    overlap.grey_scatter([together, colour]).inverse()
}

/// The blocks of a face's slopes, which begin so, that a facelet has a part in, and how much:
/// across and down.
fn slopes(begin: usize, facelet: Facelet) -> [(usize, f64); 2] {
    let first = begin + 2 * facelet.face().index();
    [(first, facelet.column() as f64 - 1.0), (first + 1, facelet.row() as f64 - 1.0)]
}

/// The blocks that a facelet and a colour have a part in, and how much.
pub(super) fn blocks(facelet: Facelet, colour: usize) -> [(usize, f64); 4] {
    let [across, down] = slopes(SLOPES, facelet);
    [(colour, 1.0), (FACES + facelet.face().index(), 1.0), across, down]
}

/// The blocks of the second light there.
pub(super) fn second_blocks(facelet: Facelet) -> [(usize, f64); 2] {
    [(SECOND, 1.0), (SECOND_FACES + facelet.face().index(), 1.0)]
}

/// The blocks of a veil there.
pub(super) fn veil_blocks(facelet: Facelet) -> [(usize, f64); 3] {
    let [across, down] = slopes(VEIL_SLOPES, facelet);
    [(VEIL + facelet.face().index(), 1.0), across, down]
}

/// Unknowns of one camera.
#[derive(Clone)]
pub(crate) struct Change {
    of: [DVec3; BLOCKS],
    /// Where a light was added to what there was: by facelet index and colour, how much brighter
    /// it looks in the mean than there. Unknowns are those of the added light then.
    added: Option<Arc<Vec<[DVec3; COLOURS]>>>,
}

impl Change {
    /// All colours alike.
    pub(super) fn all(by: DVec3) -> Self {
        let mut of = [DVec3::ZERO; BLOCKS];
        of[..COLOURS].fill(by);
        Self { of, added: None }
    }

    /// A light that was added and makes colours so much brighter in the mean; `elsewhere` as
    /// [`Appearance::elsewhere`](crate::appearance::Appearance::elsewhere) has it.
    pub(super) fn added(by: DVec3, elsewhere: Arc<Vec<[DVec3; COLOURS]>>) -> Self {
        let much = by.max(DVec3::splat(LEAST_ADDED)).to_array();
        let own = Self::all(DVec3::from_array(much.map(|by| maths::ln(maths::exp(by) - 1.0))));
        Self { added: Some(elsewhere), ..own }
    }

    /// The same with another second light.
    pub(super) fn with_second(&self, step: f64) -> Self {
        let mut change = self.clone();
        change.of[SECOND..].fill(DVec3::ZERO);
        change.of[SECOND] = DVec3::splat(step);
        change
    }

    /// The same with a veil on all faces, this much stronger than a usual one.
    pub(super) fn with_veil(&self, step: f64) -> Self {
        let mut change = self.clone();
        change.of[SECOND..].fill(DVec3::ZERO);
        change.of[VEIL..VEIL + FACES].fill(DVec3::splat(step));
        change
    }

    /// A change drawn about this one, from independent numbers of variance one.
    pub(super) fn drawn(&self, triangle: &Cholesky, normal: &[f64]) -> Self {
        let mut drawn = self.clone();
        for (own, by) in drawn.of.iter_mut().zip(triangle.coloured(normal).chunks_exact(3)) {
            *own += DVec3::from_slice(by);
        }
        drawn
    }

    /// Logarithm of how much brighter a colour is there, and how that goes with the unknowns.
    pub(super) fn gain(&self, facelet: Facelet, colour: usize) -> (DVec3, DVec3) {
        let sum: DVec3 =
            blocks(facelet, colour).into_iter().map(|(k, part)| self.of[k] * part).sum();
        let Some(elsewhere) = &self.added else { return (sum, DVec3::ONE) };
        let added = (sum + elsewhere[facelet.index()][colour]).to_array().map(maths::exp);
        let added = DVec3::from_array(added);
        let gain = DVec3::from_array(added.to_array().map(maths::ln_1p));
        (gain, added / (DVec3::ONE + added))
    }

    pub(super) fn second(&self, facelet: Facelet) -> DVec3 {
        second_blocks(facelet).into_iter().map(|(k, part)| self.of[k] * part).sum()
    }

    /// Logarithm of the veil there as a multiple of what white throws back.
    pub(super) fn veil(&self, facelet: Facelet) -> DVec3 {
        let own = veil_blocks(facelet).into_iter().map(|(k, part)| self.of[k] * part);
        own.sum::<DVec3>() + USUAL_VEIL
    }

    /// What a facelet has of it whatever its colour, colours in the mean.
    pub(super) fn of_place(&self, facelet: Facelet) -> DVec3 {
        (0..COLOURS).map(|c| self.gain(facelet, c).0).sum::<DVec3>() / COLOURS as f64
    }
}

/// What is known of the light of a camera beforehand.
pub(crate) struct Beforehand {
    colours: ColourPrior,
    /// The change that the grey patch shows, and its precision.
    patch: Option<(DVec3, DMat3)>,
    /// Precisions of what a face has, of slopes, of a second light and of that on a face, of a veil
    /// and of its slopes, each with the logarithm of its determinant.
    others: [(DMat3, f64); 6],
}

impl Beforehand {
    /// Of a camera whose channels overlap so and whose grey patch shows such a change.
    pub(crate) fn of(colours: ColourPrior, overlap: &Overlap, patch: Option<DVec3>) -> Self {
        let by = colours.moved().besides();
        let besides = |spread: [f64; 2]| spread.map(|sigma| sigma * by);
        let (face, slope) =
            if colours.moved() == Moved::Added { ADDED } else { (besides(FACE), besides(SLOPE)) };
        let spreads = [face, slope, STEP, STEP_FACE, VEIL_FACE, VEIL_SLOPE];
        let known = spreads.map(|spread| {
            let precision = precision(overlap, spread);
            (precision, maths::ln(precision.determinant()))
        });
        // What the patch shows is not what was added.
        let patch = patch.filter(|_| colours.moved() != Moved::Added);
        let patch = patch.map(|shown| (shown, precision(overlap, PATCH)));
        Self { colours, patch, others: known }
    }

    fn other(&self, block: usize) -> &(DMat3, f64) {
        &self.others[match block {
            FACES..SLOPES => 0,
            SLOPES..SECOND => 1,
            SECOND => 2,
            SECOND_FACES..VEIL => 3,
            VEIL..VEIL_SLOPES => 4,
            _ => 5,
        }]
    }

    /// Logarithm of how probable a change is, up to what all have in common.
    pub(super) fn log_density(&self, change: &Change, blocks: usize) -> f64 {
        let square = |precision: &DMat3, off: DVec3| -0.5 * off.dot(*precision * off);
        let others = change.of[..blocks].iter().enumerate().skip(COLOURS);
        let others: f64 = others.map(|(block, v)| square(&self.other(block).0, *v)).sum();
        let patch = self.patch.as_ref().map_or(0.0, |(shown, precision)| {
            square(precision, *shown - change.of_colours(&self.colours))
        });
        self.colours.log_density(&change.of[..COLOURS]) + others + patch
    }

    /// Half the logarithm of the determinant of the prior's precision.
    pub(super) fn half_log_determinant(&self, blocks: usize) -> f64 {
        let others: f64 = (COLOURS..blocks).map(|block| self.other(block).1).sum();
        0.5 * (self.colours.log_determinant() + others)
    }
}

impl Change {
    /// How neutral things have changed.
    fn of_colours(&self, prior: &ColourPrior) -> DVec3 {
        (0..COLOURS).map(|c| self.of[c] * prior.neutral_share(c)).sum()
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

    /// Adds what is seen of a sum of blocks: its precision, and how it pulls.
    pub(super) fn add(&mut self, parts: &[(usize, f64)], precision: DMat3, pull: DVec3) {
        for &(row, part) in parts.iter().filter(|(_, part)| *part != 0.0) {
            self.add_right(row, pull * part);
            for &(column, other) in parts.iter().filter(|&&(k, part)| part != 0.0 && k <= row) {
                self.add_block((row, column), &precision, part * other);
            }
        }
    }

    /// The same where each channel has its own share of a block.
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
        Some((largest, 0.5 * cholesky.log_determinant()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn elsewhere() -> Arc<Vec<[DVec3; COLOURS]>> {
        let of = |k: usize| DVec3::new(0.3, -0.2, 0.1) * (k as f64 / 27.0 - 1.0);
        Arc::new((0..Facelet::COUNT).map(|k| [of(k); COLOURS]).collect())
    }

    /// Light that is added is a sum: twice as much where as much again was added, wherever the
    /// place is as bright as all are in the mean.
    #[test]
    fn added_light_is_added() {
        let twice = maths::ln(2.0);
        let change = Change::added(DVec3::splat(twice), elsewhere());
        for facelet in Facelet::all() {
            let brighter = elsewhere()[facelet.index()][0];
            let (gain, _) = change.gain(facelet, 0);
            for k in 0..3 {
                let wanted = maths::ln(1.0 + maths::exp(brighter[k]));
                assert!((gain[k] - wanted).abs() < 1e-12, "{facelet}: {gain}");
            }
        }
    }

    /// How gains go with the unknowns, against what they do when each of them moves a little.
    #[test]
    fn gains_follow_their_unknowns() {
        let mut change = Change::added(DVec3::new(0.4, 0.9, 1.7), elsewhere());
        for (k, own) in change.of[..ONE_LIGHT].iter_mut().enumerate() {
            *own += DVec3::new(0.1, -0.2, 0.15) * (k % 5) as f64;
        }
        for facelet in Facelet::all().step_by(5) {
            let (gain, follows) = change.gain(facelet, 2);
            for (block, part) in blocks(facelet, 2) {
                let mut moved = change.clone();
                moved.of[block] += DVec3::splat(1e-6);
                let slope = (moved.gain(facelet, 2).0 - gain) * 1e6;
                assert!((slope - follows * part).abs().max_element() < 1e-4, "{facelet} {block}");
            }
        }
    }
}
