//! When each turn of a plan is 10, 50 and 90 % done, in a log or in a simulated run.

use dryturn_cube::Turn;
use dryturn_handoff::Plan;
use dryturn_numerics::on_line;

/// Shares of a turn at which its time is taken.
const SHARES: [f64; 3] = [0.1, 0.5, 0.9];
/// A turn has ended when so much of it is done.
const ENDED_SHARE: f64 = 0.97;

/// The times of one turn, s.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TurnTimes {
    /// Index of its beat, from 0.
    pub beat: usize,
    /// The turn.
    pub turn: Turn,
    /// When it was 10, 50 and 90 % done.
    pub at_s: [f64; 3],
}

impl TurnTimes {
    /// From 10 to 90 %, s.
    #[must_use]
    pub fn duration_s(&self) -> f64 {
        self.at_s[2] - self.at_s[0]
    }
}

/// Angles of six faces over time.
#[derive(Clone, Copy)]
pub(super) struct Course<'a> {
    pub(super) time_s: &'a [f64],
    pub(super) angles_deg: &'a [[f64; 6]],
}

impl Course<'_> {
    /// A row's value of a face at any time, between the samples on a straight line; the last
    /// one after the end.
    pub(super) fn between(&self, rows: &[[f64; 6]], face: usize, time_s: f64) -> f64 {
        let (Some(first), Some(last)) = (rows.first(), rows.last()) else { return 0.0 };
        let after = self.time_s.partition_point(|t| *t < time_s);
        if after == 0 {
            first[face]
        } else if after >= rows.len() {
            last[face]
        } else {
            let at = |k: usize| (self.time_s[k], rows[k][face]);
            on_line(time_s, at(after - 1), at(after))
        }
    }

    /// How far a face has turned since the start, at any time; where it was last, after
    /// the end.
    pub(super) fn turned_deg(&self, face: usize, time_s: f64) -> f64 {
        let Some(first) = self.angles_deg.first() else { return 0.0 };
        self.between(self.angles_deg, face, time_s) - first[face]
    }

    /// The times of the plan's turns, in its order, up to the first that is not made.
    pub(super) fn times(&self, plan: &Plan) -> Vec<TurnTimes> {
        let mut found = Vec::new();
        // Where each face stands, and the sample from which on its next turn is looked for.
        let (mut stands_deg, mut from) = ([0.0; 6], [1; 6]);
        for (beat, turns) in plan.beats.iter().enumerate() {
            for &turn in &turns.turns {
                let face = turn.face.index();
                let angle_deg = turn.amount.angle_deg();
                let mut at_s = [0.0; 3];
                for (at, share) in at_s.iter_mut().zip(SHARES) {
                    let wanted = stands_deg[face] + share * angle_deg;
                    let Some((k, time_s)) =
                        self.passes(face, wanted, angle_deg.signum(), from[face])
                    else {
                        return found;
                    };
                    (*at, from[face]) = (time_s, k);
                }
                // A turn back passes the same angles: it is looked for from the end of this one.
                let nearly = stands_deg[face] + ENDED_SHARE * angle_deg;
                if let Some((k, _)) = self.passes(face, nearly, angle_deg.signum(), from[face]) {
                    from[face] = k;
                }
                stands_deg[face] += angle_deg;
                found.push(TurnTimes { beat, turn, at_s });
            }
        }
        found
    }

    /// The sample before which a face passes an angle, and when.
    fn passes(&self, face: usize, wanted: f64, way: f64, from: usize) -> Option<(usize, f64)> {
        let first = self.angles_deg.first()?[face];
        let left = |k: usize| way * (wanted - (self.angles_deg[k][face] - first));
        let k = (from..self.angles_deg.len()).find(|&k| left(k) <= 0.0)?;
        let (before, after) = (left(k - 1), left(k));
        let share = if before > after { before / (before - after) } else { 1.0 };
        let (t0, t1) = (self.time_s[k - 1], self.time_s[k]);
        Some((k, t0 + share.clamp(0.0, 1.0) * (t1 - t0)))
    }
}

/// A stretch of time that is compared.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Stretch {
    /// From 10 to 50 % of a turn.
    SpeedingUp,
    /// From 50 to 90 %.
    SlowingDown,
    /// From the 90 % of the beat before to the turn's 10 %.
    HandOver,
}

impl Stretch {
    /// For a person.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::SpeedingUp => "its first half",
            Self::SlowingDown => "its second half",
            Self::HandOver => "the hand-over before it",
        }
    }
}

/// A stretch of one turn.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Feature {
    pub(super) beat: usize,
    pub(super) turn: Turn,
    pub(super) stretch: Stretch,
    pub(super) ms: f64,
}

/// What is compared of two runs.
pub(super) fn features(times: &[TurnTimes]) -> Vec<Feature> {
    let mut all = Vec::with_capacity(3 * times.len());
    let mut ended_s = f64::NEG_INFINITY;
    for own in times.chunk_by(|a, b| a.beat == b.beat) {
        for &TurnTimes { beat, turn, at_s: [early, middle, late] } in own {
            let mut put = |stretch, s: f64| all.push(Feature { beat, turn, stretch, ms: s * 1e3 });
            put(Stretch::SpeedingUp, middle - early);
            put(Stretch::SlowingDown, late - middle);
            if ended_s.is_finite() {
                put(Stretch::HandOver, early - ended_s);
            }
        }
        ended_s = own.iter().map(|turn| turn.at_s[2]).fold(f64::NEG_INFINITY, f64::max);
    }
    all
}

#[cfg(test)]
mod tests {
    use dryturn_cube::notation;

    use super::*;

    /// Even turns of a degree a millisecond, one after the other: times and features are
    /// what they must be, and a log that ends early ends the list.
    #[test]
    fn even_turns_are_timed() {
        let plan = Plan::of_turns(&notation::parse("U R2 U'").unwrap());
        let time_s: Vec<f64> = (0..=400).map(|k| k as f64 * 1e-3).collect();
        let ramp = |t: f64, from: f64, by: f64| (t - from).clamp(0.0, by);
        let row = |t: &f64| {
            let ms = t * 1e3;
            let u = 7.0 + ramp(ms, 10.0, 90.0) - ramp(ms, 300.0, 90.0);
            [u, ramp(ms, 110.0, 180.0), 0.0, 0.0, 0.0, 0.0]
        };
        let angles_deg: Vec<[f64; 6]> = time_s.iter().map(row).collect();
        let course = Course { time_s: &time_s, angles_deg: &angles_deg };
        let times = course.times(&plan);
        let wanted = [[19.0, 55.0, 91.0], [128.0, 200.0, 272.0], [309.0, 345.0, 381.0]];
        for (found, wanted) in times.iter().zip(wanted) {
            assert!(found.at_s.iter().zip(wanted).all(|(a, b)| (a * 1e3 - b).abs() < 1e-9));
        }
        let features: Vec<f64> = features(&times).iter().map(|feature| feature.ms).collect();
        let wanted = [36.0, 36.0, 72.0, 72.0, 37.0, 36.0, 36.0, 37.0];
        assert_eq!(features.len(), wanted.len());
        assert!(features.iter().zip(wanted).all(|(a, b)| (a - b).abs() < 1e-9), "{features:?}");
        assert!((course.turned_deg(0, 0.0555) - 45.5).abs() < 1e-9);
        let early = Course { time_s: &time_s[..250], angles_deg: &angles_deg[..250] };
        assert_eq!(early.times(&plan).len(), 1);
    }
}
