//! One pass through all stages, and its judgement.

use std::sync::{Arc, Mutex, OnceLock, PoisonError};

use dryturn_cube::{CubeState, Face, Facelet, FaceletKind, Stickering, random_state};
use dryturn_driving::{BeatCosts, Machine, Squared, Timing, Transitions, simulate};
use dryturn_handoff::{Frame, Outcome, Plan, Reading, Run, Scan};
use dryturn_planning::{Objective, Planner, Weights};
use dryturn_reading::{Calibration, FrameError, read};
use dryturn_scene::Scene;
use dryturn_scene::file::SceneFile;
use dryturn_units::noise::Seed;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::rig::BuiltRig;
use crate::start_to_stop::StartToStop;

/// A facelet that came out wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Mistake {
    /// The place.
    pub facelet: Facelet,
    /// The colour that was read, as its face.
    pub read: Face,
    /// The colour that is there, as its face.
    pub truth: Face,
}

/// A reading compared with the truth.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Score {
    /// Facelets, seen or inferred, that came out wrong.
    pub mistakes: Vec<Mistake>,
    /// Whether a state was read, and whether it is the true one.
    pub state: Option<bool>,
}

impl Score {
    /// Compares a reading with the true state.
    #[must_use]
    pub fn of(reading: &Reading, truth: &CubeState) -> Self {
        let colours = truth.colours();
        let mistakes = Facelet::all()
            .filter(|facelet| facelet.kind() != FaceletKind::Centre)
            .filter_map(|facelet| {
                let (read, truth) = (reading.colour(facelet)?, colours[facelet.index()]);
                (read != truth).then_some(Mistake { facelet, read, truth })
            })
            .collect();
        Self { mistakes, state: reading.state().map(|state| state == truth) }
    }

    /// Whether the true state was read.
    #[must_use]
    pub fn right(&self) -> bool {
        self.state == Some(true)
    }

    /// Whether any facelet was taken for the other of two colours.
    #[must_use]
    pub fn confused(&self, one: Face, other: Face) -> bool {
        self.mistakes.iter().any(|m| [[one, other], [other, one]].contains(&[m.read, m.truth]))
    }
}

/// How a pass ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum Verdict {
    /// The cube is solved.
    Solved,
    /// The pictures made no cube; nothing was turned.
    Unreadable,
    /// A jam stopped the run.
    Jammed,
    /// Something else stopped the run.
    Stopped,
    /// Everything was turned as planned, but a wrong state had been read.
    Misread,
    /// The run ended elsewhere than planned, without a jam.
    Lost,
}

impl Verdict {
    /// One word for the ledger.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Solved => "solved",
            Self::Unreadable => "unreadable",
            Self::Jammed => "jammed",
            Self::Stopped => "stopped",
            Self::Misread => "misread",
            Self::Lost => "lost",
        }
    }
}

/// All that one pass produced.
#[derive(Clone, Debug)]
pub struct Pass {
    /// The scene.
    pub scene: Arc<Scene>,
    /// Number of the trial.
    pub trial: u64,
    /// The true state that was scanned.
    pub truth: CubeState,
    /// The pictures.
    pub scan: Scan,
    /// What was read.
    pub reading: Reading,
    /// The reading against the truth.
    pub score: Score,
    /// The plan, where a state was read.
    pub plan: Option<Plan>,
    /// The run, where there was a plan.
    pub run: Option<Run>,
    /// How it ended.
    pub verdict: Verdict,
}

impl Pass {
    /// Whether the plan solves the state that was read, by applying it.
    #[must_use]
    pub fn plan_solves_reading(&self) -> Option<bool> {
        let state = self.reading.state()?;
        Some(state.turned_by(&self.plan.as_ref()?.turns()) == CubeState::SOLVED)
    }
}

impl Pass {
    /// From the start button to the last stop, where there was a run.
    #[must_use]
    pub fn start_to_stop(&self) -> Option<StartToStop> {
        let of = |total_s| StartToStop::of(&self.scene, total_s);
        self.run.as_ref().map(|run| of(run.total_s).read_in(&self.scene, self.reading.steps))
    }
}

/// The objective of least machine time on a scene's drive: what half and quarter turns
/// take there, waits and overlap included. It takes some simulated rows of beats;
/// [`Rehearser::least_time`] keeps it.
#[must_use]
pub fn least_time(scene: &Scene) -> Objective {
    objective(&Timing::of(scene))
}

/// The objective of least machine time under a timing.
#[must_use]
pub fn objective(timing: &Timing) -> Objective {
    let (quarter_s, half_s) = timing.beat_s();
    Objective::LeastTime(Weights::to_search(half_s / quarter_s))
}

/// What beats cost in a row on a scene's drive; `None` where it does not get through one
/// even if nothing is off.
#[must_use]
pub fn beat_costs(scene: &Scene) -> Option<BeatCosts> {
    Timing::of(scene).costs()
}

/// What all passes of one program run share: the seed and the planner.
pub struct Rehearser {
    seed: Seed,
    planner: OnceLock<Planner>,
    /// By the scene they were made for, the latest first.
    tuned: Mutex<Vec<(SceneFile, Tuned)>>,
}

/// What follows from a scene's drive alone.
type Tuned = (Objective, Transitions);

/// For so many scenes it is kept.
const KEPT: usize = 32;

impl Rehearser {
    /// A rehearser whose every draw follows from `seed`.
    #[must_use]
    pub fn new(seed: Seed) -> Self {
        Self { seed, planner: OnceLock::new(), tuned: Mutex::default() }
    }

    /// The seed.
    #[must_use]
    pub fn seed(&self) -> Seed {
        self.seed
    }

    /// The planner; its tables are built when first asked for.
    #[must_use]
    pub fn planner(&self) -> &Planner {
        self.planner.get_or_init(Planner::new)
    }

    /// A rig built from a drawing, with the errors of trial number `trial`.
    #[must_use]
    pub fn build(&self, scene: &Arc<Scene>, trial: u64) -> BuiltRig {
        BuiltRig::new(scene, self.seed, trial)
    }

    /// The random state of trial number `trial`.
    #[must_use]
    pub fn random_cube(&self, trial: u64) -> CubeState {
        random_state(&mut self.seed.stream("scramble", trial, 0))
    }

    /// [`least_time`], made once a scene.
    #[must_use]
    pub fn least_time(&self, scene: &Scene) -> Objective {
        self.tuned(scene).0
    }

    /// What beats cost after one another on a scene's drive, made once a scene.
    #[must_use]
    pub fn transitions(&self, scene: &Scene) -> Transitions {
        self.tuned(scene).1
    }

    fn tuned(&self, scene: &Scene) -> Tuned {
        let kept = || self.tuned.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((_, tuned)) = kept().iter().find(|(file, _)| file == scene.file()) {
            return *tuned;
        }
        // Not under the lock; two threads that come together find the same.
        let timing = Timing::of(scene);
        let tuned = (objective(&timing), timing.transitions());
        let mut kept = kept();
        kept.truncate(KEPT - 1);
        kept.insert(0, (scene.file().clone(), tuned));
        tuned
    }

    /// Plans for least machine time on a scene's drive, with the host's budget and
    /// without large tables, so that the plan is the same on every machine.
    #[must_use]
    pub fn plan(&self, scene: &Scene, state: &CubeState) -> Plan {
        let nodes = u64::from(scene.file().host.search_nodes);
        self.planner().plan(state, self.least_time(scene), nodes).plan
    }

    /// Executes a plan on a rig that holds `state`.
    #[must_use]
    pub fn execute(&self, rig: &BuiltRig, state: &CubeState, plan: &Plan) -> Run {
        simulate(rig.scene(), state, plan, self.seed.trial(rig.trial()))
    }

    /// Leads the faces that a run has left on their way to their stops, slowly.
    #[must_use]
    pub fn square(&self, rig: &BuiltRig, run: &Run) -> Squared {
        Machine::of(rig.scene()).square(&run.rest_deg, self.seed.trial(rig.trial()))
    }

    /// Scans, reads, plans, executes and judges.
    ///
    /// # Errors
    /// A calibration or rig whose frames do not fit the scene.
    pub fn rehearse(
        &self,
        rig: &BuiltRig,
        calibration: &Calibration,
        truth: &CubeState,
    ) -> Result<Pass, FrameError> {
        let scan = rig.scan(&Stickering::from(truth));
        self.rehearse_scan(rig, calibration, truth, scan)
    }

    /// Rehearses what follows on a scan that was made already.
    ///
    /// # Errors
    /// Frames that do not fit the scene.
    pub fn rehearse_scan(
        &self,
        rig: &BuiltRig,
        calibration: &Calibration,
        truth: &CubeState,
        scan: Scan,
    ) -> Result<Pass, FrameError> {
        let reading = self.read(rig, calibration, &scan.frames)?;
        let score = Score::of(&reading, truth);
        let plan = reading.state().map(|state| self.plan(rig.scene(), state));
        let run = plan.as_ref().map(|plan| self.execute(rig, truth, plan));
        let verdict = judge(&reading, &score, run.as_ref());
        let scene = rig.scene().clone();
        let (trial, truth) = (rig.trial(), *truth);
        Ok(Pass { scene, trial, truth, scan, reading, score, plan, run, verdict })
    }

    /// Reads frames with the patches of the rig's drawing.
    ///
    /// # Errors
    /// Frames that do not fit the scene.
    pub fn read(
        &self,
        rig: &BuiltRig,
        calibration: &Calibration,
        frames: &[Frame],
    ) -> Result<Reading, FrameError> {
        read(rig.patches(), calibration, frames)
    }
}

fn judge(reading: &Reading, score: &Score, run: Option<&Run>) -> Verdict {
    let Some(run) = run else {
        debug_assert!(matches!(reading.outcome, Outcome::Unreadable { .. }));
        return Verdict::Unreadable;
    };
    if run.jam().is_some() {
        Verdict::Jammed
    } else if run.stop().is_some() {
        Verdict::Stopped
    } else if run.final_state == CubeState::SOLVED {
        Verdict::Solved
    } else if score.right() {
        Verdict::Lost
    } else {
        Verdict::Misread
    }
}
