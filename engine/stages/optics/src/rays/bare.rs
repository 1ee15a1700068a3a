//! Bare solids under bare lamps: the renderer without a cube, pigments or sensor, so
//! that its pictures can be laid beside those of other renderers.

use dryturn_geometry::{Assembly, Axis, Shape, Turning};
use dryturn_scene::file::LampShape;
use dryturn_scene::lamp::Panel;
use dryturn_scene::{Look, Material, View};

use super::emitter::Emitter;
use super::eye::Eye;
use super::stage::{CoatOf, Sky, Stage};
use super::tracing::{Turns, trace_rows};

/// Stands for a refractive index that mirrors everything.
const MIRROR_INDEX: f32 = 1e6;
/// The ends of cylinders that are open: black.
const BLACK: BareSurface = BareSurface { rho: [0.0; 3], gloss: None };

/// How a surface throws light back.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BareSurface {
    /// Reflectance of the Lambertian part.
    pub rho: [f64; 3],
    /// Width alpha and refractive index (`None` for a perfect mirror) of the GGX part.
    pub gloss: Option<(f64, Option<f64>)>,
}

/// One solid with its surface; a cylinder with open ends shows black there.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct BareSolid {
    /// Shape, mm.
    pub shape: Shape,
    /// Its surface.
    pub surface: BareSurface,
    /// Whether its flat ends are open.
    pub open_ends: bool,
}

/// Solids, lamps and a camera. Lengths in mm.
pub struct BareScene {
    /// What stands still.
    pub still: Vec<BareSolid>,
    /// What is turned about an axis by an angle, radians.
    pub turned: Option<(Axis, f64, Vec<BareSolid>)>,
    /// Rectangles that shine with a radiance, any unit.
    pub lamps: Vec<(Panel, [f64; 3])>,
    /// The camera.
    pub view: View,
    /// Width and height in pixels.
    pub size: [usize; 2],
    /// Samples a pixel: a power of four.
    pub samples: usize,
}

impl BareScene {
    /// Mean radiance of each pixel, row-major from the top left, in the lamps' unit;
    /// direct light only.
    ///
    /// # Panics
    /// With more than sixty solids.
    #[must_use]
    pub fn render(&self) -> Vec<[f64; 3]> {
        let turned = self.turned.iter().flat_map(|(_, _, solids)| solids);
        let solids: Vec<&BareSolid> = self.still.iter().chain(turned).collect();
        assert!(solids.len() <= 60, "too many solids");
        // A material a solid, and one for open ends.
        let black = Material(solids.len() as u8);
        let mut surfaces: Vec<BareSurface> = solids.iter().map(|solid| solid.surface).collect();
        surfaces.push(BLACK);
        let coats = surfaces.iter().map(|surface| {
            let (width, index) = surface.gloss.unwrap_or((1.0, None));
            let index = index.map_or(MIRROR_INDEX, |index| index as f32);
            CoatOf { width2: (width * width) as f32, index }
        });
        let coats: Vec<CoatOf> =
            coats.chain([CoatOf { width2: 1.0, index: 1.5 }; Material::COUNT]).collect();
        let look = |(i, solid): (usize, &&BareSolid)| {
            let own = Material(i as u8);
            if solid.open_ends { Look::sides_and_ends(own, black) } else { Look::plain(own) }
        };
        let looks: Vec<Look> = solids.iter().enumerate().map(look).collect();
        let numbered: Vec<(u32, Shape)> = (0..).zip(solids.iter().map(|s| s.shape)).collect();
        let (still, moved) = numbered.split_at(self.still.len());
        let turning =
            self.turned.iter().map(|(axis, _, _)| Turning { axis: *axis, shapes: moved.to_vec() });
        let assembly = Assembly::with_numbers(still, turning.collect());
        let stage = Stage {
            assembly: &assembly,
            looks: &looks,
            coats,
            lamps: self
                .lamps
                .iter()
                .map(|(panel, _)| Emitter::new(panel, LampShape::Rectangle))
                .enumerate()
                .collect(),
            sky: Sky::Left,
            bounce: false,
            occluders: None,
            drawing: None,
        };
        let eye = Eye::sharp(&self.view, self.size, self.samples, 0);
        let angles: Vec<f64> = self.turned.iter().map(|(_, angle, _)| *angle).collect();
        let rows = trace_rows(&stage, &eye, &|_| Turns::fixed(&angles));
        // Radiance times π times area is flux.
        let flux = |(panel, radiance): &(Panel, [f64; 3])| {
            let area_m2 = 4.0 * panel.half_across.cross(panel.half_up).length() * 1e-6;
            radiance.map(|l| l * core::f64::consts::PI * area_m2)
        };
        let fluxes: Vec<[f64; 3]> = self.lamps.iter().map(flux).collect();
        let mut out = Vec::with_capacity(self.size[0] * self.size[1]);
        for row in &rows {
            let mut patches = row.patches(stage.lights());
            for &count in &row.counts {
                let mut pixel = [0.0; 3];
                for patch in patches.by_ref().take(usize::from(count)) {
                    if patch.material == Material::BACKDROP {
                        continue;
                    }
                    let surface = &surfaces[usize::from(patch.material.0)];
                    for (light, flux) in patch.arriving.iter().zip(&fluxes) {
                        let gloss =
                            if surface.gloss.is_some() { f64::from(light.gloss) } else { 0.0 };
                        for c in 0..3 {
                            let body =
                                f64::from(light.diffuse) * surface.rho[c] / core::f64::consts::PI;
                            pixel[c] += flux[c] * (body + gloss);
                        }
                    }
                }
                out.push(pixel);
            }
        }
        out
    }
}
