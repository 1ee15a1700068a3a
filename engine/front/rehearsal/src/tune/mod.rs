//! Tuning: the fastest settings whose jam rate and shafts a builder can live with, proved
//! on fresh trials.
//!
//! A race ([`race`]) finds them, on trials whose luck all settings share; then the
//! fastest are tried on other cubes in other trials until one keeps the target there too.
//! What is found depends on the model: it is where to begin on the rig, not where to end.

mod candidate;
mod knobs;
mod limits;
mod outcome;
mod polish;
mod race;
mod request;

use std::sync::Arc;

use dryturn_driving::{Lead, Machine};
use dryturn_scene::Scene;
use dryturn_units::noise::{Noise, Seed};

use crate::pass::Rehearser;
use crate::statistics::{Z_95, wilson};
use crate::turning::{DRILL_NODES, TurningDrill};
use crate::watch::{Progress, Watch};

use candidate::{Candidate, Course, extend};
use knobs::{Knob, Range};
use race::{Field, Race, order};

pub use limits::{Limit, Nudge};
pub use outcome::{Dot, NotTuned, Round, Setting, Tuned, Tuning};
pub use request::{TuneFault, TuneRequest, TuneTarget};

/// The race ends with a quarter of the proof's trials, within these bounds.
const RACE_TRIALS: (usize, usize) = (64, 512);
/// Plans of the race, and of the proof.
const RACE_PLANS: usize = 48;
const PROOF_PLANS: usize = 100;
/// A candidate is tried so many trials at a time in the proof.
const PROOF_STEP: usize = 250;
/// So many are tried in the proof at most.
const MOST_PROVED: usize = 16;
/// One that went out is tried in the proof only after so many trials.
const LEAST_TRIALS: usize = 32;

impl Rehearser {
    /// Tunes a scene's axes. `progress` is told the number of executions done, and may
    /// break off: the result is then `None`.
    ///
    /// # Errors
    /// A request that makes no sense, before anything is executed.
    pub fn tune(
        &self,
        request: &TuneRequest,
        progress: Progress<'_>,
    ) -> Result<Option<Tuning>, TuneFault> {
        let knobs = request.knobs()?;
        Ok(self.tuning(request, &knobs, progress))
    }

    fn tuning(
        &self,
        request: &TuneRequest,
        knobs: &[Knob],
        progress: Progress<'_>,
    ) -> Option<Tuning> {
        let (scene, target) = (&request.scene, &request.target);
        let watch = Watch::new(progress);
        let mut noise = self.seed().stream("tune", 0, 0);
        let plans = Arc::new(self.random_plans(scene, RACE_PLANS, DRILL_NODES));
        let course = Course { plans, seed: self.seed() };
        let most_trials = (request.proof / 4).clamp(RACE_TRIALS.0, RACE_TRIALS.1);
        let field = Field { scene, knobs, target, course: &course, watch: &watch, most_trials };
        let points = first_points(scene, knobs, request.candidates, &mut noise);
        let mut race = Race::run(&field, points, &mut noise)?;
        if let Some(best) = race.finalists.first() {
            let polished = polish::polish(&field, best)?;
            race.finalists.splice(0..0, polished.path);
            race.out.extend(polished.beside);
        }

        let fresh = Self::new(Seed::new(self.seed().stream("tune", 0, 1).bits()));
        let plans = Arc::new(fresh.random_plans(scene, PROOF_PLANS, DRILL_NODES));
        let proof = Course { plans, seed: fresh.seed() };
        let (chosen, tried) = prove(&race, request, &proof, &watch)?;
        let found = match chosen {
            Some(chosen) => {
                let drill = |scene: &Arc<Scene>| {
                    fresh.drill_turning(scene, &proof.plans, request.proof, &|_| (progress)(0))
                };
                let after = drill(&chosen.scene)?;
                let before = drill(scene)?;
                let waiting = drill(&Arc::new(request.waiting(&chosen.scene)))?;
                let limits = limits::limits(&field, &chosen)?;
                let settings = outcome::settings(scene, &chosen.scene, knobs);
                Ok(Tuned {
                    scene: chosen.scene.clone(),
                    settings,
                    drill: Arc::new(after),
                    before: Arc::new(before),
                    waiting: Arc::new(waiting),
                    limits,
                    proofs_tried: tried,
                })
            }
            None => Err(self.not_tuned(&race, request, &course)?),
        };
        let dots = outcome::dots(&race);
        Some(Tuning {
            request: request.clone(),
            fields: knobs.iter().map(|knob| knob.field.clone()).collect(),
            rounds: race.rounds,
            dots,
            found,
        })
    }

    /// Why nothing was found.
    fn not_tuned(&self, race: &Race, request: &TuneRequest, course: &Course) -> Option<NotTuned> {
        let mut all: Vec<&Candidate> = race.finalists.iter().chain(&race.out).collect();
        if all.is_empty() {
            return Some(if race.weak > 0 {
                NotTuned::WeakShafts {
                    allowed_n_m: race.weak_n_m,
                    needed_n_m: outcome::needed_n_m(&request.scene),
                    safety_ratio: request.target.static_safety_ratio,
                }
            } else {
                NotTuned::NoScene { tried: race.refused }
            });
        }
        all.sort_by(|a, b| a.interval().0.total_cmp(&b.interval().0));
        let best = all[0];
        let trials = best.trials().max(100);
        let drill = self.drill_turning(&best.scene, &course.plans, trials, &|_| {
            std::ops::ControlFlow::Continue(())
        })?;
        let torque_n_m = Machine::of(&best.scene).axis().limit.torque_n_m();
        Some(NotTuned::NoneKeeps { drill: Arc::new(drill), torque_n_m, weak: race.weak > 0 })
    }
}

/// Spread of the points around the present settings, of each range.
const NEAR: f64 = 0.15;

/// The scene as it is under each policy, then points around those and, as many, points
/// spread evenly over every knob.
fn first_points(scene: &Scene, knobs: &[Knob], count: usize, noise: &mut Noise) -> Vec<Vec<f64>> {
    let present: Vec<f64> = knobs.iter().map(|knob| knob.place_in(scene)).collect();
    let mut points = vec![present.clone()];
    if let Some(policy) = knobs.iter().position(|knob| matches!(knob.range, Range::Choice(_))) {
        for k in 0..knobs::POLICIES.len() {
            let mut point = present.clone();
            point[policy] = (k as f64 + 0.5) / knobs::POLICIES.len() as f64;
            points.push(point);
        }
    }
    let own = points.len();
    let rest = count.saturating_sub(own) / 2;
    for i in own..count.saturating_sub(rest) {
        let near = points[i % own].clone();
        points.push(near.iter().map(|at| (at + NEAR * noise.gaussian()).clamp(0.0, 1.0)).collect());
    }
    // A Latin hypercube: each knob takes every one of `rest` equal parts of its range once.
    let mut columns: Vec<Vec<f64>> = Vec::with_capacity(knobs.len());
    for _ in knobs {
        let mut column: Vec<f64> =
            (0..rest).map(|i| (i as f64 + noise.uniform()) / rest as f64).collect();
        for i in (1..rest).rev() {
            column.swap(i, (noise.uniform() * (i + 1) as f64) as usize);
        }
        columns.push(column);
    }
    points.extend((0..rest).map(|i| columns.iter().map(|column| column[i]).collect()));
    points
}

/// The fastest that keeps the target on fresh trials, and how many were tried for it.
fn prove(
    race: &Race,
    request: &TuneRequest,
    course: &Course,
    watch: &Watch<'_>,
) -> Option<(Option<Candidate>, usize)> {
    let target = &request.target;
    let earlier = race.out.iter().filter(|c| c.trials() >= LEAST_TRIALS && c.failures() == 0);
    let mut hopeful: Vec<&Candidate> = race.finalists.iter().collect();
    let mut others: Vec<&Candidate> = earlier.collect();
    others.sort_by(|a, b| order(a, b, target));
    hopeful.extend(others);
    for (tried, candidate) in hopeful.into_iter().take(MOST_PROVED).enumerate() {
        let mut one = [candidate.afresh()];
        while one[0].trials() < request.proof {
            let trials = (one[0].trials() + PROOF_STEP).min(request.proof);
            extend(&mut one, trials, course, watch)?;
            // Whatever the rest brings, it would not be enough.
            if wilson(one[0].failures(), request.proof, Z_95).1 >= target.jam_rate {
                break;
            }
        }
        let [one] = one;
        if wilson(one.failures(), request.proof, Z_95).1 < target.jam_rate {
            return Some((Some(one), tried + 1));
        }
    }
    Some((None, MOST_PROVED.min(race.finalists.len() + race.out.len())))
}

/// The clearance table of a scene's drive: how early each kind of turn may begin after
/// another where the policy is `Predict`.
#[must_use]
pub fn leads(scene: &Scene) -> [Lead; 8] {
    *Machine::of(scene).leads()
}

/// Executions that failed: jams and other stops.
fn failures(drill: &TurningDrill) -> usize {
    drill.jams() + drill.stops()
}
