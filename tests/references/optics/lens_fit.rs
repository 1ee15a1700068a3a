//! Lens and mount from points, against OpenCV.

use dryturn_geometry::{DVec2, Distortion, Lens, Pose};
use dryturn_metrology::board::Board;
use dryturn_metrology::lens::{Unknown, Wanted, fit_lens};
use dryturn_metrology::mount::{ClickedPoint, fit_mount};
use dryturn_scene::View;
use serde_json::Value as Json;

use super::super::{number, numbers, vector};
use super::{Case, Keys};

fn pixels(list: &Json) -> Vec<DVec2> {
    numbers(list).chunks(2).map(DVec2::from_slice).collect()
}

pub(super) fn lens(case: &Case<'_>) -> Keys {
    let count = |key: &str| number(&case.input[key]) as usize;
    let board = Board::new(count("columns"), count("rows"), number(&case.input["pitch_mm"]));
    let pictures: Vec<_> = case.input["pictures"].as_array().unwrap().iter().map(pixels).collect();
    let size = numbers(&case.input["size"]);
    let wanted = Wanted {
        k3: case.input["k3"].as_bool().unwrap(),
        tangential: case.input["tangential"].as_bool().unwrap(),
    };
    let size = [size[0] as usize, size[1] as usize];
    let fit = fit_lens(&board.unwrap(), &pictures, size, 985.0, wanted).unwrap();
    assert!(fit.left_out.is_empty(), "{}: {:?}", case.id, fit.left_out);
    let expected = |key: &str| number(&case.expected[key]);
    let (centre, off) =
        (numbers(&case.expected["centre_px"]), numbers(&case.expected["centre_error_px"]));
    for found in &fit.found {
        let (value, error) = match found.unknown {
            Unknown::Focal => (expected("focal_px"), expected("focal_error_px")),
            Unknown::CentreColumn => (centre[0], off[0]),
            Unknown::CentreRow => (centre[1], off[1]),
            other => (expected(other.key()), expected(&format!("{}_error", other.key()))),
        };
        // What decides is how far off it is in standard errors.
        case.near(found.unknown.key(), found.value, value, 0.0, 0.02 * error);
        case.near("its standard error", found.error, error, 0.01, 0.0);
    }
    case.near("rms_px", fit.rms_px, expected("rms_px"), 1e-4, 0.0);
    case.all_near("rms_by_picture_px", &fit.rms_by_picture_px, 1e-3, 0.0);
    &[
        "focal_px",
        "centre_px",
        "k1",
        "k2",
        "k3",
        "p1",
        "p2",
        "rms_px",
        "rms_by_picture_px",
        "focal_error_px",
        "centre_error_px",
        "k1_error",
        "k2_error",
        "k3_error",
        "p1_error",
        "p2_error",
    ]
}

pub(super) fn mount(case: &Case<'_>) -> Keys {
    let dist = numbers(&case.input["dist"]);
    let lens = Lens {
        focal_px: DVec2::splat(number(&case.input["focal_px"])),
        centre_px: DVec2::from_slice(&numbers(&case.input["centre_px"])),
        distortion: Distortion { k1: dist[0], k2: dist[1], p1: dist[2], p2: dist[3], k3: dist[4] },
    };
    let list = |key: &str| case.input[key].as_array().unwrap().iter();
    let points: Vec<ClickedPoint> = list("points")
        .zip(list("pixels"))
        .map(|(world, pixel)| ClickedPoint {
            name: world.to_string(),
            world: vector(world),
            pixel: DVec2::from_slice(&numbers(pixel)),
        })
        .collect();
    // A drawing that is 20° and 30 mm off.
    let position = vector(&case.expected["position"]);
    let turn = numbers(&case.expected["turn"]);
    let camera_from_world = dryturn_geometry::DMat3::from_cols_slice(&turn).transpose();
    let pose = Pose { camera_from_world, position };
    let drawn = pose.disturbed([20.0, -15.0, 10.0].into(), [0.2, -0.2, 0.2].into());
    let fit = fit_mount(&View { pose: drawn, lens }, &points, 1e-9).unwrap();
    for k in 0..3 {
        case.near("position", fit.pose.position[k], position[k], 0.0, 1e-3);
    }
    let found = fit.pose.camera_from_world.transpose().to_cols_array();
    case.all_near("turn", &found, 0.0, 1e-5);
    case.near("rms_px", fit.rms_px, number(&case.expected["rms_px"]), 1e-4, 0.0);
    let per_px: Vec<f64> = fit.shift_error_mm.to_array().map(|error| error / fit.click_px).to_vec();
    case.all_near("position_error_per_px", &per_px, 1e-3, 0.0);
    &["position", "turn", "rms_px", "position_error_per_px"]
}
