//! A bare room for measuring one effect at a time: no noise, no spread, three sensors,
//! sixteen bits, nothing corrected. Every effect is off until a test turns it on.

#![allow(dead_code)] // not every test of the lab needs everything

use dryturn_cube::{CubeState, Facelet, Stickering};
use dryturn_optics::survey::{FaceletSurvey, Survey};
use dryturn_optics::{AsBuilt, LitView, Shot, Taken};
use dryturn_scene::file::{
    Fixture, FixtureShape, FixtureUse, Mosaic, SceneFile, Shutter, WhiteBalance,
};
use dryturn_scene::{Posture, Scene};
use dryturn_units::noise::Seed;

/// A scene with everything off, then changed.
pub(crate) fn lab(change: impl FnOnce(&mut SceneFile)) -> Scene {
    let text = include_str!("../../../../../scenes/workbench.ron");
    let scene = Scene::parse(text, "lab.ron").unwrap();
    let mut file = scene.file().clone();
    file.fixtures.clear();
    file.surroundings.ambient_shadows = false;
    file.tolerances.mount_shift_sigma_mm = 0.0;
    file.tolerances.mount_turn_sigma_deg = 0.0;
    file.tolerances.batch_tint_sigma_share = 0.0;
    file.tolerances.facelet_brightness_sigma_share = 0.0;
    file.tolerances.facelet_tint_sigma_share = 0.0;
    for camera in &mut file.cameras {
        (camera.width_px, camera.height_px) = (160, 120);
        camera.vignetting_power_ratio = 0.0;
        camera.shutter = Shutter::Global;
        camera.mosaic = Mosaic::None;
        camera.shot_noise = false;
        (camera.read_noise_e, camera.dark_current_e_per_s) = (0.0, 0.0);
        (camera.full_well_e, camera.gain_ratio) = (20_000.0, 1.0);
        (camera.converter_bits, camera.black_level_share) = (16, 0.0);
        camera.white_balance = WhiteBalance::Fixed;
        (camera.white_balance_red_ratio, camera.white_balance_blue_ratio) = (1.0, 1.0);
        camera.colour_matrix_red_ratio = [1.0, 0.0, 0.0];
        camera.colour_matrix_green_ratio = [0.0, 1.0, 0.0];
        camera.colour_matrix_blue_ratio = [0.0, 0.0, 1.0];
    }
    change(&mut file);
    scene.with_file(file).unwrap()
}

/// A grey block.
pub(crate) fn block(
    name: &str,
    position_mm: [f64; 3],
    size_mm: [f64; 3],
    reflectance: f64,
) -> Fixture {
    Fixture {
        name: name.to_owned(),
        role: FixtureUse::Bracket,
        shape: FixtureShape::Block,
        position_mm,
        size_mm,
        reflectance_share: reflectance,
        gloss_width_ratio: 1.0,
    }
}

/// The first camera's picture of a solved cube.
pub(crate) fn take(scene: &Scene) -> Taken {
    take_turned(scene, &Posture::REST, "lab")
}

/// The same with layers turned, in a shot of another name.
pub(crate) fn take_turned(scene: &Scene, posture: &Posture, name: &str) -> Taken {
    let built = AsBuilt::draw(scene, Seed::new(1), 0);
    let shown = Stickering::from(&CubeState::SOLVED);
    let shot = Shot { seed: Seed::new(1), name, trial: 0, second: false };
    LitView::trace_turned(scene, &built, 0, posture).take(scene, &built, &shown, shot)
}

/// Linear light of a pixel, by row and column.
pub(crate) fn at(taken: &Taken, row: usize, column: usize) -> [f64; 3] {
    taken.linear_at(row * taken.frame.width + column).map(f64::from)
}

/// A shipped scene: two cameras, a window and lamps.
pub(crate) fn foyer() -> Scene {
    let text = include_str!("../../../../../scenes/foyer_morning.ron");
    Scene::parse(text, "foyer_morning").unwrap()
}

/// A facelet by name.
pub(crate) fn facelet(name: &str) -> Facelet {
    Facelet::from_name(name).unwrap()
}

/// A facelet in a camera's survey, by name.
pub(crate) fn surveyed<'a>(survey: &'a Survey, camera: usize, name: &str) -> &'a FaceletSurvey {
    survey.cameras[camera].facelets.iter().find(|f| f.facelet == facelet(name)).unwrap()
}
