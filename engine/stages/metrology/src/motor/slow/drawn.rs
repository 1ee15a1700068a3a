//! What the scene's drawing says of an axis and its controller, SI units.

use core::f64::consts::TAU;

use dryturn_scene::file::{AntiWindup, Profile, SceneFile, Section};
use dryturn_units::{maths, radians};

use crate::motor::constant_v_s;

/// Damping of a printed shaft, as a share of what would be critical with the layer on its
/// end (assumed: a loss factor of 0.06).
const SHAFT_DAMPING_SHARE: f64 = 0.03;
/// Torsion constants over the fourth power of a width: square (Saint-Venant), hexagon across
/// flats, round (W. C. Young and R. G. Budynas, *Roark's Formulas*; from memory).
const TORSION: [f64; 3] = [0.1406, 0.1154, 0.0982];
/// Longest window of the controller's speed, samples.
pub(super) const LONGEST_WINDOW: usize = 33;

/// One axis as it is drawn.
#[derive(Clone, Debug)]
pub(super) struct Drawn {
    pub(super) constant_v_s: f64,
    pub(super) resistance_ohm: f64,
    pub(super) inductance_h: f64,
    /// What the bridge can put on the winding.
    pub(super) voltage_v: f64,
    pub(super) current_limit_a: f64,
    pub(super) current_loop_s: f64,
    pub(super) inertia_kg_m2: f64,
    /// The layer's, in it.
    pub(super) layer_kg_m2: f64,
    pub(super) layer_friction_n_m: f64,
    pub(super) bearing_n_m: f64,
    pub(super) viscous_n_m_s: f64,
    pub(super) detent_n_m: f64,
    pub(super) shaft_n_m_rad: f64,
    pub(super) shaft_damping_n_m_s: f64,
    /// Half of the coupler's play.
    pub(super) play_rad: f64,
    pub(super) profile: Profile,
    pub(super) planned_share: f64,
    pub(super) speed_limit_rad_s: f64,
    pub(super) acceleration_rad_s2: f64,
    pub(super) jerk_rad_s3: f64,
    pub(super) tick_s: f64,
    /// Of the plant, in one tick.
    pub(super) steps: usize,
    pub(super) position_per_s: f64,
    pub(super) speed_per_s: f64,
    pub(super) integral_per_s: f64,
    pub(super) window: usize,
    pub(super) back_calculation: bool,
    pub(super) deadband_rad: f64,
    pub(super) settle_rad: f64,
    pub(super) hold_share: f64,
    /// What the controller takes inertia and friction for, over the drawn ones.
    pub(super) feed_forward: [f64; 2],
    /// Speed of one step of the encoder in the window.
    pub(super) least_speed_rad_s: f64,
    pub(super) encoder_error_rad: f64,
    /// From turn to turn.
    pub(super) friction_spread_share: f64,
}

/// Torque over twist of the first shaft's rod, as the drawing has it.
fn stiffness_n_m_rad(file: &SceneFile) -> f64 {
    let Some(shaft) = file.shafts.first() else { return 20.0 };
    let ratio = match shaft.section {
        Section::Square => TORSION[0],
        Section::Hexagon => TORSION[1],
        Section::Round => TORSION[2],
    };
    let constant = |width_m: f64| ratio * width_m * width_m * width_m * width_m;
    let width_m = shaft.width_mm * 1e-3;
    let core_m = (width_m - 2e-3 * shaft.wall_mm).max(0.0);
    let lost = (1.0 - shaft.infill_share * shaft.infill_share) * constant(core_m);
    shaft.shear_modulus_gpa * 1e9 * (constant(width_m) - lost) / (shaft.twisting_length_mm * 1e-3)
}

impl Drawn {
    /// Of a valid scene.
    pub(super) fn of(file: &SceneFile) -> Self {
        let (drive, controller) = (&file.drive, &file.controller);
        let constant = constant_v_s(drive);
        let voltage_v = drive.duty_share * drive.bus_voltage_v;
        let setting = drive.torque_setting_n_m_per_v * drive.bus_voltage_v;
        let limit_a = setting.min(drive.torque_limit_n_m) / constant;
        let inertia = file.axis_inertia_kg_m2();
        let layer = file.layer_inertia_kg_m2();
        let shaft = stiffness_n_m_rad(file);
        let tick_s = controller.loop_period_ms * 1e-3;
        let swing = (shaft * (1.0 / layer + 1.0 / (inertia - layer))).sqrt();
        let window = (controller.speed_window_samples as usize).clamp(1, LONGEST_WINDOW - 1);
        let encoder_step_rad = TAU / maths::pow(2.0, f64::from(drive.encoder_bits));
        Self {
            constant_v_s: constant,
            resistance_ohm: drive.resistance_ohm,
            inductance_h: drive.inductance_mh * 1e-3,
            voltage_v,
            current_limit_a: limit_a.min(voltage_v / drive.resistance_ohm),
            current_loop_s: controller.current_time_constant_ms * 1e-3,
            inertia_kg_m2: inertia,
            layer_kg_m2: layer,
            layer_friction_n_m: file.layer_friction_n_m(),
            bearing_n_m: drive.bearing_friction_n_m,
            viscous_n_m_s: drive.viscous_friction_n_m_s,
            detent_n_m: drive.detent_torque_n_m,
            shaft_n_m_rad: shaft,
            shaft_damping_n_m_s: 2.0 * SHAFT_DAMPING_SHARE * (shaft * layer).sqrt(),
            play_rad: file.shafts.first().map_or(0.0, |own| radians(own.backlash_deg) / 2.0),
            profile: drive.profile,
            planned_share: drive.planned_torque_share,
            speed_limit_rad_s: drive.speed_limit_rad_s,
            acceleration_rad_s2: drive.acceleration_limit_rad_s2,
            jerk_rad_s3: drive.jerk_limit_rad_s3,
            tick_s,
            // The swing changes by a tenth of a radian in a step.
            steps: ((tick_s * swing / 0.1).ceil() as usize).clamp(2, 100),
            position_per_s: controller.position_gain_per_s,
            speed_per_s: controller.speed_gain_per_s,
            integral_per_s: controller.speed_integral_per_s,
            window,
            back_calculation: controller.anti_windup == AntiWindup::BackCalculation,
            deadband_rad: radians(controller.deadband_deg),
            settle_rad: radians(file.handover.settle_window_deg),
            hold_share: controller.hold_torque_share,
            feed_forward: [
                controller.inertia_feed_forward_ratio,
                controller.friction_feed_forward_ratio,
            ],
            least_speed_rad_s: 1.5 * encoder_step_rad / (window as f64 * tick_s),
            encoder_error_rad: radians(file.tolerances.encoder_error_deg),
            friction_spread_share: file.tolerances.friction_spread_sigma_share,
        }
    }
}
