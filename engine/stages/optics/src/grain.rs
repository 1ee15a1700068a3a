//! What sampling adds to a picture, beside what the sensor adds.
//!
//! The same view is traced several times, each with another pattern of samples. What a
//! pixel strays by from one to the next is the sampling's own noise; EMVA 1288 tells the
//! sensor's.

use dryturn_cube::{Face, Facelet, Stickering};
use dryturn_geometry::DVec3;
use dryturn_scene::Scene;
use dryturn_scene::file::{Camera, SceneFile};
use dryturn_units::noise::Seed;

use crate::as_built::AsBuilt;
use crate::camera::sensor::{CHANNELS, ReadOut, saturating_e};
use crate::lit_view::LitView;
use crate::picture::{Painted, Shot};

/// Patterns that a view is traced with.
const REPEATS: usize = 12;
/// Samples a pixel, as cameras have them unless a scene says otherwise.
const SAMPLES: u32 = 16;
/// Size of the pictures.
const SIZE_PX: (u32, u32) = (160, 120);

/// Deviation of sampling over that of the sensor: every whole-facelet pixel's channels.
fn ratios(scene: &Scene) -> Vec<f64> {
    let built = AsBuilt::exactly(scene);
    let shot = Shot { seed: Seed::new(0), name: "grain", trial: 0, second: false };
    let levels = vec![1.0; scene.file().lamps.len() + 1];
    let mut all = Vec::new();
    for (number, camera) in scene.file().cameras.iter().enumerate() {
        let views: Vec<LitView> = (0..REPEATS)
            .map(|repeat| LitView::with_patterns(scene, &built, number, 64 * repeat + number))
            .collect();
        let read_out = ReadOut::of(camera);
        for face in Face::ALL {
            // Every facelet in one colour after the other.
            let shown = Stickering([Facelet::new(face, 1, 1); Facelet::COUNT]);
            let painted: Vec<Painted<'_>> =
                views.iter().map(|view| Painted::new(view, scene, &built, &shown, shot)).collect();
            let exposure_s = views[0].exposure_s(camera, &painted[0]);
            let dark_e = camera.dark_current_e_per_s * exposure_s;
            for row in 0..views[0].height {
                let mut seen = vec![[[0.0; CHANNELS]; REPEATS]; views[0].width];
                for (k, painted) in painted.iter().enumerate() {
                    painted.row(row, &levels, |column, light| {
                        seen[column][k] = light.all.map(|e| e * exposure_s + dark_e);
                    });
                }
                for (column, own) in seen.iter().enumerate() {
                    if !views.iter().all(|view| view.is_one_facelet(row, column)) {
                        continue;
                    }
                    for c in 0..CHANNELS {
                        let n = REPEATS as f64;
                        let mean = own.iter().map(|e| e[c]).sum::<f64>() / n;
                        if mean > saturating_e(camera) {
                            continue;
                        }
                        let of = own.iter().map(|e| (e[c] - mean) * (e[c] - mean)).sum::<f64>();
                        let sampled = (of / (n - 1.0)).sqrt() * read_out.codes_per_e;
                        all.push(sampled / read_out.noise_codes(mean));
                    }
                }
            }
        }
    }
    all.sort_by(f64::total_cmp);
    all
}

/// A scene with small pictures of so many samples a pixel, then changed; nothing where the
/// changed scene is none.
fn try_scene(text: &str, samples: u32, change: impl FnOnce(&mut SceneFile)) -> Option<Scene> {
    let scene = Scene::parse(text, "grain.ron").unwrap_or_else(|error| panic!("{error}"));
    let mut file = scene.file().clone();
    let small = |camera: &mut Camera| {
        (camera.width_px, camera.height_px) = SIZE_PX;
        camera.samples_px = samples;
    };
    file.cameras.iter_mut().for_each(small);
    change(&mut file);
    scene.with_file(file).ok()
}

fn scene(text: &str, samples: u32, change: impl FnOnce(&mut SceneFile)) -> Scene {
    try_scene(text, samples, change).expect("a valid scene")
}

const MORNING: &str = include_str!("../../../../scenes/foyer_morning.ron");
const EVENING: &str = include_str!("../../../../scenes/foyer_evening.ron");
const WORKBENCH: &str = include_str!("../../../../scenes/workbench.ron");

/// A camera that looks along the upper face, 8 degrees above it.
fn grazing(file: &mut SceneFile) {
    for camera in &mut file.cameras {
        camera.position_mm = [10.0, 58.0, 210.0];
        camera.aim_mm = [0.0, 28.0, 0.0];
    }
}

/// The lamp where the upper face mirrors it into that camera.
fn mirrored(file: &mut SceneFile) {
    grazing(file);
    file.lamps.truncate(1);
    let lamp = &mut file.lamps[0];
    lamp.position_mm = [-20.0, 100.0, -300.0];
    lamp.aim_mm = [0.0, 28.0, 0.0];
    (lamp.width_mm, lamp.height_mm) = (200.0, 100.0);
}

/// A layout nobody chose: cameras and lamps anywhere round the rig, exposed as a builder would.
fn layout(seed: u64, number: u64) -> impl Fn(&mut SceneFile) {
    move |file: &mut SceneFile| {
        let mut noise = Seed::new(seed).stream("layouts", number, 0);
        let mut somewhere = |near_mm: f64, far_mm: f64| {
            let way = DVec3::from_array([0; 3].map(|_| noise.gaussian())).normalize();
            (way * noise.between(near_mm, far_mm)).to_array()
        };
        for camera in &mut file.cameras {
            camera.position_mm = somewhere(180.0, 320.0);
            camera.auto_exposure_share = 0.3;
        }
        // The window stays where it is.
        for lamp in &mut file.lamps[1..] {
            lamp.position_mm = somewhere(250.0, 700.0);
        }
        for lamp in &mut file.lamps[1..] {
            (lamp.width_mm, lamp.height_mm) =
                (noise.between(40.0, 500.0), noise.between(40.0, 300.0));
        }
        file.cube.gloss_width_ratio = noise.between(0.05, 0.4);
    }
}
/// Below which ratio a share of the pixels' channels lies.
fn percentile(sorted: &[f64], share: f64) -> f64 {
    sorted[((sorted.len() - 1) as f64 * share) as usize]
}

/// At 16 samples a pixel, what sampling adds stays below the sensor's own noise in 19 of 20
/// channels of pixels that show a facelet: in the shipped scenes, and where a glossy face is
/// looked at along its plane, with and without a lamp mirrored in it. Found: 0.10 to 0.37 of
/// the sensor's noise, before lamps and gloss were sampled together 1.6 to 4.
#[test]
fn sampling_adds_less_than_the_sensor() {
    type Change = fn(&mut SceneFile);
    let cases: [(&str, &str, Change); 6] = [
        ("morning", MORNING, |_| {}),
        ("evening", EVENING, |_| {}),
        ("workbench", WORKBENCH, |_| {}),
        ("morning along a face", MORNING, grazing),
        ("morning, a lamp mirrored", MORNING, mirrored),
        ("glossy, a lamp mirrored", MORNING, |file| {
            mirrored(file);
            file.cube.gloss_width_ratio = 0.08;
        }),
    ];
    for (name, text, change) in cases {
        let all = ratios(&scene(text, SAMPLES, change));
        let found = [0.5, 0.95, 0.99].map(|share| percentile(&all, share));
        assert!(all.len() > 20_000, "{name}: {}", all.len());
        assert!(found[1] < 1.0, "{name}: {found:.2?} of the sensor's noise");
    }
}

/// 95th percentiles of layouts number 0 to `number` of a seed that see the cube.
fn of_layouts(seed: u64, number: u64) -> Vec<f64> {
    let of = |number: u64| {
        let all = ratios(&try_scene(MORNING, SAMPLES, layout(seed, number))?);
        // A layout that sees hardly a facelet says nothing.
        (all.len() > 10_000).then(|| percentile(&all, 0.95))
    };
    (0..number).filter_map(of).collect()
}

/// Four of five are below the sensor's noise. Where a lamp stands in the plane of a face and is
/// mirrored along it, sampling can add four times as much as the sensor.
fn nearly_all_are_below(found: &[f64], seed: u64) {
    let below = found.iter().filter(|ratio| **ratio < 1.0).count();
    assert!(10 * below >= 8 * found.len(), "seed {seed}: {found:.2?}");
}

/// The same with cameras and lamps that nobody chose.
#[test]
fn sampling_adds_less_than_the_sensor_in_layouts_nobody_chose() {
    let found = of_layouts(1, 5);
    assert!(found.len() >= 4, "{found:.2?}");
    nearly_all_are_below(&found, 1);
}

/// And with seeds that were not looked at while this was built: 52 of 56 layouts are below 1.
#[test]
#[ignore = "takes two minutes"]
fn sampling_adds_less_than_the_sensor_in_other_layouts() {
    for seed in 71..=76 {
        nearly_all_are_below(&of_layouts(seed, 10), seed);
    }
}
