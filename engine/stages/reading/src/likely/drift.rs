//! How the light has changed since the calibration: a gain of each channel that a camera
//! shares, what each face has besides, how that goes up across the face and down it, and
//! what each colour has besides. All are logarithms, unknown beforehand and found together
//! with the cube.

use dryturn_cube::Facelet;
use dryturn_geometry::{DMat3, DVec3};
use dryturn_units::linear::Cholesky;
use dryturn_units::maths;

use crate::appearance::{Appearance, Seen};
use crate::decoder::{Decoded, Evidence, Mounted};

/// Unknowns of a camera: three channels of its own, of six faces, of six colours, and of the
/// slopes across and down the six faces.
const BLOCKS: usize = 25;
const UNKNOWNS: usize = 3 * BLOCKS;
/// Standard deviations beforehand, in brightness and in each direction of colour: of a
/// camera, of a face besides, of a colour besides, and of a slope, from a face's middle to
/// its rim.
const CAMERA: [f64; 2] = [0.8, 0.35];
const FACE: [f64; 2] = [0.5, 0.10];
const COLOUR: [f64; 2] = [0.06, 0.06];
const SLOPE: [f64; 2] = [0.10, 0.03];
/// How far a camera's change may be from what the grey patch says: the patch is not where
/// the cube is.
const PATCH: [f64; 2] = [0.3, 0.06];
/// Degrees of freedom of the distribution (Student's) that samples are taken to have about
/// what is expected: some stray far.
const FREEDOM: f64 = 5.0;
/// Rounds of the fit, and the step of all unknowns at which it has settled.
const MOST_ROUNDS: usize = 14;
const SETTLED: f64 = 0.002;
/// How much wider than they are the classes are taken in the first rounds.
const WIDER: [f64; 3] = [16.0, 4.0, 2.0];

/// A change of the light that explains the samples, and what they then say.
pub(crate) struct Explained {
    pub(crate) mounted: Mounted,
    /// What the samples say of the colours under this change.
    pub(crate) evidence: Evidence,
    /// Logarithms of the gains at each sample, but for what colours have besides.
    pub(crate) gains: Vec<DVec3>,
    /// Logarithm of how probable samples and change are together, up to a constant that
    /// all explanations share.
    pub(crate) weight: f64,
    /// Squared distances of the samples that are not saturated from the best cube's
    /// colours, in standard deviations.
    pub(crate) distances: Vec<f64>,
}

/// Precision of a prior with its own spread in brightness and in colour.
fn prior([brightness, colour]: [f64; 2]) -> DMat3 {
    let along = DVec3::ONE / 3f64.sqrt();
    let outer = DMat3::from_cols(along * along.x, along * along.y, along * along.z);
    let (b, c) = (1.0 / (brightness * brightness), 1.0 / (colour * colour));
    outer * (b - c) + DMat3::from_diagonal(DVec3::splat(c))
}

/// The blocks of unknowns that a facelet and a colour have a part in, and how much.
fn blocks(facelet: Facelet, colour: usize) -> [(usize, f64); 5] {
    let face = facelet.face().index();
    let (across, down) = (facelet.column() as f64 - 1.0, facelet.row() as f64 - 1.0);
    let slope = 13 + 2 * face;
    [(0, 1.0), (1 + face, 1.0), (7 + colour, 1.0), (slope, across), (slope + 1, down)]
}

/// The unknowns of all cameras.
struct Change(Vec<[DVec3; BLOCKS]>);

impl Change {
    fn gain(&self, seen: &Seen, colour: usize) -> DVec3 {
        let own = &self.0[seen.camera];
        blocks(seen.facelet, colour).into_iter().map(|(k, part)| own[k] * part).sum()
    }

    /// What a facelet has of it whatever its colour.
    fn of_place(&self, seen: &Seen) -> DVec3 {
        let own = &self.0[seen.camera];
        let parts = blocks(seen.facelet, 0).into_iter().filter(|(k, _)| !COLOURS.contains(k));
        parts.map(|(k, part)| own[k] * part).sum()
    }
}

/// Blocks of the colours.
const COLOURS: core::ops::Range<usize> = 7..13;

/// Precision of the prior of a block.
fn prior_of(block: usize) -> DMat3 {
    prior(match block {
        0 => CAMERA,
        1..=6 => FACE,
        7..=12 => COLOUR,
        _ => SLOPE,
    })
}

/// Log-likelihood of a squared distance, but for what all have in common.
fn log_likelihood(distance2: f64, log_determinant: f64) -> f64 {
    -0.5 * log_determinant - 0.5 * (FREEDOM + 3.0) * maths::ln_1p(distance2 / FREEDOM)
}

/// What the samples say of the colours under a change, with classes `wider` as wide.
fn evidence(looks: &Appearance, seen: &[Seen], change: &Change, wider: f64) -> Evidence {
    let mut evidence = Evidence::none();
    for sample in seen {
        let own = core::array::from_fn(|colour| {
            let gain = change.gain(sample, colour);
            looks.expected(sample, colour, gain).map_or(0.0, |expected| {
                let distance2 = expected.normal.distance2(sample.log) / (wider * wider);
                log_likelihood(distance2, expected.normal.log_determinant)
            })
        });
        evidence.set(sample.facelet, own);
    }
    evidence
}

/// All that a change of the light is sought in.
pub(crate) struct Search<'a> {
    pub(crate) looks: &'a Appearance,
    pub(crate) seen: &'a [Seen],
    /// By camera: the change that the grey patch shows.
    pub(crate) patch: &'a [Option<DVec3>],
    /// The most probable cube of some evidence.
    pub(crate) decode: fn(&Evidence) -> Mounted,
}

/// One step of the unknowns of a camera (Gauss and Newton), given how probable each colour
/// is at each facelet; also the logarithm of the determinant of their precision.
fn step(
    &Search { looks, seen, patch, .. }: &Search<'_>,
    change: &mut Change,
    camera: usize,
    (decoded, wider): (&Decoded, f64),
) -> (f64, f64) {
    let mut matrix = vec![0.0; UNKNOWNS * UNKNOWNS];
    let mut right = vec![0.0; UNKNOWNS];
    let mut add = |row: usize, column: usize, block: DMat3| {
        for i in 0..3 {
            for j in 0..3 {
                matrix[(3 * row + i) * UNKNOWNS + 3 * column + j] += block.col(j)[i];
            }
        }
    };
    for (block, own) in change.0[camera].iter().enumerate() {
        let precision = prior_of(block);
        add(block, block, precision);
        let pull = precision * *own;
        (0..3).for_each(|i| right[3 * block + i] -= pull[i]);
    }
    if let Some(shown) = patch[camera] {
        let precision = prior(PATCH);
        add(0, 0, precision);
        let pull = precision * (shown - change.0[camera][0]);
        (0..3).for_each(|i| right[i] += pull[i]);
    }
    for sample in seen.iter().filter(|sample| sample.camera == camera) {
        for colour in 0..6 {
            let probability = decoded.facelets[sample.facelet.index()][colour];
            if probability < 1e-4 {
                continue;
            }
            let gain = change.gain(sample, colour);
            let Some(expected) = looks.expected(sample, colour, gain) else { continue };
            let off = sample.log - expected.normal.mean;
            let distance2 = expected.normal.distance2(sample.log) / (wider * wider);
            let weight = probability * (FREEDOM + 3.0) / (FREEDOM + distance2) / (wider * wider);
            let slope = DMat3::from_diagonal(expected.slope);
            let pulled = slope * expected.normal.precision * weight;
            let (block, pull) = (pulled * slope, pulled * off);
            let blocks = blocks(sample.facelet, colour);
            for (row, part) in blocks.into_iter().filter(|(_, part)| *part != 0.0) {
                (0..3).for_each(|i| right[3 * row + i] += part * pull[i]);
                for (column, other) in blocks.into_iter().filter(|(_, part)| *part != 0.0) {
                    add(row, column, block * (part * other));
                }
            }
        }
    }
    let Some(cholesky) = Cholesky::of(matrix, UNKNOWNS) else { return (0.0, 0.0) };
    let found = cholesky.solve(&right);
    let mut largest: f64 = 0.0;
    for (block, own) in change.0[camera].iter_mut().enumerate() {
        let by = DVec3::from_slice(&found[3 * block..]).clamp(DVec3::splat(-1.0), DVec3::ONE);
        largest = largest.max(by.abs().max_element());
        *own += by;
    }
    (largest, cholesky.log_determinant())
}

/// Follows a change of the light from a start to where it explains the samples best.
pub(crate) fn explain(search: &Search<'_>, start: &[DVec3]) -> Explained {
    let &Search { looks, seen, patch, decode } = search;
    let cameras = start.len();
    let mut change = Change(vec![[DVec3::ZERO; BLOCKS]; cameras]);
    change.0.iter_mut().zip(start).for_each(|(own, start)| own[0] = *start);
    let mut log_determinants = 0.0;
    for round in 0..MOST_ROUNDS {
        let wider = WIDER.get(round).copied().unwrap_or(1.0);
        let decoded = decode(&evidence(looks, seen, &change, wider)).decoded;
        let steps: Vec<(f64, f64)> = (0..cameras)
            .map(|camera| step(search, &mut change, camera, (&decoded, wider)))
            .collect();
        log_determinants = steps.iter().map(|step| step.1).sum();
        let largest = steps.iter().map(|step| step.0).fold(0.0, f64::max);
        if wider == 1.0 && largest < SETTLED {
            break;
        }
    }
    let evidence = evidence(looks, seen, &change, 1.0);
    let mounted = decode(&evidence);
    let square = |precision: DMat3, off: DVec3| -0.5 * off.dot(precision * off);
    let of_camera = |(own, shown): (&[DVec3; BLOCKS], &Option<DVec3>)| {
        let blocks = own.iter().enumerate().map(|(block, v)| square(prior_of(block), *v));
        blocks.sum::<f64>() + shown.map_or(0.0, |shown| square(prior(PATCH), shown - own[0]))
    };
    let prior: f64 = change.0.iter().zip(patch).map(of_camera).sum();
    let colours = mounted.decoded.best.state.colours();
    let distances = seen
        .iter()
        .filter(|sample| !sample.saturated)
        .map(|sample| {
            let colour = mounted.centres[colours[sample.facelet.index()].index()].index();
            let gain = change.gain(sample, colour);
            looks.expected(sample, colour, gain).map_or(0.0, |e| e.normal.distance2(sample.log))
        })
        .collect();
    let weight = mounted.decoded.log_total + prior - 0.5 * log_determinants;
    let gains = seen.iter().map(|sample| change.of_place(sample)).collect();
    Explained { gains, mounted, evidence, weight, distances }
}

/// The change of the light that brings the mean of a camera's samples to the mean of all
/// colours at those places.
pub(crate) fn grey_world(looks: &Appearance, seen: &[Seen], camera: usize) -> DVec3 {
    let own = seen.iter().filter(|sample| sample.camera == camera);
    let off = own.filter_map(|sample| Some(sample.log - looks.middle(sample.facelet)?));
    let (sum, count) = off.fold((DVec3::ZERO, 0.0), |(sum, n), off| (sum + off, n + 1.0));
    sum / f64::max(count, 1.0)
}
