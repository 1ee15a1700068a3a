//! How quick an axis is: what swings or dies away in it, by the drawing.
//!
//! A simulation steps through all of it, so its steps follow the quickest part; and where a
//! drawing is quicker than [`QUICKEST_PER_S`] it is no rig: a motor that stops within ten
//! microseconds, a shaft that rings at 16 kHz with a layer on its end. Such a scene is refused:
//! its runs would take hours, or motions in it grow without end.

use core::f64::consts::{PI, TAU};

use dryturn_cube::Face;

use crate::file::{SceneFile, Section, Shaft};

/// Nothing in an axis may be quicker than this, 1/s: ten times the quickest of small servo axes
/// (assumed).
pub const QUICKEST_PER_S: f64 = 1e5;
/// Flat on flat, pieces push back so much stiffer than the whole cube gives (assumed).
pub const WALL_OVER_CUBE: f64 = 20.0;
/// Inertia, and what a motor's torque constant is over its drawing, in the worst of so many
/// standard deviations; inertia at least this share of it.
const SIGMAS: f64 = 4.0;
const LEAST_SHARE: f64 = 0.2;

/// One thing that swings or dies away.
#[derive(Clone, Debug, PartialEq)]
pub struct Rate {
    /// What it is, a clause.
    pub what: &'static str,
    /// The field that it follows from most of all.
    pub field: String,
    /// Of a swing its angular frequency, of what dies away one over its time constant.
    pub per_s: f64,
}

/// Stiffness of a solid rod, N·m/rad: what is printed hollow is softer.
fn solid_n_m_rad(shaft: &Shaft) -> f64 {
    // Over the fourth power of the width (Saint-Venant's torsion; W. C. Young and R. G. Budynas,
    // *Roark's Formulas*, from memory).
    let constant = match shaft.section {
        Section::Square => 0.1406,
        Section::Hexagon => 0.1151,
        Section::Round => PI / 32.0,
    };
    let width_m = shaft.width_mm * 1e-3;
    let fourth = width_m * width_m * width_m * width_m;
    shaft.shear_modulus_gpa * 1e9 * constant * fourth / (shaft.twisting_length_mm * 1e-3)
}

impl SceneFile {
    /// What the motors have to turn by themselves.
    fn motor_inertia_kg_m2(&self) -> f64 {
        self.drive.rotor_inertia_kg_m2 + self.drive.coupler_inertia_kg_m2
    }

    /// What swings or dies away in a motor and in a layer by itself. Tolerances may make it
    /// quicker still; four standard deviations are in it.
    #[must_use]
    pub fn axis_rates(&self) -> Vec<Rate> {
        let (drive, tolerances) = (&self.drive, &self.tolerances);
        let lightest = (1.0 - SIGMAS * tolerances.inertia_spread_sigma_share).max(LEAST_SHARE);
        let motor = self.motor_inertia_kg_m2() * lightest;
        let layer = self.layer_inertia_kg_m2() * lightest;
        let strongest = 1.0 + SIGMAS * tolerances.torque_constant_spread_sigma_share;
        let constant = 60.0 / (TAU * drive.speed_constant_rpm_per_v) * strongest;
        let inductance_h = drive.inductance_mh * 1e-3;
        // By its resistance a winding brakes the rotor; where it cannot, the two swing.
        let braked = constant * constant / (drive.resistance_ohm * motor);
        let swung = constant / (inductance_h * motor).sqrt();
        let rate = |what, field: &str, per_s| Rate { what, field: field.to_owned(), per_s };
        vec![
            rate(
                "its back-EMF brakes the motor",
                "drive.speed_constant_rpm_per_v",
                braked.min(swung),
            ),
            rate(
                "its viscous friction brakes the motor",
                "drive.viscous_friction_n_m_s",
                drive.viscous_friction_n_m_s / motor,
            ),
            rate(
                "its cogging swings the motor",
                "drive.cogging_torque_n_m",
                (drive.cogging_torque_n_m * f64::from(drive.cogging_per_turn) / motor).sqrt(),
            ),
            rate(
                "its detents swing the layer",
                "drive.detent_torque_n_m",
                (4.0 * drive.detent_torque_n_m / layer).sqrt(),
            ),
        ]
    }

    /// The same between motor, shaft and layer, and of a layer against its neighbours, as drawn.
    #[must_use]
    pub fn contact_rates(&self) -> Vec<Rate> {
        let (motor, layer) = (self.motor_inertia_kg_m2(), self.layer_inertia_kg_m2());
        let shaft = |(place, shaft): (usize, &Shaft)| Rate {
            what: "the shaft swings motor and layer",
            field: format!("shafts[{place}].shear_modulus_gpa"),
            per_s: (solid_n_m_rad(shaft) * (1.0 / motor + 1.0 / layer)).sqrt(),
        };
        let stiffness = self.cube.stiffness_n_m_per_rad * self.cube.tension_ratio;
        let wall = Rate {
            what: "pieces that are flat on one another swing the layer",
            field: "cube.stiffness_n_m_per_rad".to_owned(),
            per_s: (WALL_OVER_CUBE * stiffness / layer).sqrt(),
        };
        self.shafts.iter().enumerate().take(Face::ALL.len()).map(shaft).chain([wall]).collect()
    }
}
