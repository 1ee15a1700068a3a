//! What several bodies need.

use std::fmt::Display;
use std::sync::{Arc, LazyLock};

use dryturn_cube::{CubeState, Stickering};
use dryturn_rehearsal::BuiltRig;
use dryturn_scene::{Scene, SceneError};
use dryturn_studies::findings;
use dryturn_units::noise::Seed;
use serde_json::json;

pub(super) const WORKBENCH: &str = include_str!("../../../scenes/workbench.ron");
/// Largest text that the program reads, but for logs.
const MOST_TEXT: usize = 1 << 20;

/// A scene that strangers' files are read for.
pub(super) static DRAWN: LazyLock<Arc<Scene>> = LazyLock::new(|| workbench([320, 240]));
/// Its rig.
pub(super) static RIG: LazyLock<BuiltRig> =
    LazyLock::new(|| BuiltRig::new(&DRAWN, Seed::new(1), 0));

/// The workbench, with figures that a person gave in the place of derived ones, and with pictures
/// of so many pixels.
pub(super) fn workbench(size: [u32; 2]) -> Arc<Scene> {
    let given = [
        ("cube.mass_g", json!(82.04)),
        ("cube.facelet_edge_mm", json!(16.0)),
        ("drive.layer_inertia_kg_m2", json!(1.4e-5)),
        ("drive.friction_torque_n_m", json!(0.156)),
    ];
    let scene = Scene::parse(WORKBENCH, "workbench.ron").expect("a scene of ours");
    let scene = scene.with_all(&given).expect("figures within their ranges");
    Arc::new(sized(&scene, size).expect("pictures within their ranges"))
}

/// A scene with pictures of another size, one ray a pixel.
fn sized(scene: &Scene, size: [u32; 2]) -> Result<Scene, SceneError> {
    let mut file = scene.file().clone();
    for camera in &mut file.cameras {
        *camera = camera.with_pixels(size);
        camera.samples_px = 1;
    }
    scene.with_file(file)
}

/// A text as the program's `dryturn_console::text` reads it from a file.
pub(super) fn text_of(bytes: &[u8]) -> Option<&str> {
    let text = std::str::from_utf8(bytes).ok().filter(|_| bytes.len() <= MOST_TEXT)?;
    Some(text.strip_prefix('\u{feff}').unwrap_or(text))
}

/// True of one input in so many, always the same ones.
pub(super) fn rarely(bytes: &[u8], one_in: u32) -> bool {
    crc32(bytes).is_multiple_of(one_in)
}

/// The cyclic redundancy check of IEEE 802.3, which rig plans and PNG pictures carry.
pub(super) fn crc32(bytes: &[u8]) -> u32 {
    let of = |crc: u32, byte: &u8| {
        (0..8).fold(crc ^ u32::from(*byte), |crc, _| {
            if crc & 1 == 1 { (crc >> 1) ^ 0xedb8_8320 } else { crc >> 1 }
        })
    };
    !bytes.iter().fold(u32::MAX, of)
}

/// A refusal says why.
pub(super) fn said(error: &dyn Display) {
    assert!(!error.to_string().trim().is_empty(), "refused without a word");
}

/// A scene's refusal says why, in each of the ways in which it is told.
pub(super) fn refused(error: &SceneError) {
    assert!(!error.faults().is_empty());
    error.faults().iter().for_each(|fault| said(fault));
    said(error);
    said(&error.discreet());
}

/// What is done with a scene that was taken: what is strange about it, and a picture of each of
/// its cameras, small.
pub(super) fn looked_at(scene: &Scene) {
    // What fits another size of picture need not fit this one.
    let Ok(small) = sized(scene, [64, 64]) else { return };
    findings(&small).iter().for_each(|finding| said(&finding.sentence()));
    let rig = BuiltRig::new(&Arc::new(small), Seed::new(1), 0);
    let shown = Stickering::from(&CubeState::SOLVED);
    for frame in rig.scan_unlabelled(&shown).frames {
        assert_eq!(frame.pixels.len(), 3 * frame.width * frame.height);
    }
}
