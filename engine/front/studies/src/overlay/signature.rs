//! What of a run depends on the drive's figures: of each turn the logarithms of its halves'
//! times, the hand-over before it, and, where currents were logged, its mean current in
//! either half and its highest. Of two runs of one plan the differences are taken turn by
//! turn, and summed up by kind as trimmed means, so that a few turns that were held up by
//! something of their own hardly count.

use dryturn_cube::Amount;
use dryturn_units::maths;

use super::times::{Course, TurnTimes};

/// Measures of a turn.
const KINDS: usize = 6;
/// The first of them are times.
const TIMES: usize = 3;
/// Share of the differences of a kind that is left out at either end.
const TRIMMED_SHARE: f64 = 0.2;
/// Instants at which a mean current, and the highest, is looked at.
const INSTANTS: usize = 24;
/// The highest current is the mean of these parts of the sorted magnitudes: single samples
/// do not make it.
const HIGHEST: [f64; 2] = [0.75, 0.95];
/// What no log tells of the means of a kind: percent of a time, ms, percent of the reference
/// current (assumed; hand-overs end on ticks of the controllers).
const FLOORS: [f64; KINDS] = [0.3, 0.3, 0.04, 0.5, 0.5, 0.5];

/// One measure of one turn.
#[derive(Clone, Copy, Debug)]
pub(super) struct Measure {
    kind: usize,
    value: f64,
}

/// Currents with what they are measured in, A.
pub(super) type Currents<'a> = Option<(&'a [[f64; 6]], f64)>;

/// The measures of turns.
pub(super) fn measures(
    times: &[TurnTimes],
    course: &Course<'_>,
    currents: Currents<'_>,
) -> Vec<Measure> {
    let mut all = Vec::new();
    let mut ended_s = f64::NEG_INFINITY;
    for own in times.chunk_by(|a, b| a.beat == b.beat) {
        for turn in own {
            let [early, middle, late] = turn.at_s;
            let first = if turn.turn.amount == Amount::Half { KINDS } else { 0 };
            let mut put = |kind, value| all.push(Measure { kind: first + kind, value });
            put(0, 100.0 * maths::ln((middle - early).max(1e-6)));
            put(1, 100.0 * maths::ln((late - middle).max(1e-6)));
            if ended_s.is_finite() {
                put(2, 1e3 * (early - ended_s));
            }
            let Some((currents, reference_a)) = currents else { continue };
            let face = turn.turn.face.index();
            let way = 100.0 * turn.turn.amount.angle_deg().signum() / reference_a;
            let between = |from: f64, to: f64| {
                let at = (0..INSTANTS).map(move |k| (k as f64 + 0.5) / INSTANTS as f64);
                at.map(move |share| from + share * (to - from))
            };
            let current = |at: f64| way * course.between(currents, face, at);
            let mean = |from, to| between(from, to).map(current).sum::<f64>() / INSTANTS as f64;
            put(3, mean(early, middle));
            put(4, mean(middle, late));
            let mut sizes: Vec<f64> = between(early, middle)
                .chain(between(middle, late))
                .map(|t| current(t).abs())
                .collect();
            sizes.sort_by(f64::total_cmp);
            let [from, to] = HIGHEST.map(|share| (share * sizes.len() as f64) as usize);
            put(5, sizes[from..to].iter().sum::<f64>() / (to - from) as f64);
        }
        ended_s = own.iter().map(|turn| turn.at_s[2]).fold(f64::NEG_INFINITY, f64::max);
    }
    all
}

/// Which kinds there are.
pub(super) fn kinds(measures: &[Measure]) -> Vec<usize> {
    (0..2 * KINDS).filter(|kind| measures.iter().any(|own| own.kind == *kind)).collect()
}

/// Variance that each kind has beside what rigs differ.
pub(super) fn floors(kinds: &[usize]) -> Vec<f64> {
    kinds.iter().map(|kind| FLOORS[kind % KINDS] * FLOORS[kind % KINDS]).collect()
}

/// The differences of a kind between two runs of the same turns, sorted, without those at
/// either end.
fn kept(kind: usize, a: &[Measure], b: &[Measure]) -> Vec<f64> {
    let pairs = a.iter().zip(b).filter(|(own, _)| own.kind == kind);
    let mut all: Vec<f64> = pairs.map(|(a, b)| a.value - b.value).collect();
    all.sort_by(f64::total_cmp);
    let trimmed = (TRIMMED_SHARE * all.len() as f64).round() as usize;
    all[trimmed..all.len() - trimmed].to_vec()
}

/// Trimmed means, by kind, of how much larger the measures of one run are than those of
/// another run of the same turns.
pub(super) fn differences(kinds: &[usize], a: &[Measure], b: &[Measure]) -> Vec<f64> {
    let of = |kind: &usize| dryturn_statistics::mean(&kept(*kind, a, b));
    kinds.iter().map(of).collect()
}

/// How far the same are from their means, in the mean; of times alone, currents follow from
/// them.
pub(super) fn scatter(kinds: &[usize], a: &[Measure], b: &[Measure]) -> Vec<f64> {
    let of = |kind: &usize| {
        let all = kept(*kind, a, b);
        let mean = dryturn_statistics::mean(&all);
        all.iter().map(|own| (own - mean).abs()).sum::<f64>() / all.len().max(1) as f64
    };
    kinds.iter().filter(|kind| *kind % KINDS < TIMES).map(of).collect()
}
