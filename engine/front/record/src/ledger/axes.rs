//! The lines of one execution: what was turned, and what the rig went through.

use dryturn_cube::{CubeState, Face, net};
use dryturn_driving::Squared;
use dryturn_handoff::{AxisLoad, BeatRun, Energy, GuestFault, Run};
use dryturn_rehearsal::{Guests, Pass, StartToStop};
use dryturn_scene::Scene;
use dryturn_studies::FailureKind;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::clock::ClockMs;
use super::ends::{JamRecord, StopRecord};
use crate::finite;

/// Where the energy of a run went.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct EnergyRecord {
    /// By what took or gave it.
    #[serde(flatten)]
    pub energy: Energy,
    /// What is missing, of what the supply gave.
    pub unaccounted_share: f64,
}

impl EnergyRecord {
    /// Of a run's energy.
    #[must_use]
    pub fn of(energy: &Energy) -> Self {
        let unaccounted_share = energy.unaccounted_j() / energy.supply_j.max(1e-9);
        Self { energy: *energy, unaccounted_share }
    }

    /// The same, where all of it is a number.
    fn finite(energy: &Energy) -> Option<Self> {
        let Energy {
            supply_j,
            source_j,
            copper_j,
            friction_j,
            brake_j,
            jam_j,
            detent_j,
            kinetic_j,
            stored_j,
        } = *energy;
        let sum = supply_j.abs() + source_j.abs() + copper_j.abs() + friction_j.abs();
        let sum = sum + brake_j.abs() + jam_j.abs() + detent_j.abs() + kinetic_j.abs();
        (sum + stored_j.abs()).is_finite().then(|| Self::of(energy))
    }
}

/// What one shaft and its axis went through.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ShaftRecord {
    /// Its face.
    pub face: Face,
    /// Largest torque in it; null where the simulated motion grew beyond all numbers.
    pub peak_torque_n_m: Option<f64>,
    /// Its strength over that; likewise.
    pub safety_factor: Option<f64>,
    /// Largest current of its motor; likewise.
    pub peak_current_a: Option<f64>,
    /// Warmest that motor's winding was, °C; likewise.
    pub winding_c: Option<f64>,
}

impl ShaftRecord {
    fn of((face, axis): (Face, &AxisLoad)) -> Self {
        Self {
            face,
            peak_torque_n_m: finite(axis.peak_torque_n_m),
            safety_factor: finite(axis.safety_factor_ratio()),
            peak_current_a: finite(axis.peak_current_a),
            winding_c: finite(axis.winding_c),
        }
    }
}

/// When a beat ran.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BeatSpan {
    /// Its number, from 1.
    pub beat: usize,
    /// When the first of its shafts began to move.
    pub start_ms: f64,
    /// When the last of them had settled.
    pub stop_ms: f64,
    /// The most by which a neighbouring face was off its stop while this beat engaged.
    pub worst_offset_deg: f64,
}

impl BeatSpan {
    fn of(beat: &BeatRun) -> Self {
        Self {
            beat: beat.beat + 1,
            start_ms: beat.start_s() * 1e3,
            stop_ms: beat.stop_s() * 1e3,
            worst_offset_deg: beat.worst_offset_deg,
        }
    }
}

/// One execution on a scene's axes.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ExecuteLine {
    /// Number of the trial whose errors the rig was built with.
    pub trial: u64,
    /// From the first command to the last stop, or until it was broken off.
    pub total_ms: f64,
    /// No run of this plan on this drive can be faster.
    pub bound_ms: f64,
    /// The beats that began.
    pub beats: Vec<BeatSpan>,
    /// Why it was broken off, a sentence; null where every beat was turned.
    pub failure: Option<String>,
    /// The same by a name that does not change.
    pub failure_kind: Option<FailureKind>,
    /// The jam that ended it; null where none did.
    pub jam: Option<JamRecord>,
    /// What else ended it; null where nothing did.
    pub stop: Option<StopRecord>,
    /// Faces that were brought to a stand and got through.
    pub pushed: Vec<JamRecord>,
    /// Commands that were sent again.
    pub resent: usize,
    /// Largest torque in any shaft. This and what follows, down to the energy, is null where the
    /// simulated motion grew beyond all numbers.
    pub peak_torque_n_m: Option<f64>,
    /// Strength over torque, least of all shafts.
    pub safety_factor: Option<f64>,
    /// By shaft, faces in the order U R F D L B.
    pub shafts: Vec<ShaftRecord>,
    /// Where the energy went.
    pub energy: Option<EnergyRecord>,
    /// Lowest bus voltage.
    pub lowest_v: Option<f64>,
    /// Highest bus voltage.
    pub highest_v: Option<f64>,
    /// Largest power drawn from the source.
    pub peak_w: Option<f64>,
    /// Brake resistor at its hottest, °C.
    pub resistor_c: Option<f64>,
    /// The hottest winding, °C.
    pub winding_c: Option<f64>,
    /// How far each face is off its nearest stop at the end, U R F D L B.
    pub rest_deg: [Option<f64>; 6],
    /// The whole clock, from the start button on.
    pub start_to_stop_ms: ClockMs,
    /// The cube at the end: six named faces of three rows.
    pub ends_as: String,
    /// Whether that is the solved cube.
    pub solved: bool,
    /// What the guest calls itself that commanded; absent where the built-in host did.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub host_guest: Option<String>,
    /// What the guest calls itself that moved the axes; absent where the built-in controllers did.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub controller_guest: Option<String>,
    /// Why the host stopped everything, in its words; absent where it did not.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub stopped_because: Option<String>,
    /// The guest that could not go on; absent where none failed.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub guest_fault: Option<GuestFault>,
}

impl ExecuteLine {
    /// Of a run on a scene's axes.
    #[must_use]
    pub fn of(run: &Run, scene: &Scene, trial: u64) -> Self {
        Self {
            trial,
            total_ms: run.total_s * 1e3,
            bound_ms: run.bound_s * 1e3,
            beats: run.beats.iter().map(BeatSpan::of).collect(),
            failure: run.failure(),
            failure_kind: FailureKind::of_run(run),
            jam: run.jam().map(JamRecord::of),
            stop: run.stop().map(StopRecord::of),
            pushed: run.pushed.iter().map(JamRecord::of).collect(),
            resent: run.resent,
            peak_torque_n_m: finite(run.peak_torque_n_m()),
            safety_factor: finite(run.safety_factor_ratio()),
            shafts: Face::ALL.into_iter().zip(&run.axes).map(ShaftRecord::of).collect(),
            energy: EnergyRecord::finite(&run.energy),
            lowest_v: finite(run.power.lowest_v),
            highest_v: finite(run.power.highest_v),
            peak_w: finite(run.power.peak_w),
            resistor_c: finite(run.power.resistor_c),
            winding_c: finite(run.winding_c()),
            rest_deg: run.rest_deg.map(finite),
            start_to_stop_ms: ClockMs::of(&StartToStop::of(scene, run.total_s)),
            ends_as: net::write_faces(&run.final_state.colours()),
            solved: run.final_state == CubeState::SOLVED,
            host_guest: None,
            controller_guest: None,
            stopped_because: None,
            guest_fault: None,
        }
    }

    /// Of a pass, where there was a run; the clock is the whole pass's where guests played in it.
    #[must_use]
    pub fn of_pass(pass: &Pass) -> Option<Self> {
        let line = Self::of(pass.run.as_ref()?, &pass.scene, pass.trial);
        if pass.guests == Guests::default() {
            return Some(line);
        }
        Some(Self {
            start_to_stop_ms: ClockMs::of(&pass.start_to_stop()?),
            stopped_because: pass.stopped_because.clone(),
            guest_fault: pass.fault.clone(),
            host_guest: pass.guests.host.clone(),
            controller_guest: pass.guests.controller.clone(),
            ..line
        })
    }
}

/// Faces led to their stops after a run was broken off.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SquareLine {
    /// Number of the trial whose errors the rig was built with.
    pub trial: u64,
    /// Faces that did not come to their stops.
    pub stuck: Vec<Face>,
    /// How long it took.
    pub total_ms: f64,
    /// How far each face is off its stop afterwards, U R F D L B; null where the simulated motion had
    /// grown beyond all numbers.
    pub rest_deg: [Option<f64>; 6],
}

impl SquareLine {
    /// Of what squaring came to.
    #[must_use]
    pub fn of(squared: &Squared, trial: u64) -> Self {
        Self {
            trial,
            stuck: squared.stuck.clone(),
            total_ms: squared.total_s * 1e3,
            rest_deg: squared.rest_deg.map(finite),
        }
    }
}
