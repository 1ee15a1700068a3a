//! A scene's views as they are traced, and what of a scene they hang on.

use dryturn_optics::{AsBuilt, LitView};
use dryturn_scene::Scene;
use dryturn_scene::file::{
    Camera, FlickerWave, Lamp, Mosaic, SceneFile, Shutter, Spectrum, Surroundings, WhiteBalance,
};
use dryturn_units::noise::Seed;

/// A coarse frame has a quarter of the width and height.
const COARSE: u32 = 4;

/// A scene's views: kept while only brightness, colour or exposure change, and lit
/// anew by the lamps that have moved.
pub(super) struct Views {
    trial: u64,
    geometry: SceneFile,
    pub(super) built: AsBuilt,
    pub(super) views: Vec<LitView>,
}

/// A scene without all that is only reckoned when a traced view is exposed: what is
/// left decides which rays are traced.
fn geometry(scene: &Scene) -> SceneFile {
    let mut file = scene.file().clone();
    for lamp in &mut file.lamps {
        *lamp = Lamp {
            flux_lm: 0.0,
            spectrum: Spectrum::Daylight,
            cct_k: 5000.0,
            spectrum_csv: String::new(),
            flicker_depth_share: 0.0,
            flicker_wave: FlickerWave::Sine,
            flicker_hz: 100.0,
            flicker_duty_share: 0.5,
            flicker_phase_deg: 0.0,
            flicker_locked: false,
            ..lamp.clone()
        };
    }
    for camera in &mut file.cameras {
        *camera = Camera {
            exposure_ms: 1.0,
            start_ms: 0.0,
            bracket_share: 1.0,
            auto_exposure_share: 0.0,
            shutter: Shutter::Global,
            row_time_us: 0.0,
            sensor_csv: String::new(),
            mosaic: Mosaic::None,
            full_well_e: 1e4,
            read_noise_e: 0.0,
            dark_current_e_per_s: 0.0,
            shot_noise: false,
            gain_ratio: 1.0,
            converter_bits: 8,
            black_level_share: 0.0,
            white_balance: WhiteBalance::Fixed,
            white_balance_red_ratio: 1.0,
            white_balance_blue_ratio: 1.0,
            colour_matrix_red_ratio: [0.0; 3],
            colour_matrix_green_ratio: [0.0; 3],
            colour_matrix_blue_ratio: [0.0; 3],
            saturation_ratio: 1.0,
            brightness_share: 0.0,
            jpeg_quality_percent: 0,
            // Where all is sharp, the aperture only decides how much light comes in.
            f_number_ratio: if camera.focus_mm > 0.0 { camera.f_number_ratio } else { 1.0 },
            ..camera.clone()
        };
    }
    file.surroundings = Surroundings {
        ambient_lux: 0.0,
        ambient_spectrum: Spectrum::Daylight,
        ambient_cct_k: 5000.0,
        ambient_spectrum_csv: String::new(),
        backdrop_reflectance_share: 0.0,
        ..file.surroundings
    };
    file
}

/// The scene with cameras of fewer pixels; `None` where it has none such.
pub(super) fn coarse(scene: &Scene) -> Option<Scene> {
    let mut file = scene.file().clone();
    for camera in &mut file.cameras {
        let size = [camera.width_px, camera.height_px].map(|px| (px / COARSE).max(64));
        *camera = camera.with_pixels(size);
    }
    scene.with_file(file).ok()
}

impl Views {
    fn of(scene: &Scene, seed: Seed, trial: u64) -> Self {
        let built = AsBuilt::draw(scene, seed, trial);
        let cameras = 0..scene.file().cameras.len();
        let views = cameras.map(|camera| LitView::trace(scene, &built, camera)).collect();
        Self { trial, geometry: geometry(scene), built, views }
    }

    /// The lamps that stand elsewhere now; `None` if anything else differs.
    fn moved_lamps(&self, now: &SceneFile) -> Option<Vec<usize>> {
        let before = &self.geometry;
        let rest = SceneFile { lamps: now.lamps.clone(), ..before.clone() };
        let same_rest = rest == *now && before.lamps.len() == now.lamps.len();
        let differs = |&lamp: &usize| before.lamps[lamp] != now.lamps[lamp];
        same_rest.then(|| (0..now.lamps.len()).filter(differs).collect())
    }

    /// The kept views where they still fit, lit anew by lamps that have moved, else
    /// new ones.
    pub(super) fn refresh(kept: &mut Option<Self>, scene: &Scene, seed: Seed, trial: u64) {
        let now = geometry(scene);
        let same_build = kept.as_ref().filter(|kept| kept.trial == trial);
        let moved = same_build.and_then(|kept| kept.moved_lamps(&now));
        match (kept, moved) {
            (_, Some(moved)) if moved.is_empty() => {}
            (Some(kept), Some(moved)) => {
                let Self { geometry, views, .. } = kept;
                views.iter_mut().for_each(|view| view.relight(scene, &moved));
                *geometry = now;
            }
            (kept, _) => *kept = Some(Self::of(scene, seed, trial)),
        }
    }
}
