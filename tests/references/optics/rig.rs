//! A whole picture of a whole rig beside another renderer's: through scene file, rig,
//! pigments, lamps, view and sensor.

use dryturn_cube::{Stickering, random_state};
use dryturn_optics::{AsBuilt, LitView, Response, Shot, Taken};
use dryturn_scene::Scene;
use dryturn_units::noise::Seed;
use serde_json::Value as Json;

use super::super::{number, numbers};
use super::export::exported;
use super::{Case, Keys};
use crate::help;

fn scene() -> Scene {
    let text = help::read("tests/reference/rig_frame.ron");
    Scene::parse(&text, "rig_frame.ron").unwrap()
}

fn shown() -> Stickering {
    Stickering::from(&random_state(&mut Seed::new(3).stream("rig-frame", 0, 0)))
}

#[test]
#[ignore = "writes the rig for tests/reference/mitsuba_rig.py to stdout"]
fn export_rig() {
    println!("{}", exported(&scene(), &shown()));
}

/// Figures equal but for their last digits.
fn same(a: &Json, b: &Json) -> bool {
    match (a, b) {
        (Json::Number(a), Json::Number(b)) => {
            let (a, b) = (a.as_f64().unwrap(), b.as_f64().unwrap());
            (a - b).abs() <= 1e-9 * a.abs().max(1.0)
        }
        (Json::Array(a), Json::Array(b)) => {
            a.len() == b.len() && a.iter().zip(b).all(|(a, b)| same(a, b))
        }
        (Json::Object(a), Json::Object(b)) => {
            a.len() == b.len() && a.iter().all(|(key, a)| b.get(key).is_some_and(|b| same(a, b)))
        }
        (a, b) => a == b,
    }
}

/// Radiance of all pixels, channel by channel.
fn radiance(scene: &Scene, taken: &Taken) -> Vec<f64> {
    let full_scale = Response::of(scene, 0, 0).full_scale_per_s;
    let exposure_s = taken.exposure_ms * 1e-3;
    let pixel = |pixel: &[f32; 3]| -> [f64; 3] {
        core::array::from_fn(|c| f64::from(pixel[c]) / (full_scale[c] * exposure_s))
    };
    taken.linear().iter().flat_map(pixel).collect()
}

/// Summed difference over the sum.
fn difference(found: &[f64], wanted: &[f64]) -> f64 {
    let off: f64 = found.iter().zip(wanted).map(|(f, w)| (f - w).abs()).sum();
    off / wanted.iter().sum::<f64>()
}

/// At the same number of camera samples a pixel, a picture is no farther from the one of many
/// samples than the other renderer's own, which takes lamp and lobe together too.
pub(super) fn grain(case: &Case<'_>) -> Keys {
    let many: Json = serde_json::from_str(&help::read("tests/reference/rig_frame.json")).unwrap();
    let wanted = numbers(&many["groups"]["rig_frame"]["cases"][0]["expected"]["image_rgb"]);
    let mut file = scene().file().clone();
    file.cameras[0].samples_px = number(&case.input["samples_px"]) as u32;
    let scene = scene().with_file(file).unwrap();
    let built = AsBuilt::exactly(&scene);
    let shot = Shot { seed: Seed::new(1), name: "reference", trial: 0, second: false };
    let taken = LitView::trace(&scene, &built, 0).take(&scene, &built, &shown(), shot);
    let off = difference(&radiance(&scene, &taken), &wanted);
    for sampler in ["independent", "stratified"] {
        let theirs = number(&case.expected[sampler]);
        assert!(off < theirs, "{off} of the light, the other renderer {theirs}, {sampler}");
    }
    &["independent", "stratified"]
}

pub(super) fn frame(case: &Case<'_>) -> Keys {
    let scene = scene();
    assert!(
        same(&exported(&scene, &shown()), case.input),
        "the reference was made of another rig: tests/reference/mitsuba_rig.py makes it anew"
    );
    let built = AsBuilt::exactly(&scene);
    let view = LitView::trace(&scene, &built, 0);
    let shot = Shot { seed: Seed::new(1), name: "reference", trial: 0, second: false };
    let taken = view.take(&scene, &built, &shown(), shot);
    assert!(taken.clipped.iter().all(|clipped| !clipped), "the comparison needs the whole range");
    let found = radiance(&scene, &taken);
    let wanted = numbers(&case.expected["image_rgb"]);
    assert_eq!(found.len(), wanted.len());
    let all: f64 = wanted.iter().sum();
    case.near("image_rgb, summed difference", difference(&found, &wanted), 0.0, 0.0, 0.01);
    // Facelet by facelet.
    let labels = view.labels(&scene, &built, &shown(), (&taken, shot));
    let mut compared = 0;
    for label in labels.facelets.iter().filter(|label| label.visible_px >= 20) {
        let code = label.facelet.index() as u8;
        let pixels = || (0..labels.codes.len()).filter(|&i| labels.codes[i] == code);
        for c in 0..3 {
            let sum = |image: &[f64]| pixels().map(|i| image[3 * i + c]).sum::<f64>();
            case.near("facelets", sum(&found), sum(&wanted), 0.02, 0.0);
        }
        compared += 1;
    }
    assert!(compared >= 21, "{compared} facelets compared");
    silhouettes(case, &found, &wanted, labels.width);
    let mean = |image: &[f64]| -> Vec<f64> {
        let pixels = (image.len() / 3) as f64;
        (0..3).map(|c| image.iter().skip(c).step_by(3).sum::<f64>() / pixels).collect()
    };
    case.all_near("mean_rgb", &mean(&found), 0.01, 0.0);
    assert!(number(&case.expected["stderr_rms"]) < 0.02 * all / wanted.len() as f64 * 3.0);
    &["image_rgb", "mean_rgb", "stderr_rms"]
}

/// A pixel that is clearly lit in one picture has a lit one within a pixel in the other.
fn silhouettes(case: &Case<'_>, one: &[f64], other: &[f64], width: usize) {
    let height = one.len() / 3 / width;
    let lit =
        |image: &[f64], i: usize, more: f64| image[3 * i..3 * i + 3].iter().any(|&v| v > more);
    // Where a shadow ends the last rays of many bring next to nothing.
    let clearly = 0.02 * other.iter().sum::<f64>() / other.len() as f64;
    for (a, b) in [(one, other), (other, one)] {
        for i in (0..width * height).filter(|&i| lit(a, i, clearly)) {
            let (row, column) = (i / width, i % width);
            let rows = row.saturating_sub(1)..(row + 2).min(height);
            let mut columns =
                (column.saturating_sub(1)..(column + 2).min(width)).collect::<Vec<_>>();
            columns.dedup();
            let near =
                rows.into_iter().any(|r| columns.iter().any(|&c| lit(b, r * width + c, 0.0)));
            assert!(near, "{}: only one picture is lit at {column}, {row}", case.id);
        }
    }
}
