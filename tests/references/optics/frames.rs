//! Whole pictures beside another renderer's.

use dryturn_geometry::{Axis, DVec2, DVec3, Distortion, Lens, Pose, Shape};
use dryturn_optics::bare::{BareScene, BareSolid, BareSurface};
use dryturn_scene::View;
use dryturn_scene::lamp::Panel;
use serde_json::Value as Json;

use super::super::{number, numbers, vector};
use super::light::panel;
use super::{Case, Keys};

/// The file counts in metres, we in millimetres.
const MM: f64 = 1000.0;

fn surface(material: &Json) -> BareSurface {
    match material["kind"].as_str().unwrap() {
        "lambert" => {
            BareSurface { rho: numbers(&material["rho"]).try_into().unwrap(), gloss: None }
        }
        "ggx" => {
            let gloss = (number(&material["alpha"]), material["eta"].as_f64());
            BareSurface { rho: [0.0; 3], gloss: Some(gloss) }
        }
        other => panic!("material {other}"),
    }
}

fn block(solid: &Json) -> BareSolid {
    let (centre, half) = (vector(&solid["center"]) * MM, DVec3::splat(number(&solid["half"]) * MM));
    let shape = Shape::Box { min: centre - half, max: centre + half };
    BareSolid { shape, surface: surface(&solid["material"]), open_ends: false }
}

fn rod(solid: &Json) -> BareSolid {
    let (a, b) = (vector(&solid["p0"]) * MM, vector(&solid["p1"]) * MM);
    let along = (b - a).abs();
    let axis = [Axis::X, Axis::Y, Axis::Z]
        .into_iter()
        .max_by(|p, q| along[p.index()].total_cmp(&along[q.index()]))
        .unwrap();
    let shape = Shape::Cylinder {
        axis,
        centre: (a + b) / 2.0,
        radius: number(&solid["radius"]) * MM,
        half_length: along.length() / 2.0,
    };
    BareSolid { shape, surface: surface(&solid["material"]), open_ends: true }
}

/// A cube of boxes with one layer turned about z, six rods, two lamps: summed and
/// pixel by pixel.
pub(super) fn image(case: &Case<'_>) -> Keys {
    let list = |key: &str| case.input[key].as_array().unwrap();
    let turned_by = |solid: &Json| number(&solid["rot_z_deg"]);
    let (turned, still): (Vec<&Json>, Vec<&Json>) =
        list("boxes").iter().partition(|solid| turned_by(solid) != 0.0);
    let angle = turned.first().map_or(0.0, |solid| turned_by(solid).to_radians());
    assert!(turned.iter().all(|solid| turned_by(solid).to_radians() == angle), "one layer turns");
    let camera = &case.input["camera"];
    let size = ["width", "height"].map(|key| number(&camera[key]) as usize);
    let half_width = size[0] as f64 / 2.0;
    let focal_px = half_width / (number(&camera["fov_x_deg"]).to_radians() / 2.0).tan();
    let pose = Pose::look_at(
        vector(&camera["origin"]) * MM,
        vector(&camera["target"]) * MM,
        vector(&camera["up"]),
    );
    let lens = Lens {
        focal_px: DVec2::splat(focal_px),
        // Pixel i covers i to i + 1 there, i − ½ to i + ½ here.
        centre_px: DVec2::new(half_width - 0.5, size[1] as f64 / 2.0 - 0.5),
        distortion: Distortion::default(),
    };
    let lamps = list("lamps").iter().map(|lamp| {
        let Panel { centre, half_across, half_up, normal } = panel(lamp);
        let panel = Panel {
            centre: centre * MM,
            half_across: half_across * MM,
            half_up: half_up * MM,
            normal,
        };
        (panel, numbers(&lamp["radiance"]).try_into().unwrap())
    });
    let scene = BareScene {
        still: still.into_iter().map(block).chain(list("cylinders").iter().map(rod)).collect(),
        turned: Some((Axis::Z, angle, turned.into_iter().map(block).collect())),
        lamps: lamps.collect(),
        view: View { pose: pose.unwrap(), lens },
        size,
        samples: 1024,
    };
    let found: Vec<f64> = scene.render().into_iter().flatten().collect();
    let wanted = numbers(&case.expected["image_rgb"]);
    assert_eq!(found.len(), wanted.len());
    let off: f64 = found.iter().zip(&wanted).map(|(f, w)| (f - w).abs()).sum();
    let all: f64 = wanted.iter().map(|w| w.abs()).sum();
    case.near("image_rgb, summed difference", off / all, 0.0, 0.0, 0.01);
    let noise = 4.0 * number(&case.expected["stderr_rms"]);
    let close = |(f, w): (&[f64], &[f64])| {
        f.iter().zip(w).all(|(f, w)| (f - w).abs() <= 0.02 * w.abs() + noise + 1e-4)
    };
    let pixels = found.chunks(3).zip(wanted.chunks(3));
    let share = pixels.clone().filter(|p| close(*p)).count() as f64 / pixels.len() as f64;
    assert!(share >= 0.93, "{}: {share} of the pixels agree", case.id);
    // Lit and empty pixels: silhouettes agree but for pixels that touch an edge.
    let lit = |rgb: &[f64]| rgb.iter().any(|&v| v > 0.0);
    let differ = pixels.filter(|(f, w)| lit(f) != lit(w)).count();
    assert!(differ <= size[0] * size[1] / 200, "{}: {differ} pixels lit in one only", case.id);
    let mean: Vec<f64> = (0..3)
        .map(|c| found.iter().skip(c).step_by(3).sum::<f64>() / (found.len() / 3) as f64)
        .collect();
    case.all_near("mean_rgb", &mean, 0.01, 0.0);
    &["image_rgb", "mean_rgb", "stderr_rms", "stderr_rel_median"]
}
