//! A plan for a rig: planned, simulated and timed below a ceiling, each turn with what must
//! hold before it starts, and proved by executions that follow the very file.

mod document;
mod draft;
mod fault;
mod file;
mod files;
mod header;
mod proof;
mod read_row;
mod refusal;
mod remarks;
mod rows;
mod words;

use dryturn_cube::{CubeState, Turn, net};
use dryturn_driving::{Ceiling, Timing};
use dryturn_handoff::{CueSheet, Plan, Run};
use dryturn_planning::Objective;
use dryturn_rehearsal::{Rehearser, objective};
use dryturn_scene::Scene;
use dryturn_scene::file::Policy;
use dryturn_units::noise::Seed;

pub use document::{RigBeat, RigPlanDocument, RigTextbook};
use draft::Draft;
pub use fault::RigFileError;
pub use file::RigFile;
pub use proof::{Followed, FollowedCounts};
pub use refusal::Refusal;
use refusal::failures;
pub use rows::RowTime;

use crate::digest;

/// Share of the torque above friction that a rig may use unless told otherwise: for
/// commissioning.
pub const COMMISSIONING_CEILING: f64 = 0.25;
/// Executions that a plan for a rig must come through: none failing of so many supports
/// fewer than one in a hundred at 95 % confidence.
pub const PROOF_EXECUTIONS: usize = 300;

/// What a plan for a rig is made with.
#[derive(Clone, Copy, Debug)]
pub struct RigRequest {
    /// Share of the torque above friction, 0.01 to 1.
    pub ceiling_share: f64,
    /// Whether refusals are overruled; the file then says so.
    pub anyway: bool,
    /// Of the executions.
    pub seed: Seed,
}

/// A plan for a rig.
#[derive(Clone, Debug)]
pub struct RigPlan {
    scene: String,
    state: CubeState,
    plan: Plan,
    timing: Timing,
    textbook: Option<Plan>,
    ceiling: Ceiling,
    /// As it is read back from the file.
    sheet: CueSheet,
    /// If nothing is off.
    run: Run,
    followed: Followed,
    policy: Policy,
    /// Why its policy was replaced by waiting.
    replaced: Option<String>,
    /// Refusals that were overruled.
    overruled: Vec<String>,
    about: Vec<String>,
    drive: String,
}

impl RigPlan {
    /// Of a plan that solves `state`, started by the scene's policy at the ceiling; where that
    /// does not hold in every one of [`PROOF_EXECUTIONS`], by waiting until all faces have
    /// settled.
    ///
    /// # Errors
    /// Why a rig must not be given it.
    pub fn of(
        scene: &Scene,
        state: Option<&CubeState>,
        plan: &Plan,
        request: RigRequest,
    ) -> Result<Self, Refusal> {
        let share = request.ceiling_share;
        let ceiling = Ceiling::of(scene, share).ok_or(Refusal::Ceiling(share))?;
        // Without a state there is nothing to overrule.
        let state = *state.ok_or(Refusal::Unreadable)?;
        let mut refusals = Vec::new();
        if state.turned_by(&plan.turns()) != CubeState::SOLVED {
            refusals.push(Refusal::DoesNotSolve);
        }
        if !refusals.is_empty() && !request.anyway {
            return Err(refusals.swap_remove(0));
        }
        let policy = scene.file().handover.policy;
        let timing = Timing::below(scene, ceiling);
        let draft =
            |waiting: bool| Draft::of(scene, (&timing, ceiling), plan, waiting, request.seed);
        let mut draft_of = draft(false)?;
        let mut replaced = None;
        if draft_of.followed.failures() > 0 && policy != Policy::Settle {
            replaced = Some(failures(&draft_of.followed));
            draft_of = draft(true)?;
        }
        let Draft { sheet, run, followed } = draft_of;
        if followed.failures() > 0 {
            refusals.push(Refusal::Fails(ceiling.share(), Box::new(followed.clone())));
        }
        if let Some(first) = refusals.first()
            && !request.anyway
        {
            return Err(first.clone());
        }
        let mut made = Self {
            scene: scene.file().name.clone(),
            state,
            plan: plan.clone(),
            timing,
            textbook: None,
            ceiling,
            sheet,
            run,
            followed,
            policy,
            replaced,
            overruled: refusals.iter().map(ToString::to_string).collect(),
            about: Vec::new(),
            drive: String::new(),
        };
        made.about = remarks::about(scene, ceiling, &made.state_hash(), &made.how());
        made.drive = header::header(scene, ceiling, &made.sheet, &made.about);
        Ok(made)
    }

    /// A state's plan for a rig, planned for least machine time at the ceiling.
    ///
    /// # Errors
    /// Why a rig must not be given it.
    pub fn below(
        rehearser: &Rehearser,
        scene: &Scene,
        state: Option<&CubeState>,
        ceiling_share: f64,
    ) -> Result<Self, Refusal> {
        let objective =
            least_time_below(scene, ceiling_share).ok_or(Refusal::Ceiling(ceiling_share))?;
        let nodes = u64::from(scene.file().host.search_nodes);
        let known = state.ok_or(Refusal::Unreadable)?;
        let plan = rehearser.planner().plan(known, objective, nodes).plan;
        let request = RigRequest { ceiling_share, anyway: false, seed: rehearser.seed() };
        Self::of(scene, state, &plan, request)
    }

    /// Puts the plan of a textbook search beside it.
    #[must_use]
    pub fn beside(self, textbook: &Plan) -> Self {
        Self { textbook: Some(textbook.clone()), ..self }
    }

    /// Predicted time from the first start until all faces have settled, s; where the plan was
    /// overruled, as far as a rig without errors comes.
    #[must_use]
    pub fn total_s(&self) -> f64 {
        self.run.total_s - self.first_s()
    }

    fn first_s(&self) -> f64 {
        self.run.beats.first().map_or(0.0, |beat| beat.start_s())
    }

    /// Seconds that the slowest faces turn, by their set-points, one beat after the other.
    #[must_use]
    pub fn turning_s(&self) -> f64 {
        let slowest =
            |turns: &[Turn]| turns.iter().map(|turn| self.timing.turn_s(*turn)).fold(0.0, f64::max);
        self.plan.beats.iter().map(|beat| slowest(&beat.turns)).sum()
    }

    /// What the executions that followed it came to.
    #[must_use]
    pub fn followed(&self) -> &Followed {
        &self.followed
    }

    /// Whether a turn may start before its neighbours have settled.
    #[must_use]
    pub fn overlaps(&self) -> bool {
        self.sheet.overlaps()
    }

    /// Whether a firmware may take it for safe.
    #[must_use]
    pub fn safe(&self) -> bool {
        self.overruled.is_empty()
    }

    fn faces(&self) -> String {
        net::write_faces(&self.state.colours())
    }

    /// SHA-256 of the six named faces as the JSON holds them, hexadecimal.
    #[must_use]
    pub fn state_hash(&self) -> String {
        digest(self.faces().as_bytes())
    }
}

/// The objective of least machine time on a scene's drive below a ceiling; `None` for a
/// ceiling out of range.
#[must_use]
pub fn least_time_below(scene: &Scene, ceiling_share: f64) -> Option<Objective> {
    Some(objective(&Timing::below(scene, Ceiling::of(scene, ceiling_share)?)))
}
