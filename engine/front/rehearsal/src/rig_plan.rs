//! A plan as a rig replays it: one row a turn, with times, a ceiling and checksums.

use core::fmt::{self, Write as _};

use dryturn_cube::{CubeState, net, notation};
use dryturn_driving::{BeatTime, Timing};
use dryturn_handoff::{Plan, Run};
use dryturn_scene::Scene;
use serde_json::{Value as Json, json};

use crate::ledger::digest;

/// Share of the planned speed and torque that a rig may use unless told otherwise:
/// for commissioning.
pub const COMMISSIONING_CEILING: f64 = 0.25;

/// Why a plan is not handed to a rig.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Refusal {
    /// The pictures made no cube.
    Unreadable,
    /// The plan does not solve the state that was read.
    DoesNotSolve,
    /// The plan was not simulated.
    NotSimulated,
    /// A simulated run jams or stops; the words say where.
    Fails(String),
}

impl fmt::Display for Refusal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Unreadable => f.write_str("nothing was read, so there is nothing to replay"),
            Self::DoesNotSolve => f.write_str("the plan does not solve the state that was read"),
            Self::NotSimulated => f.write_str("the plan was not simulated"),
            Self::Fails(why) => write!(f, "the simulated run fails in {why}"),
        }
    }
}

/// A plan with its times.
#[derive(Clone, Debug)]
pub struct RigPlan {
    scene: String,
    state: CubeState,
    plan: Plan,
    timing: Timing,
    textbook: Option<Plan>,
    ceiling_share: f64,
    /// Simulated runs that it was tried in.
    trials: usize,
    /// Refusals that were overruled.
    overruled: Vec<String>,
}

impl RigPlan {
    /// Of a plan that solves `state` and whose simulated runs are neither jammed nor stopped.
    /// `anyway` overrules refusals; the file then says so. `ceiling_share` is
    /// 0 to 1.
    ///
    /// # Errors
    /// Why a rig must not be given it.
    pub fn of(
        scene: &Scene,
        state: Option<&CubeState>,
        (plan, runs): (&Plan, &[Run]),
        (ceiling_share, anyway): (f64, bool),
    ) -> Result<Self, Refusal> {
        // Without a state there is nothing to overrule.
        let state = *state.ok_or(Refusal::Unreadable)?;
        let mut refusals = Vec::new();
        if state.turned_by(&plan.turns()) != CubeState::SOLVED {
            refusals.push(Refusal::DoesNotSolve);
        }
        if runs.is_empty() {
            refusals.push(Refusal::NotSimulated);
        }
        if let Some(why) = runs.iter().find_map(Run::failure) {
            refusals.push(Refusal::Fails(why));
        }
        let timing = Timing::of(scene);
        if timing.total_s(plan).is_none() {
            let why = "a rig without errors does not get through either".to_owned();
            refusals.push(Refusal::Fails(why));
        }
        if let Some(first) = refusals.first()
            && !anyway
        {
            return Err(first.clone());
        }
        Ok(Self {
            scene: scene.file().name.clone(),
            state,
            timing,
            plan: plan.clone(),
            textbook: None,
            ceiling_share,
            trials: runs.len(),
            overruled: refusals.iter().map(ToString::to_string).collect(),
        })
    }

    /// Puts the plan of a textbook search beside it.
    #[must_use]
    pub fn beside(self, textbook: &Plan) -> Self {
        Self { textbook: Some(textbook.clone()), ..self }
    }

    /// Predicted time from the first command to the last stop, s.
    #[must_use]
    pub fn total_s(&self) -> f64 {
        // Where the plan was overruled, as far as an error-free rig comes.
        let last_s = self.times().iter().map(|time| time.stop_s).fold(0.0, f64::max);
        self.timing.total_s(&self.plan).unwrap_or(last_s)
    }

    fn times(&self) -> Vec<BeatTime> {
        self.timing.predict(&self.plan)
    }

    /// What the total is made of: seconds that the slowest faces turn, and seconds
    /// between beats, waits less overlap (negative where overlap is more).
    fn parts_s(&self) -> (f64, f64) {
        let turning = self.times().iter().map(|time| time.stop_s - time.start_s).sum();
        (turning, self.total_s() - turning)
    }

    fn faces(&self) -> String {
        net::write_faces(&self.state.colours())
    }

    /// SHA-256 of the six named faces as the JSON holds them, hexadecimal.
    #[must_use]
    pub fn state_hash(&self) -> String {
        digest(self.faces().as_bytes())
    }

    /// The rows alone, without the checksum.
    fn rows(&self) -> String {
        let mut rows = String::from("beat,face,quarters,start_ms,duration_ms,ceiling_share,safe\n");
        // Where nobody reads comments.
        let safe = if self.overruled.is_empty() { "yes" } else { "no" };
        for (number, (beat, time)) in self.plan.beats.iter().zip(self.times()).enumerate() {
            for turn in &beat.turns {
                let quarters = turn.amount.angle_deg() / 90.0;
                let duration_s = self.timing.turn_s(*turn);
                // Writing to a String cannot fail.
                let _ = writeln!(
                    rows,
                    "{},{},{quarters},{:.3},{:.3},{},{safe}",
                    number + 1,
                    turn.face,
                    time.start_s * 1e3,
                    duration_s * 1e3,
                    self.ceiling_share
                );
            }
        }
        rows
    }

    fn body(&self) -> String {
        let overruled: String =
            self.overruled.iter().map(|why| format!("# UNSAFE, {why}\n")).collect();
        format!("# state {}\n{overruled}{}", self.state_hash(), self.rows())
    }

    /// Comma-separated rows, one a turn, between a line with the state's hash and one
    /// with the SHA-256 of all lines before it.
    #[must_use]
    pub fn csv(&self) -> String {
        let body = self.body();
        format!("{body}# sha256 {}\n", digest(body.as_bytes()))
    }

    /// The same as one JSON document, with what else is known.
    #[must_use]
    pub fn json(&self) -> Json {
        let (turning_s, waiting_s) = self.parts_s();
        let beats: Vec<Json> = self
            .plan
            .beats
            .iter()
            .zip(self.times())
            .map(|(beat, time)| {
                json!({
                    "turns": notation::format(&beat.turns),
                    "start_ms": time.start_s * 1e3,
                    "duration_ms": (time.stop_s - time.start_s) * 1e3,
                })
            })
            .collect();
        json!({
            "format": "dryturn rig plan 1",
            "scene": self.scene,
            "plan": self.plan.notation(),
            "beats": beats,
            "total_ms": self.total_s() * 1e3,
            "turning_ms": turning_s * 1e3,
            "between_ms": waiting_s * 1e3,
            "textbook": self.textbook.as_ref().map(|plan| json!({
                "plan": plan.notation(), "turns": plan.turns().len(),
                "total_ms": self.timing.total_s(plan).map(|s| s * 1e3),
            })),
            "ceiling_share": self.ceiling_share,
            "unsafe": self.overruled,
            "simulated_trials": self.trials,
            "faces": self.faces(),
            "state_hash": self.state_hash(),
            "csv_sha256": digest(self.body().as_bytes()),
        })
    }
}
