//! Who takes a cube through all stages.

use std::sync::{Arc, Mutex, OnceLock, PoisonError};

use dryturn_cube::{CubeState, Stickering, random_state};
use dryturn_driving::{Machine, Squared, Timing, Transitions, simulate};
use dryturn_handoff::{Frame, Plan, Reading, Run, Scan};
use dryturn_planning::{Objective, Planner};
use dryturn_reading::{Calibration, FrameError, read};
use dryturn_scene::Scene;
use dryturn_scene::file::SceneFile;
use dryturn_units::noise::Seed;

use crate::objective::objective;
use crate::pass::{Pass, judge};
use crate::rig::BuiltRig;
use crate::score::Score;

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

    /// [`least_time`](crate::least_time), made once a scene.
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
