//! Tuning: the fastest settings whose failures and shafts a builder can live with, proved
//! on fresh trials.
//!
//! A race ([`race`]) finds them, on trials whose luck all settings share, and [`polish`]
//! goes on from there. The fastest are then tried on other cubes in other trials until one
//! keeps the target there; and since that is still a choice, what is told of it comes from
//! trials that nothing was chosen by. What is found depends on the model: it is where to
//! begin on the rig, not where to end.

mod below_zero;
mod candidate;
mod knobs;
mod lead_words;
mod limits;
mod outcome;
mod polish;
mod race;
mod request;
mod rounds;
mod settings;
mod words;

use std::sync::Arc;

use candidate::{Candidate, Course, extend};
use dryturn_driving::{Lead, Machine};
use dryturn_rehearsal::Rehearser;
use dryturn_scene::Scene;
use dryturn_statistics::{Z_95, wilson};
use dryturn_units::noise::{Noise, Seed};
use knobs::Knob;
use race::{Field, Race, order};

use crate::axes::{DRILL_NODES, TurningDrill, random_plans};
use crate::work::{NumberedPieces, Progress, Watch};

pub use below_zero::{BelowZero, Bought};
pub use lead_words::{lead_kind, lead_nearness, lead_sentence};
pub use limits::{Nudge, TuneLimit};
pub use outcome::{NotTuned, Tuned, Tuning};
pub use request::{TuneFault, TuneRequest, TuneTarget};
pub use rounds::{Dot, Round};
pub use settings::Setting;

/// The race ends with a quarter of the proof's trials, within these bounds.
const RACE_TRIALS: (usize, usize) = (64, 512);
/// Plans of the race, and of the proof.
const RACE_PLANS: usize = 48;
const PROOF_PLANS: usize = 100;
/// A candidate is tried so many trials at a time in the proof.
const PROOF_STEP: usize = 250;
/// Where nothing is found, what came nearest is told after so many trials at least.
const LEAST_TOLD: usize = 100;
/// Executions that are kept together.
pub(crate) const PIECE: usize = 64;
/// One is tried in the proof only after so many trials.
const LEAST_TRIALS: usize = 32;

impl Tuning {
    /// Tunes a scene's axes. `progress` is told the number of executions done, and may
    /// break off: the result is then `None`.
    ///
    /// # Errors
    /// A request that makes no sense, before anything is executed.
    pub fn of(
        rehearser: &Rehearser,
        request: &TuneRequest,
        progress: Progress<'_>,
    ) -> Result<Option<Self>, TuneFault> {
        let knobs = request.knobs()?;
        Ok(Self::watched(rehearser, request, &knobs, &Watch::new(progress)))
    }

    /// As [`Tuning::of`], with executions kept as they are made: a tuning that was broken
    /// off goes on from there.
    ///
    /// # Errors
    /// As [`Tuning::of`].
    pub fn kept(
        rehearser: &Rehearser,
        request: &TuneRequest,
        progress: Progress<'_>,
        pieces: &NumberedPieces<'_>,
    ) -> Result<Option<Self>, TuneFault> {
        let knobs = request.knobs()?;
        Ok(Self::watched(rehearser, request, &knobs, &Watch::keeping(progress, Some(pieces))))
    }

    fn watched(
        rehearser: &Rehearser,
        request: &TuneRequest,
        knobs: &[Knob],
        watch: &Watch<'_>,
    ) -> Option<Self> {
        let (scene, target) = (&request.scene, &request.target);
        let mut noise = rehearser.seed().stream("tune", 0, 0);
        let plans = Arc::new(random_plans(rehearser, scene, RACE_PLANS, DRILL_NODES));
        let course = Course { plans, seed: rehearser.seed() };
        let most_trials = (request.proof / 4).clamp(RACE_TRIALS.0, RACE_TRIALS.1);
        let field = Field { scene, knobs, target, course: &course, watch, most_trials };
        let points = first_points(scene, knobs, request.candidates, &mut noise);
        let mut race = Race::run(&field, points, &mut noise)?;
        if let Some(best) = race.finalists.first() {
            let polished = polish::polish(&field, best)?;
            race.finalists.splice(0..0, polished.path);
            race.out.extend(polished.beside);
        }

        let other = |number: u64| {
            let rehearser =
                Rehearser::new(Seed::new(rehearser.seed().stream("tune", 0, number).bits()));
            let plans = Arc::new(random_plans(&rehearser, scene, PROOF_PLANS, DRILL_NODES));
            (rehearser, plans)
        };
        let (selecting, plans) = other(1);
        let selection = Course { plans, seed: selecting.seed() };
        let (proving, plans) = other(2);
        let drill = |scene: &Arc<Scene>| {
            TurningDrill::watched(&proving, scene, &plans, (request.proof, PIECE), watch)
        };
        let hopeful = hopeful(&race, target);
        let (mut from, mut tried) = (0, 0);
        let found = loop {
            let Some(at) = select(&hopeful[from..], request, &selection, watch, &mut tried)? else {
                break Err(not_tuned(rehearser, &race, request, &course, watch)?);
            };
            let chosen = hopeful[from + at];
            let after = drill(&chosen.scene)?;
            // Chosen by luck: the next slower one, then.
            if after.failures().interval().1 >= target.jam_rate {
                from += at + 1;
                continue;
            }
            let below_zero = below_zero::below_zero(&field, chosen, &after, &drill)?;
            break Ok(Tuned {
                scene: chosen.scene.clone(),
                settings: settings::settings(scene, &chosen.scene, knobs),
                drill: Arc::new(after),
                before: Arc::new(drill(scene)?),
                waiting: Arc::new(drill(&Arc::new(request.waiting(&chosen.scene)))?),
                limits: limits::limits(&field, chosen)?,
                below_zero,
                tried,
            });
        };
        let dots = rounds::dots(&race);
        Some(Self {
            request: request.clone(),
            fields: knobs.iter().map(|knob| knob.field.clone()).collect(),
            rounds: race.rounds,
            dots,
            found,
        })
    }
}

/// Why nothing was found.
fn not_tuned(
    rehearser: &Rehearser,
    race: &Race,
    request: &TuneRequest,
    course: &Course,
    watch: &Watch<'_>,
) -> Option<NotTuned> {
    let mut all: Vec<&Candidate> = race.finalists.iter().chain(&race.out).collect();
    if all.is_empty() {
        return Some(if race.weak > 0 {
            NotTuned::WeakShafts {
                allowed_n_m: race.weak_n_m,
                needed_n_m: race.needed_n_m,
                safety_ratio: request.target.static_safety_ratio,
            }
        } else {
            NotTuned::NoScene { tried: race.refused }
        });
    }
    // Few trials have a high upper end, so they do not come first.
    all.sort_by(|a, b| a.failures().interval().1.total_cmp(&b.failures().interval().1));
    let best = all[0];
    let trials = best.trials().max(LEAST_TOLD);
    let drill = |scene: &Arc<Scene>| {
        TurningDrill::watched(rehearser, scene, &course.plans, (trials, PIECE), watch).map(Arc::new)
    };
    let (drill, before) = (drill(&best.scene)?, drill(&request.scene)?);
    let torque_n_m = Machine::of(&best.scene).axis().limit.torque_n_m();
    Some(NotTuned::NoneKeeps { drill, before, torque_n_m, weak: race.weak > 0 })
}

/// Spread of the points around the present settings, of each range.
const NEAR: f64 = 0.15;

/// The scene as it is under each policy, then points around those and, as many, points
/// spread evenly over every knob.
fn first_points(scene: &Scene, knobs: &[Knob], count: usize, noise: &mut Noise) -> Vec<Vec<f64>> {
    let present: Vec<f64> = knobs.iter().map(|knob| knob.place_in(scene)).collect();
    let mut points = vec![present.clone()];
    if let Some((at, count)) =
        knobs.iter().enumerate().find_map(|(at, knob)| Some((at, knob.policies()?.len())))
    {
        for k in 0..count {
            let mut point = present.clone();
            point[at] = (k as f64 + 0.5) / count as f64;
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

/// Those of a race that may keep the target, the fastest first.
fn hopeful<'a>(race: &'a Race, target: &TuneTarget) -> Vec<&'a Candidate> {
    let may = |c: &&Candidate| c.trials() >= LEAST_TRIALS && c.failures().share() <= target.aim();
    let mut all: Vec<&Candidate> = race.finalists.iter().chain(&race.out).filter(may).collect();
    all.sort_by(|a, b| order(a, b, target));
    all
}

/// Place of the fastest that keeps the target on trials that the race has not seen; counts
/// those that are tried.
///
/// From the fastest on, in steps that double, until one keeps it; then by halves between
/// that one and the last that did not.
fn select(
    hopeful: &[&Candidate],
    request: &TuneRequest,
    course: &Course,
    watch: &Watch<'_>,
    tried: &mut usize,
) -> Option<Option<usize>> {
    let mut keeps = |at: usize| {
        *tried += 1;
        keeps_target(hopeful[at], request, course, watch)
    };
    let (mut from, mut at, mut step) = (0, 0, 1);
    while at < hopeful.len() && !keeps(at)? {
        from = at + 1;
        // The slowest of all is the last hope.
        at = if at + 1 == hopeful.len() { from } else { (at + step).min(hopeful.len() - 1) };
        step *= 2;
    }
    if at >= hopeful.len() {
        return Some(None);
    }
    while from < at {
        let middle = from + (at - from) / 2;
        if keeps(middle)? {
            at = middle;
        } else {
            from = middle + 1;
        }
    }
    Some(Some(at))
}

/// Whether a candidate keeps the target in fresh trials.
fn keeps_target(
    candidate: &Candidate,
    request: &TuneRequest,
    course: &Course,
    watch: &Watch<'_>,
) -> Option<bool> {
    let keeps = |one: &Candidate| {
        wilson(one.failures().count(), request.proof, Z_95).1 < request.target.jam_rate
    };
    let mut one = candidate.afresh();
    // Where so many have failed that the rest cannot make up for it, it is over.
    while one.trials() < request.proof && keeps(&one) {
        let trials = (one.trials() + PROOF_STEP).min(request.proof);
        extend(core::slice::from_mut(&mut one), trials, course, watch)?;
    }
    Some(keeps(&one))
}

/// The clearance table of a scene's drive: how early each kind of turn may begin after
/// another where the policy is `Predict`.
#[must_use]
pub fn leads(scene: &Scene) -> [Lead; 8] {
    *Machine::of(scene).leads()
}
