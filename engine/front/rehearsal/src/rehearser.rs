//! Who takes a cube through all stages.

use std::sync::{Arc, Mutex, OnceLock, PoisonError};

use dryturn_cube::{CubeState, Stickering, random_state};
use dryturn_driving::{Detail, Machine, Seated, Seats, Squared, Timing, Transitions, simulate};
use dryturn_handoff::{Frame, GuestFault, Plan, Reading, Run, Scan};
use dryturn_planning::{Objective, Planner};
use dryturn_reading::{Calibration, FrameError, read};
use dryturn_scene::Scene;
use dryturn_scene::file::SceneFile;
use dryturn_units::noise::Seed;

use crate::objective::by_beats;
use crate::pass::{Pass, Thought, judge};
use crate::rig::BuiltRig;
use crate::score::Score;
use crate::seats::{PlanCosts, PlannerSeat, Reader, SeatPlan, Stages, planner, reader};
use crate::start_to_stop::GuestCost;

/// What all passes of one program run share: the seed and the planner.
pub struct Rehearser {
    seed: Seed,
    planner: OnceLock<Planner>,
    /// By the scene they were made for, the latest first.
    tuned: Mutex<Vec<(SceneFile, Tuned)>>,
}

/// What follows from a scene's drive alone.
#[derive(Clone, Copy)]
struct Tuned {
    objective: Objective,
    costs: PlanCosts,
}

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
        self.tuned(scene).objective
    }

    /// What beats cost after one another on a scene's drive, made once a scene.
    #[must_use]
    pub fn transitions(&self, scene: &Scene) -> Transitions {
        self.tuned(scene).costs.transitions
    }

    fn tuned(&self, scene: &Scene) -> Tuned {
        let kept = || self.tuned.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((_, tuned)) = kept().iter().find(|(file, _)| file == scene.file()) {
            return *tuned;
        }
        // Not under the lock; two threads that come together find the same.
        let timing = Timing::of(scene);
        let costs = PlanCosts::of(&timing);
        let objective = by_beats((costs.quarter_turn_s, costs.half_turn_s));
        let tuned = Tuned { objective, costs };
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

    /// What turns cost on a scene's drive, made once a scene.
    #[must_use]
    pub fn plan_costs(&self, scene: &Scene) -> PlanCosts {
        self.tuned(scene).costs
    }

    /// Has somebody in the planner's seat plan for what turns cost on a scene's drive.
    ///
    /// # Errors
    /// They cannot go on, or the plan does not solve the cube.
    pub fn plan_with(
        &self,
        scene: &Scene,
        state: &CubeState,
        seat: &mut dyn PlannerSeat,
    ) -> Result<SeatPlan, GuestFault> {
        planner::plan(seat, state, &self.plan_costs(scene))
    }

    /// Executes a plan on a rig that holds `state`.
    #[must_use]
    pub fn execute(&self, rig: &BuiltRig, state: &CubeState, plan: &Plan) -> Run {
        simulate(rig.scene(), state, plan, self.seed.trial(rig.trial()))
    }

    /// The same with whoever sits at the drive.
    #[must_use]
    pub fn execute_with(
        &self,
        rig: &BuiltRig,
        state: &CubeState,
        plan: &Plan,
        seats: Seats<'_>,
    ) -> Seated {
        let draw = self.seed.trial(rig.trial());
        Machine::of(rig.scene()).run_with(state, plan, draw, Detail::Trace, seats)
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
        self.rehearse_with(rig, truth, &mut Stages::ours(calibration))
    }

    /// The same by whoever plays the stages.
    ///
    /// # Errors
    /// A calibration or rig whose frames do not fit the scene.
    pub fn rehearse_with(
        &self,
        rig: &BuiltRig,
        truth: &CubeState,
        stages: &mut Stages<'_>,
    ) -> Result<Pass, FrameError> {
        let scan = rig.scan(&Stickering::from(truth));
        self.rehearse_scan(rig, truth, scan, stages)
    }

    /// Rehearses what follows on a scan that was made already. A guest that cannot go on ends the
    /// pass: that is its verdict.
    ///
    /// # Errors
    /// Frames that do not fit the scene.
    pub fn rehearse_scan(
        &self,
        rig: &BuiltRig,
        truth: &CubeState,
        scan: Scan,
        stages: &mut Stages<'_>,
    ) -> Result<Pass, FrameError> {
        let (scene, guests) = (rig.scene().clone(), stages.guests());
        let (reading, mut fault) = self.read_by(rig, &mut stages.reader, &scan.frames)?;
        let score = Score::of(&reading, truth);
        let mut thought =
            Thought { reading_ms: stages.latency_ms.reader, planning: GuestCost::default() };
        let plan = match (reading.state(), &mut stages.planner) {
            (None, _) => None,
            (Some(state), None) => Some(self.plan(&scene, state)),
            (Some(state), Some(seat)) => match self.plan_with(&scene, state, &mut **seat) {
                Ok(SeatPlan { plan, operations }) => {
                    let latency_ms = stages.latency_ms.planner;
                    thought.planning = GuestCost { latency_ms, operations };
                    Some(plan)
                }
                Err(failed) => {
                    fault = Some(failed);
                    None
                }
            },
        };
        let (mut run, mut stopped_because) = (None, None);
        if let Some(plan) = &plan {
            let seated = self.execute_with(rig, truth, plan, stages.driving());
            (run, fault, stopped_because) =
                (Some(seated.run), seated.fault, seated.stopped_because);
        }
        let verdict = judge(&reading, &score, run.as_ref(), fault.is_some());
        let (trial, truth) = (rig.trial(), *truth);
        Ok(Pass {
            scene,
            trial,
            truth,
            scan,
            reading,
            score,
            plan,
            run,
            verdict,
            guests,
            fault,
            stopped_because,
            thought,
        })
    }

    /// Has whoever reads read frames; the fault of a guest that cannot, beside a reading without a
    /// cube.
    ///
    /// # Errors
    /// Frames that do not fit the scene.
    pub fn read_by(
        &self,
        rig: &BuiltRig,
        who: &mut Reader<'_>,
        frames: &[Frame],
    ) -> Result<(Reading, Option<GuestFault>), FrameError> {
        match who {
            Reader::Ours(calibration) => Ok((self.read(rig, calibration, frames)?, None)),
            Reader::Guest(seat) => Ok(reader::read_by(&mut **seat, rig.scene(), frames)),
        }
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
