//! How the looks of the six colours change together when the light does.

use dryturn_geometry::{DMat3, DVec3};
use dryturn_numerics::Cholesky;
use dryturn_scene::file::Pigment;

use crate::looks::measured::{OTHERS, RATIO_SPREAD, WHITE, place};
use crate::looks::{Overlap, Stray};

const COLOURS: usize = 6;
const SIZE: usize = 3 * COLOURS;

/// Standard deviation of the brightness that all colours have in common, and of each
/// direction of colour besides what is measured.
const BRIGHTNESS: f64 = 1.2;
const TINT: f64 = 0.15;
/// Standard deviation of what each colour has by itself.
const OWN: f64 = 0.035;
/// What of that is left however much channels overlap.
const OWN_LEFT: f64 = 0.009;
/// Covariance of what a colour has by itself where nobody has seen it before: of two channels,
/// and of one with itself. Makers' colours differ in brightness and in hue.
const OWN_UNKNOWN: [f64; 2] = [0.03, 0.05];

/// How far the spectrum of the light may have moved.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Moved {
    /// Not at all, nor its strength.
    Not,
    /// As lamps age and daylight drifts: a share of what lights differ by.
    Little,
    /// To any other light.
    Far,
    /// Not at all, but any other light was added, which falls on some faces more than on others.
    Added,
    /// Each lamp has its own strength, and hardly another colour.
    Lamps,
    /// Nobody knows what it was before, nor what the colours look like: they are taken for those
    /// of a measured chart.
    Unknown,
}

impl Moved {
    /// Share of the measured covariance.
    fn share(self) -> f64 {
        match self {
            Self::Not => 0.001,
            Self::Lamps => 0.02,
            Self::Little => 0.08,
            Self::Far | Self::Added | Self::Unknown => 1.0,
        }
    }

    /// Logarithm of how probable that is beforehand.
    pub(super) fn log_probability(self) -> f64 {
        match self {
            Self::Not => -0.7,
            Self::Little | Self::Lamps => -1.0,
            Self::Far | Self::Added => -2.3,
            Self::Unknown => 0.0,
        }
    }

    /// How much of what is usual in changed light faces may differ besides.
    pub(super) fn besides(self) -> f64 {
        if matches!(self, Self::Not | Self::Lamps) { 0.12 } else { 1.0 }
    }

    /// How far samples usually stray in such a light.
    pub(super) fn usual_stray(self) -> Stray {
        match self {
            Self::Not | Self::Lamps => Stray::Steady,
            _ => Stray::Changed,
        }
    }
}

/// A normal distribution of the changes of six colours in three channels.
pub(crate) struct ColourPrior {
    /// Row-major, colour by colour, channel by channel.
    precision: Vec<f64>,
    log_determinant: f64,
    neutral: [f64; COLOURS],
    moved: Moved,
}

/// Measured covariance of what two pigments do in two channels.
fn measured(moved: Moved, (a, i): (Pigment, usize), (b, j): (Pigment, usize)) -> f64 {
    let table = if moved == Moved::Unknown { RATIO_SPREAD } else { OTHERS };
    let [red, both, blue] = WHITE;
    let white = [[red, 0.0, both], [0.0; 3], [both, 0.0, blue]][i][j];
    let others = match (place(a), place(b)) {
        (Some(a), Some(b)) => {
            let (row, column) = (3 * a + i, 3 * b + j);
            table[row.max(column)][row.min(column)]
        }
        _ => 0.0,
    };
    white + others
}

impl ColourPrior {
    /// What the colours of a cube do when the light has moved so far, in the channels of a camera
    /// that overlap so.
    pub(crate) fn of(pigments: [Pigment; COLOURS], moved: Moved, overlap: &Overlap) -> Self {
        let besides = moved.besides() * moved.besides();
        // In usual channels.
        let usual = |(a, i): (usize, usize), (b, j): (usize, usize)| {
            let tint = if i == j { TINT * TINT * besides } else { 0.0 };
            let by_itself = match moved {
                Moved::Unknown if a == b => OWN_UNKNOWN[usize::from(i == j)],
                Moved::Unknown => 0.0,
                _ if (a, i) == (b, j) => OWN * OWN,
                _ => 0.0,
            };
            tint + by_itself + measured(moved, (pigments[a], i), (pigments[b], j)) * moved.share()
        };
        let block = |a: usize, b: usize| {
            let own = |j: usize| DVec3::from_array(core::array::from_fn(|i| usual((a, i), (b, j))));
            let usual = DMat3::from_cols(own(0), own(1), own(2));
            overlap.colour(a) * usual * overlap.colour(b).transpose()
        };
        let mut covariance = vec![0.0; SIZE * SIZE];
        for (a, b) in (0..COLOURS * COLOURS).map(|k| (k / COLOURS, k % COLOURS)) {
            let block = block(a, b);
            for (i, j) in (0..9).map(|k| (k / 3, k % 3)) {
                let (row, column) = (3 * a + i, 3 * b + j);
                let left = if row == column { OWN_LEFT * OWN_LEFT } else { 0.0 };
                let brightness = BRIGHTNESS * BRIGHTNESS * besides;
                covariance[row * SIZE + column] = block.col(j)[i] + brightness + left;
            }
        }
        Self::new(&covariance, pigments.map(|pigment| pigment == Pigment::White), moved)
    }

    /// Of a covariance.
    fn new(covariance: &[f64], neutral: [bool; COLOURS], moved: Moved) -> Self {
        let cholesky = Cholesky::of(covariance.to_vec(), SIZE)
            .expect("a covariance that is positive definite");
        let count = neutral.iter().filter(|own| **own).count();
        let share = |own: bool| match (count, own) {
            (0, _) => 1.0 / COLOURS as f64,
            (_, true) => 1.0 / count as f64,
            _ => 0.0,
        };
        Self {
            precision: cholesky.inverse(),
            log_determinant: -cholesky.log_determinant(),
            neutral: neutral.map(share),
            moved,
        }
    }

    /// How much a colour counts for what neutral things do.
    pub(super) fn neutral_share(&self, colour: usize) -> f64 {
        self.neutral[colour]
    }

    /// Logarithm of the determinant of the precision.
    pub(super) fn log_determinant(&self) -> f64 {
        self.log_determinant
    }

    fn pull(&self, change: &[DVec3]) -> [f64; SIZE] {
        let flat: [f64; SIZE] = core::array::from_fn(|i| change[i / 3][i % 3]);
        core::array::from_fn(|i| {
            -(0..SIZE).map(|j| self.precision[i * SIZE + j] * flat[j]).sum::<f64>()
        })
    }

    /// How far the spectrum may have moved.
    pub(super) fn moved(&self) -> Moved {
        self.moved
    }

    /// Logarithm of the density, but for its constant.
    pub(super) fn log_density(&self, change: &[DVec3]) -> f64 {
        let pull = self.pull(change);
        0.5 * (0..SIZE).map(|i| pull[i] * change[i / 3][i % 3]).sum::<f64>()
    }

    /// Adds itself to equations whose first unknowns these are.
    pub(super) fn add_to(&self, change: &[DVec3], matrix: &mut [f64], right: &mut [f64]) {
        let n = right.len();
        for (i, pull) in self.pull(change).into_iter().enumerate() {
            right[i] += pull;
            (0..SIZE).for_each(|j| matrix[i * n + j] += self.precision[i * SIZE + j]);
        }
    }
}
