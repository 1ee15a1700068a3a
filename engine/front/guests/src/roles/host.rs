//! A guest that tells the axes when to turn.

use dryturn_cube::{Face, Turn};
use dryturn_driving::HostBrief;
use dryturn_handoff::GuestRole;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use crate::command::{GuestCommand, Limits};
use crate::fault::{FaultKind, ProcessFault, Question};
use crate::protocol::{Answer, Fields, Null, Session};
use crate::visible::visible;

/// What a host knows before a run: the plan, and what the scene's link and hand-over declare.
#[derive(Clone, Debug, Default, PartialEq, Serialize, JsonSchema)]
pub struct HostBegin {
    /// The plan: of each beat its turns, one, or two of opposite faces.
    pub beats: Vec<Vec<Turn>>,
    /// From one question to the next, s.
    pub tick_s: f64,
    /// Steps of an encoder in one revolution.
    pub counts_per_turn: u32,
    /// How near to its stop a face counts as settled, degrees.
    pub settle_window_deg: f64,
    /// How long it must stay there, ms.
    pub settle_dwell_ms: f64,
    /// A beat that has not settled after this is given up, ms.
    pub beat_limit_ms: f64,
    /// From a command until the axis has it, mean, ms.
    pub latency_ms: f64,
    /// Its spread, ms.
    pub latency_sigma_ms: f64,
    /// How far from its stop a face may be when the next one begins, degrees.
    pub release_angle_deg: f64,
    /// Before every answer with turns but the first the drive waits so long, ms.
    pub overhead_ms: f64,
    /// A lost command is sent again after so long, ms.
    pub resend_after_ms: f64,
    /// How often it is sent again before the run is given up.
    pub most_resends: u32,
    /// So long after the link went dead the axes let go, ms.
    pub watchdog_ms: f64,
    /// How far beyond each stop its axis is made to stand, to make up for the shaft's wind-up,
    /// degrees in the sense of the turn; in the order U R F D L B.
    pub beyond_deg: [f64; 6],
    /// How long the set-point of a quarter turn moves, s.
    pub quarter_turn_s: f64,
    /// How long that of a half turn does, s.
    pub half_turn_s: f64,
}

impl HostBegin {
    /// What a seat is told of a run, and the angle at which a scene's own host releases.
    #[must_use]
    pub fn of(brief: &HostBrief<'_>, release_angle_deg: f64) -> Self {
        Self {
            beats: brief.plan.beats.iter().map(|beat| beat.turns.clone()).collect(),
            tick_s: brief.period_s,
            counts_per_turn: u32::try_from(brief.counts_per_turn).unwrap_or(u32::MAX),
            settle_window_deg: brief.settle_window_deg,
            settle_dwell_ms: brief.settle_dwell_ms,
            beat_limit_ms: brief.beat_limit_ms,
            latency_ms: brief.latency_ms,
            latency_sigma_ms: brief.jitter_sigma_ms,
            release_angle_deg,
            overhead_ms: brief.overhead_ms,
            resend_after_ms: brief.resend_after_ms,
            most_resends: brief.most_resends,
            watchdog_ms: brief.watchdog_ms,
            beyond_deg: brief.beyond_deg,
            quarter_turn_s: brief.quarter_turn_s,
            half_turn_s: brief.half_turn_s,
        }
    }
}

/// What the link shows at a tick. By axis, in the order U R F D L B; degrees since homing,
/// clockwise positive, seen from outside the face.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct HostView {
    /// Since the start of the run, s.
    pub time_s: f64,
    /// What the encoders read.
    pub encoder_deg: [f64; 6],
    /// Where the set-points are.
    pub setpoint_deg: [f64; 6],
    /// Whether the set-points move.
    pub busy: [bool; 6],
}

/// What a host does about it.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct HostAnswer {
    /// Turns that start now, each face once.
    pub turns: Vec<Turn>,
    /// The plan is finished.
    pub done: bool,
    /// Why it gives up.
    pub stop: Option<String>,
}

/// The same on the wire.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct HostResult {
    /// Turns that start now, each face once; usually left out.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    #[schemars(length(max = 6))]
    pub(crate) turn: Option<Vec<Turn>>,
    /// True where the plan is finished.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) done: Option<bool>,
    /// Why the host gives up, in its own words.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(crate) stop: Option<String>,
}

impl Answer for HostAnswer {
    fn of(result: Value) -> Result<Self, FaultKind> {
        const TURN: &str = "a list of turns in WCA notation, each face once";
        let mut fields = Fields::of(result)?;
        let turns: Vec<Turn> = fields
            .optional("turn", TURN, |value| {
                let turns = value.as_array()?.iter().map(|turn| Turn::deserialize(turn).ok());
                turns.collect::<Option<Vec<Turn>>>().filter(|turns| once(turns))
            })?
            .unwrap_or_default();
        let done = fields.optional("done", "true or false", Value::as_bool)?.unwrap_or(false);
        let stop = fields.text("stop")?.map(|why| visible(&why, 200));
        fields.end()?;
        if !turns.is_empty() && (done || stop.is_some()) {
            let allowed = "left out where the host is done or stops";
            let shown: Vec<String> = turns.iter().map(Turn::to_string).collect();
            return Err(FaultKind::bad_field("turn", format!("{shown:?}"), allowed));
        }
        Ok(Self { turns, done, stop })
    }
}

fn once(turns: &[Turn]) -> bool {
    Face::ALL.iter().all(|&face| turns.iter().filter(|turn| turn.face == face).count() <= 1)
}

/// A guest that commands the turns.
pub struct GuestHost(Session);

impl GuestHost {
    /// Starts it.
    ///
    /// # Errors
    /// See [`Session::start`].
    pub fn start(command: &GuestCommand, limits: Limits) -> Result<Self, ProcessFault> {
        Session::start(GuestRole::Host, command, limits).map(Self)
    }

    /// The conversation: the guest's name, how long it thought.
    #[must_use]
    pub fn session(&self) -> &Session {
        &self.0
    }

    /// Begins a run.
    ///
    /// # Errors
    /// It does not answer as it must.
    pub fn begin(&mut self, begin: &HostBegin) -> Result<(), ProcessFault> {
        self.0.ask(Question::Begin, begin).map(|Null| ())
    }

    /// Asks what to do at a tick of the run.
    ///
    /// # Errors
    /// It does not answer as it must.
    pub fn tick(&mut self, view: &HostView) -> Result<HostAnswer, ProcessFault> {
        self.0.ask(Question::Tick, view)
    }

    /// Lets it end.
    ///
    /// # Errors
    /// See [`Session::goodbye`].
    pub fn goodbye(self) -> Result<(), ProcessFault> {
        self.0.goodbye()
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;

    #[test]
    fn answers_are_read_strictly() {
        assert_eq!(HostAnswer::of(json!({})), Ok(HostAnswer::default()));
        let two = HostAnswer::of(json!({"turn": ["R", "L'"]})).unwrap();
        assert_eq!(two.turns.len(), 2);
        assert!(HostAnswer::of(json!({"done": true, "turn": []})).unwrap().done);
        for wrong in [
            json!({"turn": ["R", "R2"]}),
            json!({"turn": ["R L"]}),
            json!({"turn": "R"}),
            json!({"turn": ["R"], "done": true}),
            json!({"done": 1}),
            json!({"turns": ["R"]}),
            json!(null),
        ] {
            let kind = HostAnswer::of(wrong.clone()).unwrap_err();
            assert_eq!(kind.name(), "bad_field", "{wrong}");
        }
    }
}
