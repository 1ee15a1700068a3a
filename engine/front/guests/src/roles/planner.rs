//! A guest that plans the turns.

use dryturn_cube::{CubeState, notation};
use dryturn_handoff::{GuestRole, Plan};
use dryturn_rehearsal::MOST_TURNS;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use crate::command::{GuestCommand, Limits};
use crate::fault::{FaultKind, ProcessFault, Question};
use crate::protocol::{Answer, Fields, Session};

/// What turns cost on the scene's drive, seconds from the start of one beat to the start of the
/// next.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlanCosts {
    /// A quarter turn after a quarter turn.
    pub quarter_turn_s: f64,
    /// A half turn after a half turn.
    pub half_turn_s: f64,
    /// Quarter turns of two opposite faces together, in a row.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub pair_s: Option<f64>,
    /// From a quarter turn's stop to the start of the next beat; negative where they overlap.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub between_s: Option<f64>,
    /// The same by kind and sense of both turns, where the drive gets through.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub row: Option<RowCosts>,
}

/// What beats cost after one another. A kind is 0 for a quarter and 1 for a half turn; two turns
/// have the same sense where both are clockwise or both anticlockwise, each seen from outside its
/// own face, a half turn being clockwise.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RowCosts {
    /// From the first command to the first start, s.
    pub first_s: f64,
    /// `[kind][next kind][0: opposite senses, 1: the same]`, s from start to start. Beats of two
    /// wait for the slowest of all pairs.
    pub between_s: [[[f64; 2]; 2]; 2],
    /// What a beat of two takes longer than its slower turn alone, s: of quarter turns, and with
    /// a half turn in it.
    pub pair_longer_s: [f64; 2],
    /// From the start of the last turn to its stop, s, by kind.
    pub last_s: [f64; 2],
}

/// A question to a planner.
#[derive(Clone, Copy, Debug, Serialize, JsonSchema)]
pub(crate) struct PlanQuestion {
    /// The cube that was read.
    pub(crate) cube: CubeState,
    /// What turns cost.
    pub(crate) costs: PlanCosts,
}

/// Its answer.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct PlanResult {
    /// Turns in WCA notation, separated by spaces, 0 to 200 of them, that solve the cube.
    pub(crate) turns: String,
    /// What finding them costs on the rig's clock, in nodes of a search.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) operations: Option<u64>,
}

impl Answer for PlanResult {
    fn of(result: Value) -> Result<Self, FaultKind> {
        let mut fields = Fields::of(result)?;
        let turns =
            fields.required("turns", "turns in WCA notation, separated by spaces", |v| {
                v.as_str().map(str::to_owned)
            })?;
        let operations = fields.operations()?;
        fields.end()?;
        Ok(Self { turns, operations })
    }
}

/// A plan that has been applied and found to solve its cube.
#[derive(Clone, Debug, PartialEq)]
pub struct Planned {
    /// The plan; neighbouring turns of opposite faces are one beat.
    pub plan: Plan,
    /// What finding it costs on the rig's clock, in nodes of a search; 0 where the guest does
    /// not say.
    pub operations: u64,
}

/// A guest that plans.
pub struct GuestPlanner(Session);

impl GuestPlanner {
    /// Starts it.
    ///
    /// # Errors
    /// See [`Session::start`].
    pub fn start(command: &GuestCommand, limits: Limits) -> Result<Self, ProcessFault> {
        Session::start(GuestRole::Planner, command, limits).map(Self)
    }

    /// The conversation: the guest's name, how long it thought.
    #[must_use]
    pub fn session(&self) -> &Session {
        &self.0
    }

    /// Asks for a plan that solves a cube.
    ///
    /// # Errors
    /// No plan, or one that does not solve the cube.
    pub fn plan(&mut self, cube: &CubeState, costs: &PlanCosts) -> Result<Planned, ProcessFault> {
        let question = PlanQuestion { cube: *cube, costs: *costs };
        let answer: PlanResult = self.0.ask(Question::Plan, &question)?;
        planned(cube, &answer).map_err(|kind| self.0.fault(Question::Plan, kind))
    }

    /// Lets it end.
    ///
    /// # Errors
    /// See [`Session::goodbye`].
    pub fn goodbye(self) -> Result<(), ProcessFault> {
        self.0.goodbye()
    }
}

fn planned(cube: &CubeState, answer: &PlanResult) -> Result<Planned, FaultKind> {
    let count = answer.turns.split_whitespace().count();
    if count > MOST_TURNS {
        return Err(FaultKind::TooManyTurns { count: count as u64, most: MOST_TURNS as u64 });
    }
    let wrong = |error| {
        FaultKind::bad_field("turns", format!("{:?}", answer.turns), format!("turns: {error}"))
    };
    let turns = notation::parse(&answer.turns).map_err(wrong)?;
    if cube.turned_by(&turns) != CubeState::SOLVED {
        return Err(FaultKind::DoesNotSolve { turns: notation::format(&turns) });
    }
    Ok(Planned { plan: Plan::of_turns(&turns), operations: answer.operations.unwrap_or(0) })
}
