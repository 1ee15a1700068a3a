//! The six axes of a scene, prepared once for many runs.

use core::f64::consts::TAU;

use dryturn_cube::{Amount, Face};
use dryturn_handoff::AngleBudget;
use dryturn_scene::file::{Drive, SceneFile};
use dryturn_scene::{Scene, WALL_OVER_CUBE};
use dryturn_units::{maths, radians};

use super::Ceiling;
use super::budget::{budget, wind_up_rad};
use crate::contact::{CONTACTS, Interlock, Lead, Leads, Overlaps};
use crate::control::{Belief, Gains, HALF, Planned, Setpoints};
use crate::plant::shaft::Rod;
use crate::plant::{Axis, Plant, Source, Step};

/// Steps of the plant in one tick of the controller, at least: 40 kHz at a tick of
/// 0.125 ms.
const STEPS_PER_TICK: usize = 5;
/// The quickest that swings or dies away in the plant changes by no more than this in a
/// step, rad.
const STEP_RAD: f64 = 0.3;
/// Damping of a printed shaft as a share of what would be critical with the layer on its
/// end (assumed: a loss factor of 0.06).
const SHAFT_DAMPING_SHARE: f64 = 0.03;

/// The axes of one scene: everything that does not differ from run to run.
#[derive(Clone, Debug)]
pub struct Machine {
    pub(crate) file: SceneFile,
    pub(crate) axis: Axis,
    pub(crate) moves: Vec<Setpoints>,
    pub(crate) gains: Gains,
    pub(crate) plant: Plant,
    pub(crate) rods: [Rod; 6],
    pub(crate) source: Source,
    pub(crate) interlock: Interlock,
    pub(crate) first_contacts: [f64; CONTACTS],
    pub(crate) overlaps: Overlaps,
    /// How early turns may start, where they start by prediction.
    pub(crate) leads: Leads,
    /// By the drawing: they do not differ from run to run.
    pub(crate) budgets: [AngleBudget; 6],
    pub(crate) tick_s: f64,
    pub(crate) steps_per_tick: usize,
    pub(crate) parks: bool,
    pub(crate) belief: Belief,
    pub(crate) ceiling: Ceiling,
}

impl Machine {
    /// Of a scene.
    #[must_use]
    pub fn of(scene: &Scene) -> Self {
        Self::below(scene, Ceiling::FULL)
    }

    /// Of a scene below a ceiling that was made for it.
    #[must_use]
    pub fn below(scene: &Scene, ceiling: Ceiling) -> Self {
        Self::of_file(scene.file().clone(), ceiling)
    }

    pub(crate) fn of_file(file: SceneFile, ceiling: Ceiling) -> Self {
        let (drive, controller) = (&file.drive, &file.controller);
        let axis = Axis::of(&file);
        let limit = &axis.limit;
        let belief = Belief {
            inertia_kg_m2: limit.inertia_kg_m2 * controller.inertia_feed_forward_ratio,
            friction_n_m: limit.friction_n_m * controller.friction_feed_forward_ratio,
            viscous_n_m_s: limit.viscous_n_m_s,
        };
        let tick_s = controller.loop_period_ms * 1e-3;
        let course = |amount: Amount| {
            let angle_rad = radians(amount.angle_deg().abs());
            let planned = Planned::of(drive, &axis, angle_rad);
            Setpoints::of(&planned, ceiling.pace_ratio(), tick_s, belief)
        };
        let moves = vec![course(Amount::Clockwise), course(Amount::Half)];
        let gains = Gains::of(
            controller,
            limit.inertia_kg_m2,
            (limit.torque_n_m().min(ceiling.torque_n_m()), limit.constant_v_s),
            (encoder_step_rad(drive), file.handover.settle_window_deg),
        );
        let plant = Plant {
            constant_v_s: limit.constant_v_s,
            resistance_ohm: drive.resistance_ohm,
            inductance_h: drive.inductance_mh * 1e-3,
            motor_kg_m2: drive.rotor_inertia_kg_m2 + drive.coupler_inertia_kg_m2,
            layer_kg_m2: file.layer_inertia_kg_m2(),
            bearing_n_m: drive.bearing_friction_n_m,
            viscous_n_m_s: drive.viscous_friction_n_m_s,
            cogging_n_m: drive.cogging_torque_n_m,
            cogging_per_rad: f64::from(drive.cogging_per_turn),
            detent_n_m: drive.detent_torque_n_m,
            // Each axis has its own shaft.
            shaft_n_m_rad: 0.0,
            shaft_damping_n_m_s: 0.0,
            play_rad: 0.0,
        };
        let interlock = Interlock::of(&file.cube);
        let rod = |face: Face| {
            let shaft = file.shafts.iter().find(|shaft| shaft.face.face() == face);
            Rod::of(shaft.expect("a valid scene has a shaft on every face"))
        };
        let rods = Face::ALL.map(rod);
        Self {
            budgets: core::array::from_fn(|face| {
                budget(&file, (&axis, gains.torque_n_m), &rods[face], &interlock)
            }),
            rods,
            source: Source::of(drive.bus_voltage_v, &file.supply, &file.faults),
            first_contacts: interlock.first_contacts(),
            overlaps: Overlaps::of(&axis, &interlock),
            leads: Leads::of(&interlock, &moves, file.handover.clearance_margin_deg, tick_s),
            interlock,
            steps_per_tick: steps_per_tick(&file, &plant, &rods, tick_s),
            parks: true,
            axis,
            moves,
            gains,
            plant,
            tick_s,
            belief,
            ceiling,
            file,
        }
    }

    /// With another number of steps of the plant in one tick of the controller, at least 1:
    /// to see that the step does not matter.
    #[must_use]
    pub fn with_steps_per_tick(self, steps: usize) -> Self {
        Self { steps_per_tick: steps.max(1), ..self }
    }

    /// The axis by the drawing.
    #[must_use]
    pub fn axis(&self) -> &Axis {
        &self.axis
    }

    /// The clearance table that faces begin by where the policy is `Predict`.
    #[must_use]
    pub fn leads(&self) -> &[Lead; 8] {
        &self.leads.0
    }

    /// The torque that breaks the weakest of the six shafts by the drawing, N·m.
    #[must_use]
    pub fn weakest_shaft_n_m(&self) -> f64 {
        self.rods.iter().map(|rod| rod.ultimate_n_m).fold(f64::INFINITY, f64::min)
    }

    /// The highest speed that a half turn's set-point comes to, rad/s.
    #[must_use]
    pub fn highest_speed_rad_s(&self) -> f64 {
        self.moves[HALF].ticks.iter().map(|at| at.speed_rad_s).fold(0.0, f64::max)
    }

    /// Step of the plant, s.
    #[must_use]
    pub fn step_s(&self) -> f64 {
        self.tick_s / self.steps_per_tick as f64
    }

    /// The nominal plant behind one face's shaft.
    pub(crate) fn plant_of(&self, face: usize) -> Plant {
        let rod = &self.rods[face];
        Plant {
            shaft_n_m_rad: rod.stiffness_n_m_rad,
            shaft_damping_n_m_s: 2.0
                * SHAFT_DAMPING_SHARE
                * (rod.stiffness_n_m_rad * self.plant.layer_kg_m2).sqrt(),
            play_rad: radians(rod.backlash_deg) / 2.0,
            ..self.plant
        }
    }

    pub(crate) fn step_of(&self, plant: &Plant) -> Step {
        let loop_s = self.file.controller.current_time_constant_ms * 1e-3;
        Step::of(plant, loop_s, self.step_s())
    }

    /// The same axes with no more torque than a stopped axis holds with.
    pub(crate) fn gentle(&self) -> Self {
        Self { gains: self.gains.gentle(), ..self.clone() }
    }

    /// Set-points of a slow move by so much, for squaring.
    pub(crate) fn slow(&self, angle_rad: f64) -> Setpoints {
        const SPEED_RAD_S: f64 = 3.0;
        const RATE_RAD_S2: f64 = 300.0;
        let angle = angle_rad.abs().max(1e-6);
        let planned = Planned::trapezoid(angle, SPEED_RAD_S, RATE_RAD_S2);
        Setpoints::of(&planned, 1.0, self.tick_s, self.belief)
    }

    /// From the host's decision until an axis has its command, as a rule.
    pub(crate) fn begins_s(&self) -> f64 {
        (self.file.drive.overhead_ms + self.file.link.command_latency_ms) * 1e-3
    }

    /// How far beyond its stop an axis stands to make up for its shaft's wind-up, rad.
    pub(crate) fn beyond_rad(&self, face: usize) -> f64 {
        self.file.controller.wind_up_compensation_ratio * wind_up_rad(&self.axis, &self.rods[face])
    }
}

/// One step of the encoder.
pub(crate) fn encoder_step_rad(drive: &Drive) -> f64 {
    TAU / maths::pow(2.0, f64::from(drive.encoder_bits))
}

/// As many steps as the plant's quickest parts need.
fn steps_per_tick(file: &SceneFile, plant: &Plant, rods: &[Rod; 6], tick_s: f64) -> usize {
    let stiffest = rods.iter().map(|rod| rod.stiffness_n_m_rad).fold(0.0, f64::max);
    let shaft = (stiffest * (1.0 / plant.motor_kg_m2 + 1.0 / plant.layer_kg_m2)).sqrt();
    let cube = file.cube.stiffness_n_m_per_rad * file.cube.tension_ratio;
    let wall = (WALL_OVER_CUBE * cube / plant.layer_kg_m2).sqrt();
    let rubbing = plant.viscous_n_m_s / plant.motor_kg_m2;
    let others = file.axis_rates();
    let quickest_per_s =
        others.iter().map(|rate| rate.per_s).fold(shaft.max(wall).max(rubbing), f64::max);
    ((tick_s * quickest_per_s / STEP_RAD).ceil() as usize).max(STEPS_PER_TICK)
}
