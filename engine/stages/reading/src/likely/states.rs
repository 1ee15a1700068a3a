//! What a part of a facelet says of a colour: in the light that is sought, in a second light
//! that falls there instead or besides, or under a veil on its face, in a brightness of its own, under a lamp's
//! reflection, or as something that nobody expects.

use dryturn_geometry::{DMat3, DVec3};
use dryturn_units::maths;

use super::light::Change;
use crate::looks::{Appearance, Expected, Seen, Stray};

/// Ways to explain a sample: in the light that is sought, in the second light, in a patch of it or under
/// the veil of its face, in a brightness of its own, under a reflection, strange.
pub(super) const WAYS: usize = 5;
/// How often each is so, beforehand, and how many samples that expectation counts for.
const USUAL: [f64; WAYS] = [0.957, 0.02, 0.01, 0.01, 0.003];
const USUAL_WEIGHT: f64 = 25.0;
/// Standard deviations of a brightness of its own, and of its colour.
const OTHER: [f64; 2] = [0.7, 0.10];
/// Standard deviations of what a second light of another spectrum does to a colour besides.
const SECOND: [f64; 2] = [0.05, 0.05];
/// How much light a reflection may add, as multiples of what white throws back there, and how
/// far each of them reaches.
const GLARES: [f64; 6] = [0.04, 0.12, 0.35, 1.0, 2.8, 8.0];
const GLARE: [f64; 2] = [0.4, 0.06];
/// Standard deviations of a veil on a face about what its level and slopes say.
const VEIL: [f64; 2] = [0.3, 0.04];
/// What is strange may be anywhere in so many units of the logarithm of light.
const STRANGE_REACH: f64 = 4.0;
/// Degrees of freedom of the distribution (Student's) that samples are taken to have about
/// what is expected: some stray far.
const FREEDOM: f64 = 5.0;
/// Logarithm of the factor that Student's distribution of so many coordinates has besides the
/// determinant, and the normal one's for each.
const STUDENT: [f64; 4] = [0.0, -0.968_619, -1.837_877, -2.624_175];
const NORMAL: f64 = -0.918_939;
/// A sample nearer than this, in squared standard deviations, is plain.
const PLAINLY: f64 = 9.0;

/// How often each way is so in one scan.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Rates([f64; WAYS]);

impl Rates {
    pub(super) const USUAL: Self = Self(USUAL);

    /// From how much of what was seen each accounts for.
    pub(super) fn of(counts: [f64; WAYS]) -> Self {
        let all = counts.iter().sum::<f64>() + USUAL_WEIGHT;
        Self(core::array::from_fn(|k| (counts[k] + USUAL_WEIGHT * USUAL[k]) / all))
    }

    /// Logarithm of how probable these rates are beforehand (Dirichlet), against the usual.
    pub(super) fn log_density(&self) -> f64 {
        let of = |(rate, usual): (&f64, f64)| USUAL_WEIGHT * usual * maths::ln(rate / usual);
        self.0.iter().zip(USUAL).map(of).sum()
    }
}

/// How a part lies with one colour.
#[derive(Clone, Copy)]
pub(super) struct Told {
    /// Logarithm of its likelihood.
    pub(super) log: f64,
    /// Squared distance from what is expected in the light that is sought, or in the second
    /// where it is nearer, in standard deviations.
    pub(super) distance2: f64,
    /// Share that each way has in it.
    pub(super) shares: [f64; WAYS],
    /// Precision and pull of the logarithm of the light in the first light, and in the second or
    /// under the veil.
    pub(super) first: (DMat3, DVec3),
    pub(super) second: (DMat3, DVec3),
    /// Shares, by channel, that the light that is sought, the second and the veil have in what is
    /// seen.
    pub(super) mixed: Mixed,
}

/// Shares of three lights in their sum, by channel.
type Mixed = [DVec3; 3];

impl Told {
    const NOTHING: Self = Self {
        log: 0.0,
        distance2: 0.0,
        shares: [1.0, 0.0, 0.0, 0.0, 0.0],
        first: (DMat3::ZERO, DVec3::ZERO),
        second: (DMat3::ZERO, DVec3::ZERO),
        mixed: [DVec3::ONE, DVec3::ZERO, DVec3::ZERO],
    };
}

/// One way to explain a sample.
struct Way {
    log: f64,
    distance2: f64,
    precision: DMat3,
    pull: DVec3,
}

/// A sample where so much is expected, `wider` as wide.
fn way(seen: &Seen, expected: &Expected, wider: f64, student: bool) -> Option<Way> {
    let found = seen.censored(expected, wider)?;
    let dims = found.seen as f64;
    let (log, weight) = if student {
        let tail = maths::ln_1p(found.distance2 / FREEDOM);
        let log = STUDENT[found.seen] - 0.5 * (FREEDOM + dims) * tail;
        (log, (FREEDOM + dims) / (FREEDOM + found.distance2))
    } else {
        (NORMAL * dims - 0.5 * found.distance2, 1.0)
    };
    let log = log - 0.5 * found.log_determinant + found.log_bounds;
    let covariance = expected.covariance * (wider * wider);
    let pulled = expected.slope.transpose() * covariance.inverse() * weight;
    Some(Way {
        log,
        distance2: found.distance2 - 2.0 * found.log_bounds,
        precision: pulled * expected.slope,
        pull: pulled * (found.expected - expected.mean),
    })
}

/// What there is besides the light that is sought.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Besides {
    Nothing,
    /// A second light on some of the cube.
    Light,
    /// A light on some of the cube that was added to what there was.
    Patch,
    /// Lamps that are mirrored on whole faces, more and less across them.
    Veil,
    /// A light on some of the cube that was added, and is mirrored on its faces too.
    Gleam,
}

impl Besides {
    /// Whether there is a second light, and whether there is a veil.
    pub(super) fn has(self) -> [bool; 2] {
        match self {
            Self::Nothing => [false, false],
            Self::Light | Self::Patch => [true, false],
            Self::Veil => [false, true],
            Self::Gleam => [true, true],
        }
    }
}

/// A light, and how far its logarithm strays.
type Strays = (DVec3, DMat3);

/// In what light a part is looked at.
pub(super) struct Given<'a> {
    pub(super) change: &'a Change,
    /// How much wider than they are the classes are taken.
    pub(super) wider: f64,
    pub(super) besides: Besides,
    /// Logarithm of how much brighter the colour looks in the mean than there.
    pub(super) elsewhere: DVec3,
    pub(super) rates: &'a Rates,
    pub(super) stray: Stray,
}

/// A part where lights were added to what is expected: a second one, and what is mirrored there.
fn sum_of(
    looks: &Appearance,
    seen: &Seen,
    (expected, spread): (&Expected, &DMat3),
    added: [Option<Strays>; 2],
    given: &Given<'_>,
    student: bool,
) -> Option<(Way, Mixed)> {
    let lights = || core::iter::once((expected.light, *spread)).chain(added.into_iter().flatten());
    let light = lights().map(|own| own.0).sum::<DVec3>().max(DVec3::splat(1e-9));
    let [second, veil] = added.map(|own| own.map_or(DVec3::ZERO, |own| own.0));
    let mixed = [expected.light, second, veil].map(|own| own / light);
    let spread = lights().fold(DMat3::ZERO, |sum, (own, spread)| {
        let share = DMat3::from_diagonal(own / light);
        sum + share * spread * share
    });
    let shown = looks.showing(seen, (&spread, given.stray), light);
    Some((way(seen, &shown, given.wider, student)?, mixed))
}

/// What a part says of a colour; `white` is the colour that throws back most.
pub(super) fn told(
    looks: &Appearance,
    seen: &Seen,
    (colour, white): (usize, usize),
    given: &Given<'_>,
) -> Told {
    let &Given { change, wider, besides, elsewhere, rates, stray } = given;
    let gain = change.gain(seen.facelet, colour);
    let Some(expected) = looks.expected(seen, (colour, stray), gain) else { return Told::NOTHING };
    let Some(plain) = way(seen, &expected, wider, true) else { return Told::NOTHING };
    let log_of = |way: usize, log: f64| maths::ln(rates.0[way]) + log;
    let plainly = log_of(0, plain.log);
    if besides == Besides::Nothing && plain.distance2 < PLAINLY {
        return Told {
            log: plainly,
            distance2: plain.distance2,
            first: (plain.precision, plain.pull),
            ..Told::NOTHING
        };
    }
    let (spread, overlap) = (looks.spread(seen.camera, colour, stray), looks.overlap(seen.camera));
    // A lamp's reflection adds light of about the colour that white has.
    let white = looks.light(seen, white, change.gain(seen.facelet, white));
    let stepped = || {
        let gain = gain + change.second(seen.facelet);
        let light = looks.light(seen, colour, gain)?;
        let spread = spread + overlap.scatter(colour, SECOND);
        way(seen, &looks.showing(seen, (&spread, stray), light), wider, true)
    };
    let veil = || {
        let veil = DVec3::from_array(change.veil(seen.facelet).to_array().map(maths::exp));
        Some((white? * veil, overlap.grey_scatter(VEIL)))
    };
    let patch = || {
        let light = looks.light(seen, colour, elsewhere + change.second(seen.facelet))?;
        Some((light, spread + overlap.scatter(colour, SECOND)))
    };
    let sum = |added, student| sum_of(looks, seen, (&expected, &spread), added, given, student);
    let in_second = || match besides {
        Besides::Nothing => None,
        // Both lights are multiples of the same.
        Besides::Light => stepped().map(|way| (way, [DVec3::ONE, DVec3::ONE, DVec3::ZERO])),
        Besides::Patch => sum([Some(patch()?), None], true),
        Besides::Veil => sum([None, Some(veil()?)], true),
        Besides::Gleam => sum([Some(patch()?), Some(veil()?)], true),
    };
    let second = in_second();
    let own = spread + overlap.scatter(colour, OTHER);
    let other = way(seen, &looks.showing(seen, (&own, stray), expected.light), wider, false);
    // Its strength is open, and its colour nearly known.
    let glare = white.map_or(f64::NEG_INFINITY, |white| {
        let of = |times: f64| {
            let veil = (white * times, overlap.grey_scatter(GLARE));
            sum([None, Some(veil)], false).map_or(f64::NEG_INFINITY, |(way, _)| way.log)
        };
        log_sum(&GLARES.map(of)) - maths::ln(GLARES.len() as f64)
    });
    let dims = seen.open() as f64;
    let logs = [
        plainly,
        second.as_ref().map_or(f64::NEG_INFINITY, |(way, _)| log_of(1, way.log)),
        other.as_ref().map_or(f64::NEG_INFINITY, |way| log_of(2, way.log)),
        log_of(3, glare),
        log_of(4, -dims * maths::ln(STRANGE_REACH) - looks.log_room(seen)),
    ];
    let log = log_sum(&logs);
    let shares = logs.map(|own| maths::exp(own - log));
    let mut found = Told {
        log,
        distance2: plain.distance2,
        shares,
        first: (plain.precision * shares[0], plain.pull * shares[0]),
        ..Told::NOTHING
    };
    if let Some(other) = other {
        found.first.0 += other.precision * shares[2];
        found.first.1 += other.pull * shares[2];
    }
    if let Some((second, mixed)) = second {
        found.mixed = mixed;
        found.distance2 = found.distance2.min(second.distance2);
        found.second = (second.precision * shares[1], second.pull * shares[1]);
    }
    found
}

/// Logarithm of a sum of exponentials.
pub(super) fn log_sum(logs: &[f64]) -> f64 {
    let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    if most == f64::NEG_INFINITY {
        return most;
    }
    most + maths::ln(logs.iter().map(|log| maths::exp(log - most)).sum())
}

#[cfg(test)]
mod tests;
