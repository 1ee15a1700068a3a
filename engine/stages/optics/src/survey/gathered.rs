//! What the pixels of each facelet gather, painted in each of the six colours.

use dryturn_cube::{CubeState, Face, Facelet, Stickering};
use dryturn_scene::file::Pigment;
use dryturn_scene::{Material, Scene};
use dryturn_units::noise::Seed;

use crate::as_built::AsBuilt;
use crate::camera::sensor::{CHANNELS, saturating_e};
use crate::lit_view::LitView;
use crate::picture::{Painted, Shot, flux};

/// A survey has no moment: lamps shine with their mean.
pub(super) fn no_moment() -> Shot<'static> {
    Shot { seed: Seed::new(0), name: "survey", trial: 0, second: false }
}

/// What is added up over the pixels of one facelet.
#[derive(Clone, Default)]
pub(super) struct Gathered {
    /// Pixels whose centre shows it.
    pub(super) visible: usize,
    pub(super) clipped: usize,
    /// By colour.
    pub(super) glaring: [usize; 6],
    /// Electrons by colour, summed over the visible pixels.
    pub(super) electrons: [[f64; CHANNELS]; 6],
    pub(super) lux: Vec<f64>,
    /// The same through the gloss.
    pub(super) mirrored: Vec<f64>,
    pub(super) share: f64,
    /// Electrons of a pixel without light.
    pub(super) dark_e: f64,
}

impl Gathered {
    /// Mean electrons of a pixel for a colour.
    pub(super) fn mean_e(&self, colour: usize) -> [f64; CHANNELS] {
        self.electrons[colour].map(|sum| sum / self.visible.max(1) as f64)
    }
}

/// Every facelet's pixels, painted in each of the six colours.
pub(super) fn gather(
    scene: &Scene,
    built: &AsBuilt,
    view: &LitView,
    materials: &[Material],
) -> Vec<Gathered> {
    let file = scene.file();
    let camera = &file.cameras[view.camera];
    let lights = view.lamps + 1;
    let none = vec![0.0; lights];
    let empty = Gathered { lux: none.clone(), mirrored: none, ..Gathered::default() };
    let mut all = vec![empty; Facelet::COUNT];
    for row in &view.rows {
        for patch in row.patches(lights) {
            let Some(facelet) = patch.material.facelet() else { continue };
            let into = &mut all[facelet.index()];
            into.share += f64::from(patch.share);
            for (light, arrival) in patch.arriving.iter().enumerate() {
                into.lux[light] += f64::from(arrival.diffuse) * flux(scene, light);
                into.mirrored[light] += f64::from(arrival.gloss) * flux(scene, light);
            }
        }
    }
    let levels = vec![1.0; lights];
    // A camera that chooses its exposure time looks at a solved cube.
    let solved = Stickering::from(&CubeState::SOLVED);
    let exposure_s =
        view.exposure_s(camera, &Painted::new(view, scene, built, &solved, no_moment()));
    all.iter_mut().for_each(|f| f.dark_e = camera.dark_current_e_per_s * exposure_s);
    for face in Face::ALL {
        let colour = face.index();
        let shown = Stickering([Facelet::new(face, 1, 1); Facelet::COUNT]);
        let painted = Painted::new(view, scene, built, &shown, no_moment());
        for row in 0..view.height {
            painted.row(row, &levels, |column, light| {
                let Some(facelet) = materials[row * view.width + column].facelet() else { return };
                let into = &mut all[facelet.index()];
                let electrons = light.all.map(|e| e * exposure_s);
                let held = electrons.map(|e| e + camera.dark_current_e_per_s * exposure_s);
                into.visible += usize::from(colour == 0);
                (0..CHANNELS).for_each(|c| into.electrons[colour][c] += electrons[c]);
                into.glaring[colour] += usize::from(light.glares());
                let full_e = saturating_e(camera);
                let white = file.cube.colours.of(face) == Pigment::White;
                into.clipped += usize::from(white && held.iter().any(|&e| e >= full_e));
            });
        }
    }
    all
}
