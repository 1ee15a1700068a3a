//! What a part of a facelet says of a colour: in the light that is sought, in a second light
//! that falls there, in a brightness of its own, under a lamp's reflection, or as something
//! that nobody expects.

use dryturn_geometry::{DMat3, DVec3};
use dryturn_units::maths;

use super::light::Change;
use crate::appearance::{Appearance, Expected, Seen, Stray};
use crate::classes::together_and_each;

/// Ways to explain a sample: in the light that is sought, in the second light, in a brightness
/// of its own, under a reflection, strange.
pub(super) const WAYS: usize = 5;
/// How often each is so, beforehand, and how many samples that expectation counts for.
const USUAL: [f64; WAYS] = [0.957, 0.02, 0.01, 0.01, 0.003];
const USUAL_WEIGHT: f64 = 25.0;
/// Standard deviations of a brightness of its own, and of its colour.
const OTHER_TOGETHER: f64 = 0.7;
const OTHER_EACH: f64 = 0.10;
/// How much light a reflection may add, as multiples of what white throws back there, and how
/// far each of them reaches.
const GLARES: [f64; 5] = [0.12, 0.35, 1.0, 2.8, 8.0];
const GLARE_TOGETHER: f64 = 0.4;
const GLARE_EACH: f64 = 0.10;
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
    /// Precision and pull of the logarithm of the light in the first and in the second light.
    pub(super) first: (DMat3, DVec3),
    pub(super) second: (DMat3, DVec3),
}

impl Told {
    const NOTHING: Self = Self {
        log: 0.0,
        distance2: 0.0,
        shares: [1.0, 0.0, 0.0, 0.0, 0.0],
        first: (DMat3::ZERO, DVec3::ZERO),
        second: (DMat3::ZERO, DVec3::ZERO),
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

/// What a part says of a colour; `white` is the colour that throws back most.
pub(super) fn told(
    looks: &Appearance,
    seen: &Seen,
    (colour, white): (usize, usize),
    change: &Change,
    (wider, second, rates): (f64, bool, &Rates),
    stray: Stray,
) -> Told {
    let gain = change.gain(seen.facelet, colour);
    let Some(expected) = looks.expected(seen, (colour, stray), gain) else { return Told::NOTHING };
    let Some(plain) = way(seen, &expected, wider, true) else { return Told::NOTHING };
    let log_of = |way: usize, log: f64| maths::ln(rates.0[way]) + log;
    let plainly = log_of(0, plain.log);
    if !second && plain.distance2 < PLAINLY {
        return Told {
            log: plainly,
            distance2: plain.distance2,
            first: (plain.precision, plain.pull),
            ..Told::NOTHING
        };
    }
    let stepped = second.then(|| {
        let gain = gain + change.second(seen.facelet);
        way(seen, &looks.expected(seen, (colour, stray), gain)?, wider, true)
    });
    let stepped = stepped.flatten();
    let spread = looks.spread(colour, stray);
    let own = spread + together_and_each(OTHER_TOGETHER, OTHER_EACH);
    let other = way(seen, &looks.showing(seen, &own, expected.light), wider, false);
    // A lamp's reflection adds light of about the colour that white has.
    let white = looks.expected(seen, (white, stray), change.gain(seen.facelet, white));
    let glare = white.map_or(f64::NEG_INFINITY, |white| {
        let of = |times: f64| {
            let spread = spread + together_and_each(GLARE_TOGETHER, GLARE_EACH);
            let shown = looks.showing(seen, &spread, expected.light + white.light * times);
            way(seen, &shown, wider, false).map_or(f64::NEG_INFINITY, |way| way.log)
        };
        log_sum(&GLARES.map(of)) - maths::ln(GLARES.len() as f64)
    });
    let dims = seen.open() as f64;
    let logs = [
        plainly,
        stepped.as_ref().map_or(f64::NEG_INFINITY, |way| log_of(1, way.log)),
        other.as_ref().map_or(f64::NEG_INFINITY, |way| log_of(2, way.log)),
        log_of(3, glare),
        log_of(4, -dims * maths::ln(STRANGE_REACH)),
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
    if let Some(stepped) = stepped {
        found.distance2 = found.distance2.min(stepped.distance2);
        found.second = (stepped.precision * shares[1], stepped.pull * shares[1]);
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
