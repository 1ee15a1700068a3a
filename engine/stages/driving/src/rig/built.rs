//! What differs from trial to trial, from turn to turn, from command to command: draws
//! from named streams. Settings scale them, so the same trial meets the same luck under
//! every setting.

use core::f64::consts::TAU;

use dryturn_units::noise::Draw;
use dryturn_units::{maths, radians};

use super::Machine;
use super::machine::encoder_step_rad;
use crate::contact::{Contact, Interlock};
use crate::control::Encoder;
use crate::plant::shaft::rubs_n_m_mm;
use crate::plant::{Plant, Step};

/// Inertia, strength and the like are at least this share of their drawing.
const LEAST_SHARE: f64 = 0.2;
/// Streams of the turns come after those of the axes.
const FIRST_TURN: u64 = 16;

/// One axis as it was built.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Built {
    pub(crate) plant: Plant,
    pub(crate) step: Step,
    pub(crate) encoder: Encoder,
    /// The face's angle where its encoder reads nothing.
    pub(crate) zero_rad: f64,
    /// Friction over the drawing's.
    friction_share: f64,
    /// Friction that a shaft beside its axis adds, and how that swings in a revolution.
    pressed_n_m: f64,
    swing_n_m: f64,
    swing_phase: f64,
    pub(crate) ultimate_n_m: f64,
}

impl Built {
    /// What run-out adds to the friction at an angle, N·m.
    pub(crate) fn swing_n_m(&self, motor_rad: f64) -> f64 {
        self.swing_n_m * maths::quick_sin(motor_rad + self.swing_phase)
    }
}

/// A rig as it was built, for one trial.
#[derive(Clone, Debug)]
pub(crate) struct BuiltAxes {
    pub(crate) axes: [Built; 6],
    pub(crate) contact: Contact,
    draw: Draw,
}

fn share(sigma: f64, normal: f64) -> f64 {
    (1.0 + sigma * normal).max(LEAST_SHARE)
}

impl BuiltAxes {
    pub(crate) fn of(machine: &Machine, draw: Draw) -> Self {
        let tolerances = &machine.file.tolerances;
        let mut cube = machine.file.cube.clone();
        let mut noise = draw.stream("drive", 6);
        cube.tension_ratio *= share(tolerances.tension_spread_sigma_share, noise.gaussian());
        let contact = Contact::of(
            Interlock::of(&cube),
            machine.first_contacts,
            cube.stiffness_n_m_per_rad * cube.tension_ratio,
            machine.plant.layer_kg_m2,
        );
        let axes = core::array::from_fn(|face| Self::axis(machine, face, draw));
        Self { axes, contact, draw }
    }

    fn axis(machine: &Machine, face: usize, draw: Draw) -> Built {
        let tolerances = &machine.file.tolerances;
        let rod = &machine.rods[face];
        let mut noise = draw.stream("drive", face as u64);
        let mut plant = machine.plant_of(face);
        let inertia = share(tolerances.inertia_spread_sigma_share, noise.gaussian());
        plant.motor_kg_m2 *= inertia;
        plant.layer_kg_m2 *= inertia;
        plant.constant_v_s *=
            share(tolerances.torque_constant_spread_sigma_share, noise.gaussian());
        let friction_share = share(tolerances.tension_spread_sigma_share, noise.gaussian());
        let zero_rad = radians(tolerances.homing_error_sigma_deg * noise.gaussian());
        let most_rad = radians(tolerances.encoder_error_deg) * noise.between(0.5, 1.0);
        let first = noise.uniform();
        let harmonics = [
            (most_rad * first, TAU * noise.uniform()),
            (most_rad * (1.0 - first), TAU * noise.uniform()),
        ];
        // A shaft beside its axis bends and presses on the core.
        let offset_mm = (tolerances.shaft_offset_sigma_mm * noise.gaussian()).abs();
        let tilt_rad = radians(tolerances.shaft_tilt_sigma_deg * noise.gaussian()).abs();
        let run_out_mm = (tolerances.shaft_run_out_sigma_mm * noise.gaussian()).abs();
        let rubs_n_m_mm = rubs_n_m_mm(&machine.file, rod);
        let beside_mm = offset_mm + tilt_rad * rod.length_mm;
        let step_rad = encoder_step_rad(&machine.file.drive);
        let swing_phase = TAU * noise.uniform();
        let missed = noise.uniform() < tolerances.homing_miss_share;
        let miss_deg = tolerances.homing_miss_deg.copysign(noise.between(-1.0, 1.0));
        let zero_rad = zero_rad + if missed { radians(miss_deg) } else { 0.0 };
        Built {
            step: machine.step_of(&plant),
            plant,
            encoder: Encoder::new(step_rad, zero_rad, harmonics),
            zero_rad,
            friction_share,
            pressed_n_m: rubs_n_m_mm * beside_mm.max(run_out_mm),
            swing_n_m: rubs_n_m_mm * run_out_mm,
            swing_phase,
            ultimate_n_m: rod.ultimate_n_m
                * share(tolerances.strength_spread_sigma_share, noise.gaussian()),
        }
    }

    /// Coulomb friction of a face's layer while it makes its turn of a beat, N·m.
    pub(crate) fn friction_n_m(&self, machine: &Machine, beat: usize, face: usize) -> f64 {
        let mut noise = self.draw.stream("drive", turn_stream(beat, face));
        let sigma = machine.file.tolerances.friction_spread_sigma_share;
        let built = &self.axes[face];
        let spread = (1.0 + sigma * noise.gaussian()).max(0.0);
        machine.axis.limit.friction_n_m * built.friction_share * spread + built.pressed_n_m
    }

    /// The least that a face has to overcome in its turn of a beat, N·m.
    pub(crate) fn least_friction_n_m(&self, machine: &Machine, beat: usize, face: usize) -> f64 {
        (self.friction_n_m(machine, beat, face) - self.axes[face].swing_n_m).max(0.0)
    }

    /// Coulomb friction of a face that has not turned yet.
    pub(crate) fn resting_friction_n_m(&self, machine: &Machine, face: usize) -> f64 {
        let built = &self.axes[face];
        machine.axis.limit.friction_n_m * built.friction_share + built.pressed_n_m
    }

    /// What becomes of a command: seconds from its sending until the axis has it, and how
    /// often it was sent again; `Err` with the seconds after which the host gives up.
    pub(crate) fn link(
        &self,
        machine: &Machine,
        beat: usize,
        face: usize,
    ) -> Result<(f64, usize), f64> {
        let link = &machine.file.link;
        let mut noise = self.draw.stream("link", turn_stream(beat, face));
        let lost = link.frame_loss_share + link.frame_corrupt_share;
        let resend_s = link.resend_after_ms * 1e-3;
        for again in 0..=link.most_resends as usize {
            let gone = noise.uniform() < lost;
            let spread_ms = link.command_jitter_sigma_ms * noise.gaussian();
            if !gone {
                let latency = link.command_latency_ms;
                let latency_ms = (latency + spread_ms).clamp(0.0, 2.0 * latency);
                return Ok((again as f64 * resend_s + latency_ms * 1e-3, again));
            }
        }
        Err(f64::from(link.most_resends + 1) * resend_s)
    }
}

fn turn_stream(beat: usize, face: usize) -> u64 {
    FIRST_TURN + beat as u64 * 6 + face as u64
}
