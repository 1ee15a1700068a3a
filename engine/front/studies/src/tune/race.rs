//! Successive elimination: many settings on few trials, few settings on many, all with
//! the same luck.
//!
//! In each round every setting that is left is brought to twice the trials. Out goes who
//! surely fails too often (the lower end of Wilson's 95 % interval above the target, with more
//! than one failure), who
//! is surely slower than the best by more than a zone that narrows (one-sided paired
//! comparison over the same trials), and who is beyond the round's places. Children of
//! those that are left take the free places: their parent, moved along the difference of
//! two others and at random, less from round to round (the idea of differential evolution,
//! R. Storn and K. Price, J. Global Optim. 11, 1997, from memory).

use std::sync::Arc;

use dryturn_scene::Scene;
use dryturn_units::maths;
use dryturn_units::noise::Noise;

use super::candidate::{Candidate, Course, extend};
use super::knobs::{Knob, NoScene, scene_at};
use super::{Round, TuneTarget};
use crate::work::Watch;

/// Trials of the first round; each round doubles them, to [`Field::most_trials`].
const FIRST_TRIALS: usize = 8;
/// Each round has so much fewer places than the one before, but at least so many.
const PLACES_SHARE: f64 = 0.75;
const LEAST_PLACES: usize = 10;
/// Share of a round's places for those that stay; children take the rest.
const STAY_SHARE: f64 = 0.6;
/// The best so many stay though they are slower.
const BEST: usize = 4;
/// So many points are drawn for a place at most, where the scene allows few.
const ATTEMPTS: usize = 20;
/// How often a race begins anew that nobody was left in.
const REFILLS: usize = 2;
/// How much slower than the best one may surely be in the first round; halved each round.
const ZONE_SHARE: f64 = 0.08;
/// One-sided 95 %.
const Z_ONE_SIDED: f64 = 1.644_853_626_951_472;
/// Standard deviation of a child's random move in the first round, of the range; and by
/// how much it shrinks from round to round.
const MOVE: f64 = 0.18;
const SHRINKS: f64 = 0.7;

/// What a race leaves.
pub(crate) struct Race {
    /// Those that reached the end, best first.
    pub(crate) finalists: Vec<Candidate>,
    /// Those that went out, with what they did until then.
    pub(crate) out: Vec<Candidate>,
    pub(crate) rounds: Vec<Round>,
    /// Points that no scene came of, and the least torque that weak shafts allowed there.
    pub(crate) weak: usize,
    pub(crate) refused: usize,
    pub(crate) weak_n_m: f64,
    /// The least torque that would have been needed there.
    pub(crate) needed_n_m: f64,
}

/// The settings that race, and what they race on.
pub(crate) struct Field<'a> {
    pub(crate) scene: &'a Scene,
    pub(crate) knobs: &'a [Knob],
    pub(crate) target: &'a TuneTarget,
    pub(crate) course: &'a Course,
    /// Trials of the last round, and of what follows it.
    pub(crate) most_trials: usize,
    pub(crate) watch: &'a Watch<'a>,
}

impl Race {
    fn candidate(&mut self, field: &Field<'_>, point: Vec<f64>) -> Option<Candidate> {
        match scene_at(field.scene, field.knobs, &point, field.target.static_safety_ratio) {
            Ok(scene) => Some(Candidate::new(point, Arc::new(scene))),
            Err(NoScene::Weak { allowed_n_m, needed_n_m }) => {
                self.weak += 1;
                self.weak_n_m = self.weak_n_m.max(allowed_n_m);
                self.needed_n_m = self.needed_n_m.min(needed_n_m);
                None
            }
            Err(NoScene::Refused) => {
                self.refused += 1;
                None
            }
        }
    }

    /// From a pool of points. `None` where it was broken off.
    pub(crate) fn run(field: &Field<'_>, points: Vec<Vec<f64>>, noise: &mut Noise) -> Option<Self> {
        let mut race = Self {
            finalists: Vec::new(),
            out: Vec::new(),
            rounds: Vec::new(),
            weak: 0,
            refused: 0,
            weak_n_m: 0.0,
            needed_n_m: f64::INFINITY,
        };
        let places = points.len();
        let mut pool: Vec<Candidate> =
            points.into_iter().filter_map(|point| race.candidate(field, point)).collect();
        let mut refills = REFILLS;
        race.fill(field, &mut pool, places, noise);
        let rounds = 1 + (field.most_trials / FIRST_TRIALS).max(1).ilog2() as usize;
        let mut number = 0;
        while number < rounds {
            let trials = FIRST_TRIALS << number;
            let began = pool.len();
            extend(&mut pool, trials, field.course, field.watch)?;
            let next = ((places as f64 * maths::whole_pow(PLACES_SHARE, number as u32 + 1))
                as usize)
                .max(LEAST_PLACES);
            let stay = (STAY_SHARE * next as f64) as usize;
            let mut round = Round { trials, began, ..Round::default() };
            pool = race.eliminate(pool, field.target, (number, stay), &mut round);
            round.stayed = pool.len();
            round.best_ms = pool.first().and_then(Candidate::median_s).map(|s| s * 1e3);
            race.rounds.push(round);
            if pool.is_empty() {
                if refills == 0 {
                    break;
                }
                refills -= 1;
                race.fill(field, &mut pool, places, noise);
                number = 0;
                continue;
            }
            if number + 1 < rounds {
                let parents = pool.len();
                let scale = MOVE * maths::whole_pow(SHRINKS, number as u32);
                for _ in parents..next {
                    let point = child(&pool[..parents], scale, noise);
                    pool.extend(race.candidate(field, point));
                }
            }
            number += 1;
        }
        race.finalists = pool;
        Some(race)
    }

    /// Points anywhere take the place of those that no scene came of.
    fn fill(
        &mut self,
        field: &Field<'_>,
        pool: &mut Vec<Candidate>,
        places: usize,
        noise: &mut Noise,
    ) {
        for _ in 0..ATTEMPTS * places {
            if pool.len() >= places {
                break;
            }
            let point = field.knobs.iter().map(|_| noise.uniform()).collect();
            pool.extend(self.candidate(field, point));
        }
    }

    /// Those that stay, best first.
    fn eliminate(
        &mut self,
        mut pool: Vec<Candidate>,
        target: &TuneTarget,
        (number, stay): (usize, usize),
        round: &mut Round,
    ) -> Vec<Candidate> {
        // One failure may be a trial that hardly any settings get through.
        let fails = |candidate: &Candidate| {
            candidate.failures().count() > 1 && candidate.failures().interval().0 > target.jam_rate
        };
        let (fails, mut left): (Vec<_>, Vec<_>) = pool.drain(..).partition(fails);
        round.failing = fails.len();
        self.out.extend(fails);
        left.sort_by(|a, b| order(a, b, target));
        if let Some(best) = left.first().cloned() {
            let zone =
                ZONE_SHARE * maths::whole_pow(0.5, number as u32) * best.median_s().unwrap_or(0.0);
            let slower = |candidate: &Candidate| {
                let slower = candidate.slower_than(&best);
                slower.is_some_and(|(mean, error)| mean - Z_ONE_SIDED * error > zone)
            };
            let others = left.split_off(left.len().min(BEST));
            let (slow, rest): (Vec<_>, Vec<_>) = others.into_iter().partition(slower);
            round.slower = slow.len();
            self.out.extend(slow);
            left.extend(rest);
        }
        let beyond = left.split_off(left.len().min(stay));
        round.beyond = beyond.len();
        self.out.extend(beyond);
        left
    }
}

/// First those that fail no more often than aimed at, by time; then by failures.
pub(crate) fn order(a: &Candidate, b: &Candidate, target: &TuneTarget) -> core::cmp::Ordering {
    let good = |candidate: &Candidate| candidate.failures().share() <= target.aim();
    let time = |candidate: &Candidate| candidate.median_s().unwrap_or(f64::INFINITY);
    match (good(a), good(b)) {
        (true, true) => time(a).total_cmp(&time(b)),
        (false, false) => a.failures().share().total_cmp(&b.failures().share()),
        (true, false) => core::cmp::Ordering::Less,
        (false, true) => core::cmp::Ordering::Greater,
    }
}

/// A parent, moved along the difference of two others and at random in some of its knobs.
fn child(pool: &[Candidate], scale: f64, noise: &mut Noise) -> Vec<f64> {
    let mut pick = || &pool[(noise.uniform() * pool.len() as f64) as usize].point;
    let (parent, one, other) = (pick().clone(), pick().clone(), pick().clone());
    let moves_share = noise.between(0.1, 0.6);
    let moved = |(i, &at): (usize, &f64)| {
        // Always the same draws, whichever are used.
        let (used, by) = (noise.uniform() < moves_share, noise.gaussian());
        let to = if used { at + 0.5 * (one[i] - other[i]) + scale * by } else { at };
        reflected(to)
    };
    parent.iter().enumerate().map(moved).collect()
}

/// Back into the range from 0 to 1.
fn reflected(at: f64) -> f64 {
    let back = if at < 0.0 {
        -at
    } else if at > 1.0 {
        2.0 - at
    } else {
        at
    };
    back.clamp(0.0, 1.0)
}
