//! What the axes made of a plan.

use core::fmt;

use dryturn_cube::{CubeState, Face, Turn};

use crate::jam::Jam;
use crate::load::{AxisLoad, Energy, Power};

/// When a shaft moved.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct TurnRun {
    /// What it turned.
    pub turn: Turn,
    /// When its set-point began to move, seconds from the first command.
    pub start_s: f64,
    /// When its profile had ended and its encoder was within the settle window; where
    /// that never came to be, when the run ended.
    pub stop_s: f64,
}

/// When a beat ran.
#[derive(Clone, Debug, PartialEq)]
pub struct BeatRun {
    /// Index in the plan, from 0.
    pub beat: usize,
    /// Its one or two turns.
    pub turns: Vec<TurnRun>,
    /// The largest angle, degrees, by which a neighbouring face was off its stop while
    /// this beat's turn engaged.
    pub worst_offset_deg: f64,
}

impl BeatRun {
    /// When the first of its shafts began to move, seconds from the start.
    #[must_use]
    pub fn start_s(&self) -> f64 {
        self.turns.iter().map(|turn| turn.start_s).fold(f64::INFINITY, f64::min)
    }

    /// When the last of its shafts had settled.
    #[must_use]
    pub fn stop_s(&self) -> f64 {
        self.turns.iter().map(|turn| turn.stop_s).fold(0.0, f64::max)
    }
}

/// Why a run was broken off, other than by a jam.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cause {
    /// Somebody hit the emergency stop.
    EmergencyStop,
    /// The axes heard nothing from the host.
    Watchdog,
    /// There is no shaft on the face.
    NoShaft(Face),
    /// A command was sent again too often.
    LinkLost(Face),
    /// An axis was too far from its set-point.
    FollowingError(Face),
    /// An axis stood still at its current limit.
    Stalled(Face),
    /// An axis did not settle in the time that a beat may take.
    NotSettled(Face),
    /// An axis had settled, but left its window again whenever the dwell had begun, for longer
    /// than a beat may take.
    NotSteady(Face),
    /// A shaft broke though nothing was in its way.
    ShaftBroken(Face),
    /// The bus voltage rose too far.
    OverVoltage,
    /// The bus voltage fell too far.
    UnderVoltage,
    /// The brake resistor's thermal cut-out opened.
    ResistorHot,
    /// The simulation ended it, at a limit of its own.
    Simulation(SimulationLimit),
}

/// A limit at which a simulated run ends whatever its host, its controllers and its axes do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum SimulationLimit {
    /// The time that one beat may take ([`RunLimits::beat_s`]).
    BeatTime,
    /// The time of the whole run ([`RunLimits::run_s`]).
    RunTime,
    /// The steps of the whole run ([`RunLimits::axis_steps`]).
    Steps,
    /// Angles, speeds or voltages that are no numbers any more: the motion grew without end.
    Numbers,
}

impl fmt::Display for SimulationLimit {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::BeatTime => "the beat took longer than the simulation gives one",
            Self::RunTime => "the run took longer than the simulation gives a plan of this length",
            Self::Steps => {
                "the run took more steps than the simulation gives a plan of this length"
            }
            Self::Numbers => "the simulated motion grew beyond all numbers",
        })
    }
}

/// What a simulated run may take at the most. Both times follow from the scene and the
/// plan, the steps from the plan's length.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct RunLimits {
    /// From one beat's being decided on to the next one's, s.
    pub beat_s: f64,
    /// From the first command on, s.
    pub run_s: f64,
    /// Steps of the plant, one for the supply and one for each axis that does not rest.
    pub axis_steps: u64,
}

impl Cause {
    /// The face that it is about, where it is about one.
    #[must_use]
    pub fn face(self) -> Option<Face> {
        match self {
            Self::NoShaft(face)
            | Self::LinkLost(face)
            | Self::FollowingError(face)
            | Self::Stalled(face)
            | Self::NotSettled(face)
            | Self::NotSteady(face)
            | Self::ShaftBroken(face) => Some(face),
            Self::EmergencyStop
            | Self::Watchdog
            | Self::OverVoltage
            | Self::UnderVoltage
            | Self::ResistorHot
            | Self::Simulation(_) => None,
        }
    }
}

impl fmt::Display for Cause {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::EmergencyStop => f.write_str("emergency stop"),
            Self::Watchdog => f.write_str("the link went dead and the watchdogs let go"),
            Self::NoShaft(face) => write!(f, "there is no shaft on {face}"),
            Self::LinkLost(face) => write!(f, "commands to {face} were lost too often"),
            Self::FollowingError(face) => write!(f, "{face} was too far from its set-point"),
            Self::Stalled(face) => write!(f, "{face} stood still at its current limit"),
            Self::NotSettled(face) => write!(f, "{face} did not settle"),
            Self::NotSteady(face) => write!(f, "{face} did not stay within its settle window"),
            Self::ShaftBroken(face) => write!(f, "the shaft of {face} broke"),
            Self::OverVoltage => f.write_str("the bus voltage rose too far"),
            Self::UnderVoltage => f.write_str("the bus voltage fell too far"),
            Self::ResistorHot => f.write_str("the brake resistor's thermal cut-out opened"),
            Self::Simulation(limit) => write!(f, "{limit}"),
        }
    }
}

/// A run that was broken off.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stop {
    /// When, seconds from the start.
    pub time_s: f64,
    /// Index of the last beat that had begun, from 0.
    pub beat: usize,
    /// Why.
    pub cause: Cause,
}

/// One sentence without its full stop.
impl fmt::Display for Stop {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "beat {} at {:.1} ms: {}", self.beat + 1, self.time_s * 1e3, self.cause)
    }
}

/// How a run ended.
#[derive(Clone, Debug, PartialEq)]
pub enum End {
    /// Every beat was turned.
    Completed,
    /// A jam stopped it.
    Jammed(Jam),
    /// Something else stopped it.
    Stopped(Stop),
}

/// How many pairs of neighbouring faces there are.
pub const NEIGHBOURS: usize = 12;

/// The pairs of neighbouring faces, in the order of [`Trace::gaps_mm`].
#[must_use]
pub fn neighbours() -> [(Face, Face); NEIGHBOURS] {
    let mut pairs = [(Face::U, Face::R); NEIGHBOURS];
    let all = Face::ALL.into_iter().enumerate().flat_map(|(i, one)| {
        Face::ALL
            .into_iter()
            .skip(i + 1)
            .filter(move |other| !other.same_axis(one))
            .map(move |other| (one, other))
    });
    pairs.iter_mut().zip(all).for_each(|(place, pair)| *place = pair);
    pairs
}

/// What the six shafts did over time; lists of equal length, faces in the order
/// U R F D L B. All but the angles are empty where only the angles were asked for.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Trace {
    /// Seconds between samples; the first is at 0.
    pub step_s: f64,
    /// Degrees that each face has turned since the start, clockwise positive.
    pub angles_deg: Vec<[f64; 6]>,
    /// What each axis's encoder reads, on the motor's side of the shaft, degrees; clockwise
    /// positive. A real rig logs this: the face itself is off by the shaft's twist.
    pub encoders_deg: Vec<[f64; 6]>,
    /// Speeds of the motors, rad/s.
    pub speeds_rad_s: Vec<[f64; 6]>,
    /// Currents of the motors, A (direct-current equivalent).
    pub currents_a: Vec<[f64; 6]>,
    /// Signed gap between the pieces of each pair of neighbouring faces, mm, capped at
    /// the cube's play and lift; negative where the rounded edges meet.
    pub gaps_mm: Vec<[f64; NEIGHBOURS]>,
    /// Bus voltage.
    pub bus_v: Vec<f64>,
    /// Temperature of the brake resistor, °C.
    pub resistor_c: Vec<f64>,
    /// Temperature of the hottest winding, °C.
    pub winding_c: Vec<f64>,
}

impl Trace {
    /// Every second sample, in steps twice as long.
    pub fn thin_out(&mut self) {
        fn every_second<T>(samples: &mut Vec<T>) {
            let mut place = 0;
            samples.retain(|_| {
                place += 1;
                place % 2 == 1
            });
        }
        self.step_s *= 2.0;
        every_second(&mut self.angles_deg);
        every_second(&mut self.encoders_deg);
        every_second(&mut self.speeds_rad_s);
        every_second(&mut self.currents_a);
        every_second(&mut self.gaps_mm);
        every_second(&mut self.bus_v);
        every_second(&mut self.resistor_c);
        every_second(&mut self.winding_c);
    }
}

/// A simulated execution.
#[derive(Clone, Debug, PartialEq)]
pub struct Run {
    /// One entry for each beat that began.
    pub beats: Vec<BeatRun>,
    /// What the shafts did.
    pub trace: Trace,
    /// From the first command until the last face has settled, or until it was broken
    /// off, seconds.
    pub total_s: f64,
    /// How it ended.
    pub end: End,
    /// Faces that were brought to a stand and then got through.
    pub pushed: Vec<Jam>,
    /// Up to here a face may be off without touching a turning neighbour, degrees.
    pub free_deg: f64,
    /// Beyond this it jams the neighbour, by the closed form at nominal friction and hold
    /// torque, degrees.
    pub jam_deg: f64,
    /// No execution of this plan on this drive can be faster, seconds.
    pub bound_s: f64,
    /// Commands that were sent again.
    pub resent: usize,
    /// What it could have taken at the most before the simulation had ended it.
    pub limits: RunLimits,
    /// Steps of the plant that it took, counted as in its limits.
    pub axis_steps: u64,
    /// Where the energy went.
    pub energy: Energy,
    /// What each axis went through, faces in the order U R F D L B.
    pub axes: [AxisLoad; 6],
    /// What the supply went through.
    pub power: Power,
    /// How far each face is off its nearest stop at the end, degrees.
    pub rest_deg: [f64; 6],
    /// The cube as it really ends up: a face that was left on its way counts at the stop
    /// that it is nearest to.
    pub final_state: CubeState,
}

impl Run {
    /// The jam, where one ended the run.
    #[must_use]
    pub fn jam(&self) -> Option<&Jam> {
        match &self.end {
            End::Jammed(jam) => Some(jam),
            _ => None,
        }
    }

    /// What else ended the run before its time.
    #[must_use]
    pub fn stop(&self) -> Option<&Stop> {
        match &self.end {
            End::Stopped(stop) => Some(stop),
            _ => None,
        }
    }

    /// Largest torque in any shaft, N·m.
    #[must_use]
    pub fn peak_torque_n_m(&self) -> f64 {
        self.axes.iter().map(|axis| axis.peak_torque_n_m).fold(0.0, f64::max)
    }

    /// Least safety factor of a shaft.
    #[must_use]
    pub fn safety_factor_ratio(&self) -> f64 {
        self.axes.iter().map(AxisLoad::safety_factor_ratio).fold(f64::INFINITY, f64::min)
    }

    /// Warmest winding, °C.
    #[must_use]
    pub fn winding_c(&self) -> f64 {
        self.axes.iter().map(|axis| axis.winding_c).fold(f64::NEG_INFINITY, f64::max)
    }

    /// Why it did not complete, one sentence without its full stop.
    #[must_use]
    pub fn failure(&self) -> Option<String> {
        match &self.end {
            End::Completed => None,
            End::Jammed(jam) => Some(jam.to_string()),
            End::Stopped(stop) => Some(stop.to_string()),
        }
    }
}
