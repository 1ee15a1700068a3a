//! What is known of the light of a camera before its picture is looked at.

use dryturn_geometry::{DMat3, DVec3};
use dryturn_units::maths;

use super::light::{COLOURS, Change, FACES, SECOND, SECOND_FACES, SLOPES, VEIL, VEIL_SLOPES};
use super::prior::{ColourPrior, Moved};
use crate::looks::Overlap;

/// Standard deviations beforehand, in brightness and in each direction of colour: of a face,
/// of a slope from a face's middle to its rim, of a second light, and of that on a face.
const FACE: [f64; 2] = [0.5, 0.12];
const SLOPE: [f64; 2] = [0.12, 0.04];
/// The same of a light that was added: of a face, and of a slope.
const ADDED: ([f64; 2], [f64; 2]) = ([1.0, 0.12], [0.25, 0.04]);
/// The same of a face where lamps have changed, and of a lamp.
const LAMPS: ([f64; 2], [f64; 2]) = ([0.06, 0.02], [0.5, 0.03]);
const STEP: [f64; 2] = [1.0, 0.35];
const STEP_FACE: [f64; 2] = [0.4, 0.10];
/// Of a veil on a face and of its slopes.
const VEIL_FACE: [f64; 2] = [2.0, 0.08];
const VEIL_SLOPE: [f64; 2] = [1.2, 0.03];
/// How far a camera's change may be from what the grey patch says: the patch is not where
/// the cube is.
const PATCH: [f64; 2] = [0.3, 0.06];
/// The same where the patch need not change as the colours do.
const PATCH_APART: [f64; 2] = [1.2, 0.3];

/// Precision of a prior with its own spread in brightness and, in usual channels, in colour.
fn precision(overlap: &Overlap, [brightness, colour]: [f64; 2]) -> DMat3 {
    let together = ((brightness * brightness - colour * colour) / 3.0).sqrt();
    overlap.grey_scatter([together, colour]).inverse()
}

/// What is known of the light of a camera beforehand.
pub(crate) struct Beforehand {
    pub(super) colours: ColourPrior,
    /// The change that the grey patch shows, and its precision.
    pub(super) patch: Option<(DVec3, DMat3)>,
    /// Logarithm of how probable what the patch shows is where the colours change as it does, or,
    /// where they need not, in all; but for what all ways to explain the light have in common.
    shown: f64,
    /// Precisions of what a face has, of slopes (or of lamps), of a second light and of that on a
    /// face, of a veil and of its slopes, each with the logarithm of its determinant.
    others: [(DMat3, f64); 6],
}

impl Beforehand {
    /// Of a camera whose channels overlap so and whose grey patch shows such a change.
    pub(crate) fn of(colours: ColourPrior, overlap: &Overlap, patch: Option<DVec3>) -> Self {
        let by = colours.moved().besides();
        let besides = |spread: [f64; 2]| spread.map(|sigma| sigma * by);
        let (face, slope) = match colours.moved() {
            Moved::Added => ADDED,
            Moved::Lamps => LAMPS,
            _ => (besides(FACE), besides(SLOPE)),
        };
        let spreads = [face, slope, STEP, STEP_FACE, VEIL_FACE, VEIL_SLOPE];
        let known = spreads.map(|spread| {
            let precision = precision(overlap, spread);
            (precision, maths::ln(precision.determinant()))
        });
        // What was added, or what each lamp gives, is another matter at the patch than on the cube.
        let apart = matches!(colours.moved(), Moved::Added | Moved::Lamps);
        let spread = precision(overlap, if apart { PATCH_APART } else { PATCH });
        let shown = patch.map_or(0.0, |shown| {
            let best = 0.5 * maths::ln(spread.determinant());
            if apart { best - 0.5 * shown.dot(spread * shown) } else { best }
        });
        let patch = patch.filter(|_| !apart).map(|shown| (shown, spread));
        Self { colours, patch, shown, others: known }
    }

    pub(super) fn other(&self, block: usize) -> &(DMat3, f64) {
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
        self.colours.log_density(&change.of[..COLOURS]) + others + patch + self.shown
    }

    /// Half the logarithm of the determinant of the prior's precision.
    pub(super) fn half_log_determinant(&self, blocks: usize) -> f64 {
        let others: f64 = (COLOURS..blocks).map(|block| self.other(block).1).sum();
        0.5 * (self.colours.log_determinant() + others)
    }
}

impl Change {
    /// How neutral things have changed.
    pub(super) fn of_colours(&self, prior: &ColourPrior) -> DVec3 {
        (0..COLOURS).map(|c| self.of[c] * prior.neutral_share(c)).sum()
    }
}
