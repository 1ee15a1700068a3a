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

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;
    use crate::Scene;

    fn workbench() -> Scene {
        Scene::parse(include_str!("../../../../../scenes/workbench.ron"), "workbench.ron").unwrap()
    }

    /// By hand for the workbench's figures: K = 0.0955 V·s/rad, 0.405 Ω, 0.4 mH, 6.6e-5 and
    /// 1.4e-5 kg·m²; inertia 8 % less and a torque constant 8 % more in four deviations.
    #[test]
    fn rates_are_those_of_the_closed_forms() {
        let scene = workbench();
        let rates = scene.file().axis_rates();
        let (k, motor): (f64, f64) = (0.0955 * 1.08, 6.6e-5 * 0.92);
        let wanted = [
            k * k / (0.405 * motor),
            1e-5 / motor,
            (0.004 * 84.0 / motor).sqrt(),
            (4.0 * 0.01 / (1.4e-5 * 0.92_f64)).sqrt(),
        ];
        for (rate, wanted) in rates.iter().zip(wanted) {
            assert!((rate.per_s / wanted - 1.0).abs() < 5e-3, "{rate:?} for {wanted}");
        }
        let usual = rates.into_iter().chain(scene.file().contact_rates());
        assert!(usual.map(|rate| rate.per_s).fold(0.0, f64::max) < 0.1 * QUICKEST_PER_S);
    }

    /// Each is refused by its own field, with what it comes to.
    #[test]
    fn what_is_too_quick_is_refused() {
        let light = ["drive.rotor_inertia_kg_m2", "drive.coupler_inertia_kg_m2"];
        let featherweight: [(&str, serde_json::Value); 2] =
            [(light[0], json!(1e-7)), (light[1], json!(0.0))];
        for (changes, field) in [
            (vec![("drive.speed_constant_rpm_per_v", json!(10.0))], "speed_constant_rpm_per_v"),
            (vec![("drive.viscous_friction_n_m_s", json!(0.02))], "viscous_friction_n_m_s"),
            (
                vec![
                    ("drive.cogging_torque_n_m", json!(1.0)),
                    ("drive.cogging_per_turn", json!(1000)),
                ],
                "cogging_torque_n_m",
            ),
            (vec![("shafts.*.shear_modulus_gpa", json!(80.0))], "shear_modulus_gpa"),
        ] {
            let changes = [&featherweight[..], &changes].concat();
            let error = workbench().with_all(&changes).unwrap_err().to_string();
            assert!(
                error.contains(&format!("{field} is so much for inertias of 1.0e-7")),
                "{error}"
            );
            assert!(error.contains("nothing in an axis is quicker than 1e5/s"), "{error}");
            assert_eq!(error.matches("must be").count(), 1, "{error}");
        }
    }
}
