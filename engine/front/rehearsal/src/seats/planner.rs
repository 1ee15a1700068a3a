//! The planner's seat: the cube that was read in, turns out.

use dryturn_cube::CubeState;
use dryturn_driving::{BeatCosts, Timing, Transitions};
use dryturn_handoff::{Beat, GuestFault, GuestRole, Plan, SeatFault};

/// Most turns of a plan from a seat.
pub const MOST_TURNS: usize = 200;

/// What turns cost on the scene's drive, if nothing is off.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct PlanCosts {
    /// From the start of a quarter turn to the start of the next beat, s.
    pub quarter_turn_s: f64,
    /// The same of a half turn.
    pub half_turn_s: f64,
    /// What beats cost in a row; `None` where the drive does not get through one.
    pub beats: Option<BeatCosts>,
    /// What beats cost after one another.
    pub transitions: Transitions,
}

impl PlanCosts {
    /// Under a timing.
    pub(crate) fn of(timing: &Timing) -> Self {
        let beats = timing.costs();
        let (quarter_turn_s, half_turn_s) = timing.beat_s_by(beats);
        Self { quarter_turn_s, half_turn_s, beats, transitions: timing.transitions() }
    }
}

/// A planner's answer.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct SeatPlan {
    /// What shall be turned.
    pub plan: Plan,
    /// What finding it cost: nodes of a search, as the rig's clock charges them.
    pub operations: u64,
}

/// Whoever sits in the planner's place.
pub trait PlannerSeat {
    /// What it calls itself.
    fn name(&self) -> &str;

    /// Turns that solve a cube, at most [`MOST_TURNS`]: one a beat, or two of opposite faces.
    ///
    /// # Errors
    /// It cannot go on.
    fn plan(&mut self, read: &CubeState, costs: &PlanCosts) -> Result<SeatPlan, SeatFault>;
}

/// Has somebody plan; a plan that does not solve the cube is a fault.
pub(crate) fn plan(
    planner: &mut dyn PlannerSeat,
    read: &CubeState,
    costs: &PlanCosts,
) -> Result<SeatPlan, GuestFault> {
    let planned = planner.plan(read, costs).and_then(|planned| solves(planned, read));
    planned.map_err(|fault| GuestFault::of(GuestRole::Planner, planner.name(), fault))
}

fn solves(planned: SeatPlan, read: &CubeState) -> Result<SeatPlan, SeatFault> {
    let fault = |kind, wrong| Err(SeatFault::new("plan", kind, wrong));
    let turns = planned.plan.turns();
    if turns.len() > MOST_TURNS {
        let wrong = format!("its plan has {} turns: must be at most {MOST_TURNS}", turns.len());
        return fault("too_many_turns", wrong);
    }
    let together = |beat: &Beat| match beat.turns[..] {
        [_] => true,
        [one, other] => one.face == other.face.opposite(),
        _ => false,
    };
    if let Some(number) = planned.plan.beats.iter().position(|beat| !together(beat)) {
        let wrong = format!(
            "beat {} of its plan is neither one turn nor two of opposite faces",
            number + 1
        );
        return fault("no_beat", wrong);
    }
    if read.turned_by(&turns) != CubeState::SOLVED {
        let wrong = format!("its plan does not solve the cube: {}", planned.plan.notation());
        return fault("does_not_solve", wrong);
    }
    Ok(planned)
}
