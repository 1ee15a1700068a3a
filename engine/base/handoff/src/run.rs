//! What the axes made of a plan.

use core::fmt;

use dryturn_cube::{CubeState, Face, Turn};

/// When a shaft moved.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TurnRun {
    /// What it turned.
    pub turn: Turn,
    /// When it began to move, seconds from the start.
    pub start_s: f64,
    /// When it had ended its profile.
    pub stop_s: f64,
}

/// When a beat ran.
#[derive(Clone, Debug, PartialEq)]
pub struct BeatRun {
    /// Index in the plan, from 0.
    pub beat: usize,
    /// Its one or two turns.
    pub turns: Vec<TurnRun>,
    /// The largest angle, degrees, by which another face was off its stop while
    /// this beat's turn engaged; 0 for the first beat.
    pub worst_offset_deg: f64,
}

impl BeatRun {
    /// When the first of its shafts began to move, seconds from the start.
    #[must_use]
    pub fn start_s(&self) -> f64 {
        self.turns.iter().map(|turn| turn.start_s).fold(f64::INFINITY, f64::min)
    }

    /// When the last of its shafts had ended its profile.
    #[must_use]
    pub fn stop_s(&self) -> f64 {
        self.turns.iter().map(|turn| turn.stop_s).fold(0.0, f64::max)
    }
}

/// A face that could not turn because a neighbour stood in its way.
#[derive(Clone, Debug, PartialEq)]
pub struct Jam {
    /// Seconds from the start.
    pub time_s: f64,
    /// Index of the beat that was blocked, from 0.
    pub beat: usize,
    /// The face that was not at its stop.
    pub late_face: Face,
    /// How far it was off, degrees.
    pub late_angle_deg: f64,
    /// How far it may be off, degrees.
    pub allowed_deg: f64,
    /// The face that was blocked.
    pub blocked_face: Face,
    /// Where the blocked face stood, degrees from its last stop.
    pub blocked_angle_deg: f64,
    /// What is to blame, a clause.
    pub blame: String,
}

/// One sentence without its full stop.
impl fmt::Display for Jam {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(
            f,
            "beat {} at {:.1} ms: {} could not turn, {} was {:.2}° off its stop ({:.2}° allowed); {}",
            self.beat + 1,
            self.time_s * 1e3,
            self.blocked_face,
            self.late_face,
            self.late_angle_deg,
            self.allowed_deg,
            self.blame
        )
    }
}

/// How a run ended.
#[derive(Clone, Debug, PartialEq)]
pub enum End {
    /// Every beat was turned.
    Completed,
    /// A jam stopped it.
    Jammed(Jam),
}

/// Angles of the six shafts over time.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Trace {
    /// Seconds between samples; the first is at 0.
    pub step_s: f64,
    /// Degrees from where each face stood at the start, clockwise positive,
    /// faces in the order U R F D L B.
    pub angles_deg: Vec<[f64; 6]>,
}

/// A simulated execution.
#[derive(Clone, Debug, PartialEq)]
pub struct Run {
    /// One entry for each beat that began.
    pub beats: Vec<BeatRun>,
    /// The shafts' angles.
    pub trace: Trace,
    /// From the start to the last stop, or to the jam, seconds.
    pub total_s: f64,
    /// How it ended.
    pub end: End,
    /// Up to here a face may be off without touching a turning neighbour, degrees.
    pub free_deg: f64,
    /// Beyond this it jams the neighbour, at nominal friction, degrees.
    pub jam_deg: f64,
    /// The cube as it really ends up: a face that a jam left on its way counts
    /// at the stop that it is nearest to.
    pub final_state: CubeState,
}

impl Run {
    /// The jam, where there was one.
    #[must_use]
    pub fn jam(&self) -> Option<&Jam> {
        match &self.end {
            End::Jammed(jam) => Some(jam),
            End::Completed => None,
        }
    }
}
