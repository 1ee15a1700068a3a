//! Lamps in the 3D world: what they look like, and a light for each.

use bevy::prelude::*;
use dryturn_optics::spectrum::{OBSERVER, lamp_per_lumen, tristimulus};
use dryturn_scene::Scene;
use dryturn_scene::file::LampShape;

use super::{Builder, OfLamp, SCALE, units};

/// Colour of a lamp's light, sRGB with its brightest channel full.
///
/// # Panics
/// If the scene has no such lamp.
pub(crate) fn lamp_colour(scene: &Scene, lamp: usize) -> [f32; 3] {
    let power = lamp_per_lumen(scene, lamp);
    let [x, y, z] = tristimulus(&power, None, OBSERVER.each_ref().map(|bar| &bar[..]));
    // XYZ to linear sRGB, IEC 61966-2-1.
    let rgb = [
        3.2406 * x - 1.5372 * y - 0.4986 * z,
        -0.9689 * x + 1.8758 * y + 0.0415 * z,
        0.0557 * x - 0.2040 * y + 1.0570 * z,
    ];
    let most = rgb.iter().copied().fold(1e-9, f64::max);
    rgb.map(|v| (v / most).max(0.0) as f32)
}

impl Builder<'_, '_, '_> {
    pub(super) fn lamps(&mut self, scene: &Scene) {
        for (number, lamp) in scene.file().lamps.iter().enumerate() {
            let (at, aim) = (units(lamp.position_mm), units(lamp.aim_mm));
            let along = (aim - at).normalize_or(Vec3::NEG_Y);
            let up = if along.y.abs() > 0.99 { Vec3::X } else { Vec3::Y };
            let stand = Transform::from_translation(at).looking_to(along, up);
            let [r, g, b] = lamp_colour(scene, number);
            let lit = lamp.flux_lm > 0.0;
            let glow = if lit { 260.0 } else { 0.0 };
            let panel = self.materials.add(StandardMaterial {
                base_color: Color::srgb(0.12, 0.12, 0.12),
                emissive: LinearRgba::rgb(r * glow, g * glow, b * glow),
                ..default()
            });
            let (w, h) = (lamp.width_mm as f32 * SCALE, lamp.height_mm as f32 * SCALE);
            let mesh: Mesh = match lamp.shape {
                LampShape::Rectangle => Cuboid::new(w, h, 0.02).into(),
                LampShape::Disc => Extrusion::new(Circle::new(w / 2.0), 0.02).into(),
                LampShape::Point => Sphere::new(0.05).into(),
            };
            let mesh = Mesh3d(self.meshes.add(mesh));
            self.commands.spawn((OfLamp, mesh, MeshMaterial3d(panel), stand));
            if !lit {
                continue;
            }
            let color = Color::linear_rgb(r, g, b);
            let range = 3.0 * at.length() + 10.0;
            // A unit is a tenth of a metre, so illuminance needs a hundred times the flux.
            let lumens = 100.0 * lamp.flux_lm as f32;
            if lamp.shape == LampShape::Point {
                let light = PointLight { color, intensity: lumens, range, ..default() };
                self.commands.spawn((OfLamp, light, stand));
            } else {
                // A Lambertian panel has Φ/π candela along its axis; the 3D world
                // takes lumens over 4π.
                let light = SpotLight {
                    color,
                    intensity: 4.0 * lumens,
                    range,
                    outer_angle: 1.3,
                    inner_angle: 0.6,
                    shadow_maps_enabled: false,
                    ..default()
                };
                self.commands.spawn((OfLamp, light, stand));
            }
        }
    }
}
