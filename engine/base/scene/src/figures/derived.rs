//! What follows from the cube's edge, mass and tension, unless it is given: the inertia and
//! the friction of a layer.
//!
//! **Mass.** Left out, that of a cube of [`USUAL_EDGE_MM`] and [`USUAL_MASS_G`], by the cube
//! of the edge: cubes of other sizes are built alike, walls included (assumed).
//!
//! **Inertia.** Nine of 26 equal hollow pieces by the parallel-axis theorem
//! ([`layer_inertia`]); the core is [`CORE_SHARE`] of the mass (assumed). For a cube built
//! alike it grows with the fifth power of the edge.
//!
//! **Friction.** A layer rubs on its neighbour over the whole cut plane, pressed on by the
//! springs under the screws. Dry friction under a pressure that is the same everywhere has
//! the torque µ N r (flat pivot, any handbook of machine elements, from memory) with r the
//! mean distance from the axis, 0.3826 of the edge for a square. The springs press as hard
//! whatever the size (assumed: the same springs, screwed as tight), so friction grows as the
//! edge does. Weight is left out: a layer of 30 g adds 0.3 N to about 30.
//!
//! Derived figures have four digits, so that what is told is what is used, and can be
//! written into the scene without a change.

use serde::Serialize;

use crate::file::{Cube, SceneFile};

/// The cube that presets are fitted on: the usual edge (common practice, no source).
pub const USUAL_EDGE_MM: f64 = 56.0;
/// Its mass; common practice is 70 to 90 g (no source). It gives 1.4e-5 kg·m² a layer.
pub const USUAL_MASS_G: f64 = 82.04;
/// Edge of its stickers.
const USUAL_STICKER_MM: f64 = 16.0;
/// Share of the core with its screws and springs in the cube's mass: 10 of 82 g (assumed).
pub const CORE_SHARE: f64 = 0.1219;
/// Inertia of a thin-walled cube about its own axis, over mass times edge squared.
pub const HOLLOW_RATIO: f64 = 5.0 / 18.0;

/// Mass (kg) and inertia (kg·m²) of one layer about its axis: nine of 26 equal
/// pieces by the parallel-axis theorem, `m_p p² (12 + 9 k)`, where `own_ratio`
/// `k` is 1/6 for solid pieces and 5/18 for thin-walled ones.
#[must_use]
pub fn layer_inertia(edge_m: f64, mass_kg: f64, core_kg: f64, own_ratio: f64) -> (f64, f64) {
    let piece_kg = (mass_kg - core_kg) / 26.0;
    let pitch_m = edge_m / 3.0;
    (9.0 * piece_kg, piece_kg * pitch_m * pitch_m * (12.0 + 9.0 * own_ratio))
}

/// A figure with four significant digits.
fn rounded(value: f64) -> f64 {
    format!("{value:.3e}").parse().unwrap_or(value)
}

impl Cube {
    /// Edge of a square sticker, mm.
    #[must_use]
    pub fn sticker_edge_mm(&self) -> f64 {
        self.facelet_edge_mm.or_else(|| rounded(USUAL_STICKER_MM * (self.edge_mm / USUAL_EDGE_MM)))
    }
}

impl SceneFile {
    /// Mass of the whole cube, g.
    #[must_use]
    pub fn cube_mass_g(&self) -> f64 {
        let edge = self.cube.edge_mm / USUAL_EDGE_MM;
        self.cube.mass_g.or_else(|| rounded(USUAL_MASS_G * edge * edge * edge))
    }

    /// Inertia of one layer about its axis.
    #[must_use]
    pub fn layer_inertia_kg_m2(&self) -> f64 {
        self.drive.layer_inertia_kg_m2.or_else(|| {
            let mass_kg = self.cube_mass_g() * 1e-3;
            let edge_m = self.cube.edge_mm * 1e-3;
            rounded(layer_inertia(edge_m, mass_kg, CORE_SHARE * mass_kg, HOLLOW_RATIO).1)
        })
    }

    /// Coulomb friction of a turning layer if the cube were tight.
    #[must_use]
    pub fn friction_torque_n_m(&self) -> f64 {
        self.drive.friction_torque_n_m.or_else(|| {
            let usual_n_m = self.drive.preset.friction_torque_n_m();
            rounded(usual_n_m * (self.cube.edge_mm / USUAL_EDGE_MM))
        })
    }

    /// What the cube's tension makes of that figure.
    #[must_use]
    pub fn tension_share(&self) -> f64 {
        self.cube.layer_friction_share * self.cube.tension_ratio
    }

    /// Coulomb friction of a turning layer of this cube.
    #[must_use]
    pub fn layer_friction_n_m(&self) -> f64 {
        self.friction_torque_n_m() * self.cube.layer_friction_share * self.cube.tension_ratio
    }

    /// Inertia of all that turns with one motor.
    #[must_use]
    pub fn axis_inertia_kg_m2(&self) -> f64 {
        let drive = &self.drive;
        drive.rotor_inertia_kg_m2 + drive.coupler_inertia_kg_m2 + self.layer_inertia_kg_m2()
    }

    /// What follows from edge, mass and tension, and from what.
    #[must_use]
    pub fn derived(&self) -> Vec<Derived> {
        let (cube, drive) = (&self.cube, &self.drive);
        let edge_mm = cube.edge_mm;
        let figure = |what, field, value, unit, given: bool, from: String| {
            let from = if given { "as given".to_owned() } else { from };
            Derived { what, field, value, unit, given, from }
        };
        vec![
            figure(
                "edge of a sticker",
                Some("cube.facelet_edge_mm"),
                cube.sticker_edge_mm(),
                "mm",
                cube.facelet_edge_mm.0.is_some(),
                format!("{USUAL_STICKER_MM} mm at {USUAL_EDGE_MM} mm, by the edge of {edge_mm} mm"),
            ),
            figure(
                "mass of the cube",
                Some("cube.mass_g"),
                self.cube_mass_g(),
                "g",
                cube.mass_g.0.is_some(),
                format!("built as one of {USUAL_EDGE_MM} mm and {USUAL_MASS_G} g, at {edge_mm} mm"),
            ),
            figure(
                "inertia of a layer",
                Some("drive.layer_inertia_kg_m2"),
                self.layer_inertia_kg_m2(),
                "kg·m²",
                drive.layer_inertia_kg_m2.0.is_some(),
                format!("nine of 26 hollow pieces, {edge_mm} mm and {} g", self.cube_mass_g()),
            ),
            figure(
                "inertia of an axis",
                None,
                rounded(self.axis_inertia_kg_m2()),
                "kg·m²",
                false,
                "rotor, coupler and layer".to_owned(),
            ),
            figure(
                "friction of a layer of a tight cube",
                Some("drive.friction_torque_n_m"),
                self.friction_torque_n_m(),
                "N·m",
                drive.friction_torque_n_m.0.is_some(),
                format!(
                    "{} N·m of preset {:?} at {USUAL_EDGE_MM} mm, by the edge of {edge_mm} mm",
                    drive.preset.friction_torque_n_m(),
                    drive.preset
                ),
            ),
            figure(
                "friction of a layer",
                None,
                rounded(self.layer_friction_n_m()),
                "N·m",
                false,
                format!(
                    "times {} of layer_friction_share and {} of tension_ratio",
                    cube.layer_friction_share, cube.tension_ratio
                ),
            ),
        ]
    }
}

/// A figure that follows from others, unless it is given.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Derived {
    /// What it is.
    pub what: &'static str,
    /// The field that gives it, where one does.
    pub field: Option<&'static str>,
    /// The figure that is used, four digits where it is derived.
    pub value: f64,
    /// Its unit.
    pub unit: &'static str,
    /// Whether the scene gives it.
    pub given: bool,
    /// What it follows from.
    pub from: String,
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;
    use crate::Scene;

    fn with(changes: &[(&str, serde_json::Value)]) -> SceneFile {
        let text = include_str!("../../../../../scenes/workbench.ron");
        let scene = Scene::parse(text, "workbench.ron").unwrap();
        scene.with_all(changes).unwrap().file().clone()
    }

    /// Shipped scenes keep the figures that the presets are fitted with, to the last bit.
    #[test]
    fn the_usual_cube_has_the_usual_figures() {
        let file = with(&[]);
        assert_eq!(file.layer_inertia_kg_m2(), 1.4e-5);
        assert_eq!(file.layer_friction_n_m(), 0.156);
        assert_eq!(file.cube_mass_g(), USUAL_MASS_G);
        assert_eq!(file.cube.sticker_edge_mm(), 16.0);
        let slow = with(&[("drive.preset", json!("SpeedLimited"))]);
        assert_eq!(slow.friction_torque_n_m(), 0.06);
    }

    #[test]
    fn what_is_derived_follows_later_changes_and_what_is_given_stays() {
        let large = ("cube.edge_mm", json!(63.0));
        let file = with(core::slice::from_ref(&large));
        let ratio: f64 = 63.0 / 56.0;
        let near = |value: f64, wanted: f64| {
            assert!((value / wanted - 1.0).abs() < 1e-3, "{value} for {wanted}");
        };
        near(file.cube_mass_g(), 82.04 * ratio * ratio * ratio);
        near(file.layer_inertia_kg_m2(), 1.4e-5 * (ratio * ratio * ratio) * ratio * ratio);
        near(file.friction_torque_n_m(), 0.156 * ratio);
        // A heavier cube of the usual size.
        near(with(&[("cube.mass_g", json!(164.08))]).layer_inertia_kg_m2(), 2.8e-5);
        let given = [
            ("drive.layer_inertia_kg_m2", json!(2e-5)),
            ("drive.friction_torque_n_m", json!(0.2)),
            large,
        ];
        let file = with(&given);
        assert_eq!(file.layer_inertia_kg_m2(), 2e-5);
        assert_eq!(file.friction_torque_n_m(), 0.2);
        // Back to what follows.
        let scene = Scene::parse(include_str!("../../../../../scenes/workbench.ron"), "w").unwrap();
        let back = scene.with("drive.friction_torque_n_m", json!(0.2)).unwrap();
        let back = back.with_text("drive.friction_torque_n_m", "None").unwrap();
        assert_eq!(back.file(), scene.file());
        // A preset brings its own friction with it, and the edge goes on scaling it.
        let wound =
            with(&[given[1].clone(), ("drive.preset", json!("WindingLine")), given[2].clone()]);
        near(wound.friction_torque_n_m(), 0.1 * ratio);
        // Tension scales either.
        let loose = with(&[given[1].clone(), ("cube.tension", json!("Loose"))]);
        near(loose.layer_friction_n_m(), 0.2 * 0.256);
        near(with(&[("cube.tension_ratio", json!(1.5))]).layer_friction_n_m(), 0.156 * 1.5);
    }

    /// A written scene reads as the same, and still follows.
    #[test]
    fn written_scenes_go_on_following() {
        let scene = Scene::parse(include_str!("../../../../../scenes/workbench.ron"), "w").unwrap();
        let again = Scene::parse(&scene.to_ron(), "again").unwrap();
        assert_eq!(scene.file(), again.file());
        let edge = ("cube.edge_mm", json!(70.0));
        let changed = |scene: &Scene| scene.with_all(core::slice::from_ref(&edge)).unwrap();
        assert_eq!(changed(&scene).file(), changed(&again).file());
        assert!(changed(&again).file().layer_inertia_kg_m2() > 4e-5);
        // Pasted in, the figures that are told change nothing.
        let large = changed(&scene);
        let told = large.file().derived();
        let fields = told.iter().filter_map(|d| Some((d.field?, json!(d.value))));
        let pasted = large.with_all(&fields.collect::<Vec<_>>()).unwrap();
        assert_eq!(pasted.file().axis_inertia_kg_m2(), large.file().axis_inertia_kg_m2());
        assert_eq!(pasted.file().layer_friction_n_m(), large.file().layer_friction_n_m());
        assert!(pasted.file().derived().iter().all(|d| d.given == d.field.is_some()));
    }

    #[test]
    fn bad_figures_are_refused() {
        let scene = Scene::parse(include_str!("../../../../../scenes/workbench.ron"), "w").unwrap();
        for (field, value) in [
            ("cube.mass_g", "4"),
            ("cube.mass_g", "NaN"),
            ("cube.mass_g", "heavy"),
            ("drive.layer_inertia_kg_m2", "0"),
            ("drive.friction_torque_n_m", "-0.1"),
        ] {
            let error = scene.with_text(field, value).unwrap_err().to_string();
            assert!(error.contains(field), "{error}");
        }
    }
}
