//! A guest that controls the axes.

pub mod record;

use dryturn_handoff::GuestRole;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value;

use crate::command::{GuestCommand, Limits};
use crate::fault::{FaultKind, ProcessFault, Question};
use crate::protocol::{Answer, Fields, Session};

/// What a controller knows before a run: what a data sheet and the drawing say of an axis.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ControlBegin {
    /// From one record to the next, s.
    pub tick_s: f64,
    /// How many there are: 6, in the order U R F D L B.
    pub axes: u32,
    /// Steps of an encoder in one revolution.
    pub counts_per_turn: u32,
    /// The drive's limit, A.
    pub current_limit_a: f64,
    /// Torque of a current; also the back-EMF constant, V·s/rad.
    pub torque_constant_n_m_per_a: f64,
    /// Of all that turns with one motor, as drawn.
    pub inertia_kg_m2: f64,
    /// Coulomb friction of a layer, as drawn.
    pub friction_n_m: f64,
    /// Friction that grows with speed.
    pub viscous_friction_n_m_s: f64,
    /// Voltage of the supply without load.
    pub bus_v: f64,
    /// From a record until what is asked for takes effect, s; whole ticks.
    pub latency_s: f64,
    /// What currents are limited to once an axis rests at its stop, A.
    pub hold_current_a: f64,
    /// Resistance of the winding.
    pub resistance_ohm: f64,
    /// Its inductance, mH.
    pub inductance_mh: f64,
    /// So near to its stop a face counts as settled, degrees.
    pub settle_window_deg: f64,
    /// How moves are planned to run.
    pub moves: DeclaredMoves,
}

/// How the drive's own profile moves a face.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct DeclaredMoves {
    /// Its kind, as in the scene's `drive.profile`.
    pub profile: String,
    /// Share of the torque limit that it uses, 0 to 1.
    pub planned_torque_share: f64,
    /// Its highest speed.
    pub speed_limit_rad_s: f64,
    /// Its highest acceleration, where the kind has one.
    pub acceleration_limit_rad_s2: f64,
    /// How long a quarter turn takes.
    pub quarter_turn_s: f64,
    /// How long a half turn takes.
    pub half_turn_s: f64,
}

/// What a controller answers with.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum ControlMode {
    /// Currents.
    Current,
    /// Set-points of the built-in controller: angle, speed, torque fed forward.
    Setpoint,
}

/// The answer to `begin`.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(deny_unknown_fields)]
pub(crate) struct ControlBegun {
    /// What its records will hold.
    pub(crate) answers: ControlMode,
}

impl Answer for ControlBegun {
    fn of(result: Value) -> Result<Self, FaultKind> {
        let mut fields = Fields::of(result)?;
        let answers = fields.required("answers", r#""current" or "setpoint""#, |value| {
            ControlMode::deserialize(value).ok()
        })?;
        fields.end()?;
        Ok(Self { answers })
    }
}

/// What a controller sees at a tick.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ControlView {
    /// Number of the tick.
    pub tick: u64,
    /// Since the start of the run, s.
    pub time_s: f64,
    /// Voltage of the bus.
    pub bus_v: f64,
    /// By axis, in the order U R F D L B.
    pub axes: [AxisView; 6],
}

/// What it sees of an axis.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct AxisView {
    /// Steps of the encoder since homing.
    pub encoder_counts: i32,
    /// 0 before the first move; grows with every move that is commanded.
    pub move_number: u32,
    /// Current in the winding, A.
    pub current_a: f64,
    /// Where the commanded move ends, degrees since homing.
    pub target_deg: f64,
}

/// What it does about it, by axis, in the order U R F D L B.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct ControlAnswer {
    /// What each shall do.
    pub axes: [AxisAnswer; 6],
}

/// What an axis shall do until the next tick. All numbers are finite.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum AxisAnswer {
    /// A current to ask for, at most a million A either way; whoever takes it keeps the drive's
    /// limit.
    Current {
        /// The current, A.
        current_a: f64,
    },
    /// A set-point.
    Setpoint {
        /// Degrees since homing, at most a million either way.
        angle_deg: f64,
        /// Degrees a second, at most a million either way.
        speed_deg_s: f64,
        /// Torque that is fed forward, N·m, at most a million either way.
        torque_n_m: f64,
    },
}

/// A guest that controls.
pub struct GuestController {
    session: Session,
    /// What it answers with, between `begin` and `end`.
    mode: Option<ControlMode>,
}

impl GuestController {
    /// Starts it.
    ///
    /// # Errors
    /// See [`Session::start`].
    pub fn start(command: &GuestCommand, limits: Limits) -> Result<Self, ProcessFault> {
        let session = Session::start(GuestRole::Controller, command, limits)?;
        Ok(Self { session, mode: None })
    }

    /// The conversation: the guest's name, how long it thought.
    #[must_use]
    pub fn session(&self) -> &Session {
        &self.session
    }

    /// Begins a run; one that goes on is ended first. Gives what the guest will answer with.
    ///
    /// # Errors
    /// It does not answer as it must.
    pub fn begin(&mut self, begin: &ControlBegin) -> Result<ControlMode, ProcessFault> {
        self.end()?;
        let begun = self.session.ask(Question::Begin, begin);
        // It waits for records now, whatever it said; a refusal leaves it waiting for lines.
        let begun = begun.map_err(|fault| match fault.kind {
            FaultKind::BadField { .. } => self.session.ended_by(fault),
            _ => fault,
        });
        let ControlBegun { answers } = begun?;
        self.mode = Some(answers);
        Ok(answers)
    }

    /// Asks what to do at a tick of the run.
    ///
    /// # Errors
    /// It gives up or does not answer as it must; or no run has begun.
    pub fn tick(&mut self, view: &ControlView) -> Result<ControlAnswer, ProcessFault> {
        let Some(mode) = self.mode else {
            let why = "no run has begun".to_owned();
            return Err(self.session.fault(Question::Record, FaultKind::NotStarted { why }));
        };
        let asked = record::view(view, false);
        let bytes = self.session.exchange_record(Question::Record, &asked, record::ANSWER_BYTES)?;
        let answer = record::answer(bytes, mode, view.tick);
        answer.map_err(|kind| self.session.fault(Question::Record, kind))
    }

    /// Ends the run: the guest is asked in lines again. It does not answer that.
    ///
    /// # Errors
    /// It no longer listens.
    pub fn end(&mut self) -> Result<(), ProcessFault> {
        if self.mode.take().is_some() {
            let end = record::view(&ControlView::default(), true);
            self.session.exchange_record(Question::Record, &end, 0)?;
        }
        Ok(())
    }

    /// Lets it end, and the run with it.
    ///
    /// # Errors
    /// See [`Session::goodbye`].
    pub fn goodbye(mut self) -> Result<(), ProcessFault> {
        self.end()?;
        self.session.goodbye()
    }
}
