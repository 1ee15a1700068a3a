//! The rig as it was built: the drawing plus seeded errors. Only this stage
//! knows it.

use dryturn_cube::{Face, Facelet};
use dryturn_geometry::DVec3;
use dryturn_scene::{Scene, View};
use dryturn_units::noise::Seed;
use dryturn_units::radians;

/// A facelet's own reflectance, beside that of its pigment when new.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sticker {
    /// Factor on the reflectance, per channel.
    pub factor: [f64; 3],
    /// Wear, 0 new to 1 worn out.
    pub wear: f64,
}

/// True camera poses and the facelets' own reflectances.
#[derive(Clone, Debug, PartialEq)]
pub struct AsBuilt {
    /// True views, in the scene's camera order.
    pub views: Vec<View>,
    /// By home facelet.
    pub stickers: [Sticker; Facelet::COUNT],
}

impl AsBuilt {
    /// The rig exactly as drawn.
    #[must_use]
    pub fn exactly(scene: &Scene) -> Self {
        let sticker = Sticker { factor: [1.0; 3], wear: scene.file().cube.wear_share };
        Self { views: scene.views().to_vec(), stickers: [sticker; Facelet::COUNT] }
    }

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
        // Factors end where the whitest pigment would reach reflectance 1.
        let mut noise = seed.stream("stickers", trial, 0);
        let mut factor = |sigma: f64| (1.0 + sigma * noise.gaussian()).clamp(0.5, 1.06);
        let own: [[f64; 3]; Facelet::COUNT] = core::array::from_fn(|_| {
            let brightness = factor(tolerances.facelet_brightness_sigma_share);
            [0; 3].map(|_| brightness * factor(tolerances.facelet_tint_sigma_share))
        });
        let mut noise = seed.stream("sticker-batch", trial, 0);
        let batch: [[f64; 3]; Face::ALL.len()] = core::array::from_fn(|_| {
            let mut tint = || 1.0 + tolerances.batch_tint_sigma_share * noise.gaussian();
            [0; 3].map(|_| tint().clamp(0.5, 1.04))
        });
        let mut noise = seed.stream("sticker-wear", trial, 0);
        let stickers = core::array::from_fn(|i| {
            let face = i / 9;
            let wear = noise.between(0.0, 1.0) * tolerances.facelet_wear_share;
            Sticker {
                factor: core::array::from_fn(|c| own[i][c] * batch[face][c]),
                wear: (scene.file().cube.wear_share + wear).min(1.0),
            }
        });
        Self { views: views.collect(), stickers }
    }
}
