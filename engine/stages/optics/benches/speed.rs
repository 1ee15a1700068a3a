//! How many camera samples a second the foyer scene takes, beside what another renderer
//! needs to do the same: `cargo bench -p dryturn-optics > speed.json`. Prints one JSON
//! object; `tests/reference/mitsuba_speed.py` reads it.
//!
//! Edges are sharp and stickers square, so that the other renderer can have the same
//! scene; some figures are those of the scene as it is.

#[path = "../../../../tests/references/optics/export.rs"]
mod export;

use std::time::Instant;

use dryturn_cube::{CubeState, Stickering};
use dryturn_optics::{AsBuilt, LitView, Shot};
use dryturn_scene::Scene;
use dryturn_scene::file::{Body, SceneFile};
use dryturn_units::noise::Seed;
use serde_json::json;

/// Rounds of which the fastest counts.
const ROUNDS: usize = 7;

fn fastest_s(mut work: impl FnMut()) -> f64 {
    let time = |_| {
        #[allow(clippy::disallowed_methods)] // a benchmark looks at the clock
        let start = Instant::now();
        work();
        start.elapsed().as_secs_f64()
    };
    (0..ROUNDS).map(time).fold(f64::INFINITY, f64::min)
}

fn changed(scene: &Scene, change: impl FnOnce(&mut SceneFile)) -> Scene {
    let mut file = scene.file().clone();
    change(&mut file);
    scene.with_file(file).unwrap_or_else(|error| panic!("{error}"))
}

fn main() {
    let text = include_str!("../../../../scenes/foyer_morning.ron");
    let scene = Scene::parse(text, "foyer_morning").unwrap_or_else(|error| panic!("{error}"));
    let size = |file: &mut SceneFile, [width, height]: [u32; 2], samples: u32| {
        for camera in &mut file.cameras {
            (camera.width_px, camera.height_px, camera.samples_px) = (width, height, samples);
        }
    };
    let full = changed(&scene, |file| size(file, [640, 480], 16));
    let sharp = changed(&full, |file| {
        (file.cube.rim_radius_mm, file.cube.facelet_corner_mm) = (0.0, 0.0);
        file.cube.body = Body::Black;
    });
    let one_light = changed(&sharp, |file| {
        file.lamps.truncate(1);
        (file.surroundings.ambient_lux, file.surroundings.ambient_shadows) = (0.0, false);
    });
    let rate = |scene: &Scene| {
        let built = AsBuilt::exactly(scene);
        let work = || drop(std::hint::black_box(LitView::trace(scene, &built, 0)));
        640.0 * 480.0 * 16.0 / fastest_s(work)
    };
    // A scan pair with everything on.
    let small = changed(&scene, |file| size(file, [320, 240], 4));
    let built = AsBuilt::draw(&small, Seed::new(1), 0);
    let shown = Stickering::from(&CubeState::SOLVED);
    let shot = Shot { seed: Seed::new(1), name: "scan", trial: 0, second: false };
    let views = || -> Vec<LitView> {
        (0..small.file().cameras.len()).map(|c| LitView::trace(&small, &built, c)).collect()
    };
    let trace_s = fastest_s(|| drop(std::hint::black_box(views())));
    let traced = views();
    let expose = || {
        traced.iter().for_each(|view| {
            drop(std::hint::black_box(view.expose(&small, &built, &shown, shot)));
        });
    };
    let expose_s = fastest_s(expose);
    let solved = Stickering::from(&CubeState::SOLVED);
    #[allow(clippy::disallowed_macros)] // what it is run for
    {
        println!(
            "{}",
            json!({
                "lights": sharp.file().lamps.len() + 1,
                "samples_per_s_all_lights": rate(&sharp),
                "samples_per_s_one_light": rate(&one_light),
                "samples_per_s_as_it_is": rate(&full),
                "scan_pair_ms": { "trace": 1e3 * trace_s, "expose": 1e3 * expose_s },
                "rig": export::exported(&sharp, &solved),
                "rig_one_light": export::exported(&one_light, &solved),
            })
        );
    }
}
