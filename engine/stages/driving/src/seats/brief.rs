//! What a seat is told before a run: what the data sheets and the drawing say.

use dryturn_handoff::Plan;

/// What a host is told before a run.
#[derive(Clone, Copy, Debug)]
pub struct HostBrief<'a> {
    /// What shall be turned.
    pub plan: &'a Plan,
    /// Time between two ticks of the controllers, s.
    pub tick_s: f64,
    /// Time between two questions, s; whole ticks.
    pub period_s: f64,
    /// Steps of an encoder in a turn of its shaft.
    pub counts_per_turn: u64,
    /// How near to its stop a face has settled, degrees.
    pub settle_window_deg: f64,
    /// How long it has to stay there where the scene's policy is to wait for that, ms.
    pub settle_dwell_ms: f64,
    /// What the scene gives a beat to settle in, ms.
    pub beat_limit_ms: f64,
    /// How far beyond its stop each axis is made to stand, to make up for its shaft's wind-up,
    /// degrees; faces in the order U R F D L B.
    pub beyond_deg: [f64; 6],
    /// From the decision until an axis has its command, as a rule, ms.
    pub latency_ms: f64,
    /// Spread of that, ms.
    pub jitter_sigma_ms: f64,
    /// Added before every beat but the first, ms.
    pub overhead_ms: f64,
    /// After how long a lost command is sent again, ms, and how often.
    pub resend_after_ms: f64,
    /// How often a command is sent again before the run is given up.
    pub most_resends: u32,
    /// How long after the link went dead the axes let go, ms.
    pub watchdog_ms: f64,
    /// How long the set-point of a quarter turn moves, s.
    pub quarter_turn_s: f64,
    /// How long that of a half turn does, s.
    pub half_turn_s: f64,
}

/// A point of a move's profile.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct ProfilePoint {
    /// Angle gone, degrees.
    pub angle_deg: f64,
    /// Speed, degrees/s.
    pub speed_deg_s: f64,
    /// Acceleration, degrees/s².
    pub acceleration_deg_s2: f64,
    /// Torque that goes with it by the drawing, N·m.
    pub feed_forward_n_m: f64,
}

/// What a controller is told before a run; all axes have the same motor.
#[derive(Clone, Copy, Debug)]
pub struct ControllerBrief<'a> {
    /// Time between two ticks, s.
    pub tick_s: f64,
    /// How long after the encoders were read its answer takes effect, s; whole ticks.
    pub latency_s: f64,
    /// Steps of an encoder in a turn of its shaft.
    pub counts_per_turn: u64,
    /// What currents are limited to, A (direct-current equivalent).
    pub current_limit_a: f64,
    /// What they are limited to once an axis rests at its stop, A.
    pub hold_current_a: f64,
    /// Torque over current.
    pub torque_constant_n_m_per_a: f64,
    /// Resistance of the winding.
    pub resistance_ohm: f64,
    /// Its inductance, mH.
    pub inductance_mh: f64,
    /// What an axis turns, with its motor.
    pub inertia_kg_m2: f64,
    /// Coulomb friction of a layer and its bearing.
    pub friction_n_m: f64,
    /// Friction over speed.
    pub viscous_n_m_s: f64,
    /// Voltage of the bus at rest.
    pub bus_v: f64,
    /// How near to its stop a face has settled, degrees.
    pub settle_window_deg: f64,
    /// How long the set-point of a quarter turn moves, s.
    pub quarter_turn_s: f64,
    /// How long that of a half turn does, s.
    pub half_turn_s: f64,
    /// The set-points of a quarter turn, one a tick; the last stands at its end.
    pub quarter_turn: &'a [ProfilePoint],
    /// Those of a half turn.
    pub half_turn: &'a [ProfilePoint],
}
