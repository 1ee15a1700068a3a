//! The rig as it was built: the drawing plus seeded errors. Only this stage
//! knows it.

use dryturn_cube::Facelet;
use dryturn_geometry::DVec3;
use dryturn_scene::{Scene, View};
use dryturn_units::noise::Seed;
use dryturn_units::radians;

/// True camera poses and the stickers' own reflectances.
#[derive(Clone, Debug)]
pub struct AsBuilt {
    /// True views, in the scene's camera order.
    pub views: Vec<View>,
    /// Factor on each sticker's reflectance, per channel, by home facelet.
    pub sticker_factor: [[f64; 3]; Facelet::COUNT],
}

impl AsBuilt {
    /// Draws the errors that the scene's tolerances allow. The same seed and
    /// trial give the same errors whatever the light, so a rig stays the same
    /// from morning to evening.
    #[must_use]
    pub fn draw(scene: &Scene, seed: Seed, trial: u64) -> Self {
        let tolerances = &scene.file().tolerances;
        let views = scene.views().iter().enumerate().map(|(camera, view)| {
            let mut noise = seed.stream("mount", trial, camera as u64);
            let mut vector =
                |sigma: f64| DVec3::from_array([0; 3].map(|_| sigma * noise.gaussian()));
            let shift = vector(tolerances.mount_shift_sigma_mm);
            let turn = vector(radians(tolerances.mount_turn_sigma_deg));
            View { pose: view.pose.disturbed(shift, turn), lens: view.lens }
        });
        let mut noise = seed.stream("stickers", trial, 0);
        // Two factors of 1.08 keep the whitest pigment below reflectance 1.
        let mut factor = |sigma: f64| (1.0 + sigma * noise.gaussian()).clamp(0.5, 1.08);
        let sticker_factor = core::array::from_fn(|_| {
            let brightness = factor(tolerances.facelet_brightness_sigma_share);
            [0; 3].map(|_| brightness * factor(tolerances.facelet_tint_sigma_share))
        });
        Self { views: views.collect(), sticker_factor }
    }
}
