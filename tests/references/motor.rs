//! What the fit of an axis stands on: the low-pass, least squares, and whole axes.

use dryturn_handoff::AxisLog;
use dryturn_metrology::motor::filter::LowPass;
use dryturn_metrology::motor::regression::{half_width, regression};
use dryturn_metrology::motor::{Parameter, identify};
use serde_json::Value as Json;

use super::{near, number, numbers};
use crate::help;

fn whole(value: &Json) -> usize {
    value.as_u64().unwrap_or_else(|| panic!("{value} is no whole number")) as usize
}

fn all_near(case: &Json, key: &str, found: &[f64]) {
    let id = case["id"].as_str().unwrap_or("?");
    let wanted = numbers(&case["expected"][key]);
    assert_eq!(found.len(), wanted.len(), "{id}: {key}");
    for (found, wanted) in found.iter().zip(wanted) {
        near(
            id,
            key,
            *found,
            wanted,
            number(&case["tol"]),
            case.get("tol_abs").map_or(0.0, number),
        );
    }
}

pub(super) fn low_pass_case(case: &Json) -> Vec<String> {
    let inputs = &case["inputs"];
    let filter = LowPass::new(number(&inputs["corner_hz"]), number(&inputs["step_s"]));
    all_near(case, "values", &filter.filtered(&numbers(&inputs["values"])));
    Vec::new()
}

pub(super) fn regression_case(case: &Json) -> Vec<String> {
    let (id, inputs) = (case["id"].as_str().unwrap_or("?"), &case["inputs"]);
    let columns: Vec<Vec<f64>> =
        inputs["columns"].as_array().into_iter().flatten().map(numbers).collect();
    let blocks: Vec<usize> = inputs["blocks"].as_array().into_iter().flatten().map(whole).collect();
    let found = regression(&columns, &numbers(&inputs["target"]), &blocks, whole(&inputs["lags"]));
    let found = found.expect("a solution");
    all_near(case, "values", &found.values);
    all_near(case, "errors", &found.errors);
    let condition = number(&case["expected"]["condition_ratio"]);
    near(id, "condition_ratio", found.condition_ratio, condition, number(&case["tol"]), 0.0);
    let half = number(&case["expected"]["half_width"]);
    let found = half_width(whole(&inputs["freedom"]));
    near(id, "half_width", found, half, number(&case["tol_half_width"]), 0.0);
    Vec::new()
}

pub(super) fn axis_case(case: &Json) -> Vec<String> {
    let (id, inputs) = (case["id"].as_str().unwrap_or("?"), &case["inputs"]);
    let mut file = help::scene("workbench").file().clone();
    file.drive.speed_constant_rpm_per_v = 60.0 / (core::f64::consts::TAU * number(&inputs["K"]));
    let log = AxisLog {
        time_s: numbers(&inputs["time_s"]),
        angle_deg: numbers(&inputs["angle_deg"]),
        speed_rad_s: None,
        current_a: Some(numbers(&inputs["current_a"])),
    };
    let found = identify(&[log], &file, None).unwrap_or_else(|e| panic!("{id}: {e}"));
    for parameter in Parameter::ALL {
        let key = parameter.key(false);
        let small = matches!(parameter, Parameter::Viscous | Parameter::Detent);
        let tolerance = number(&case[if small { "tol_small" } else { "tol" }]);
        let estimate = found.estimate(parameter).expect("all four with currents");
        assert_eq!(estimate.open, None, "{id}: {key}");
        near(id, key, estimate.value, number(&case["expected"][key]), tolerance, 0.0);
    }
    assert!(found.held_out.accepted(), "{id}: {:?}", found.held_out.angle_off_share);
    Vec::new()
}

/// The same log fitted by SciPy: near it, and our intervals hold SciPy's figures and what is
/// true; our errors are not narrower than those of a fit that knows the model exactly.
pub(super) fn slow_axis_case(case: &Json) -> Vec<String> {
    let (id, inputs, expected) =
        (case["id"].as_str().unwrap_or("?"), &case["inputs"], &case["expected"]);
    let profile = ("drive.profile".to_owned(), inputs["profile"].clone());
    let drive = inputs["drive"].as_object().into_iter().flatten();
    let sets = drive.map(|(name, value)| (format!("drive.{name}"), value.clone()));
    let scene = core::iter::once(profile).chain(sets).fold(
        help::scene("workbench").with("tolerances.encoder_error_deg", 0.0.into()).unwrap(),
        |scene, (field, value)| scene.with(&field, value).unwrap_or_else(|e| panic!("{id}: {e}")),
    );
    let log = AxisLog {
        time_s: numbers(&inputs["time_s"]),
        angle_deg: numbers(&inputs["angle_deg"]),
        speed_rad_s: None,
        current_a: Some(numbers(&inputs["current_a"])),
    };
    let found = identify(&[log], scene.file(), None).unwrap_or_else(|e| panic!("{id}: {e}"));
    for (parameter, name, tolerance) in [
        (Parameter::Inertia, "inertia", number(&case["tol"])),
        (Parameter::Coulomb, "coulomb", number(&case["tol_small"])),
    ] {
        let key = parameter.key(false);
        let estimate = found.estimate(parameter).expect("with currents");
        assert_eq!(estimate.open, None, "{id}: {key}");
        let wanted = number(&expected[key]);
        near(id, key, estimate.value, wanted, tolerance, 0.0);
        let unit = key.strip_prefix(name).unwrap_or_default();
        let [low, high] = estimate.interval.expect("an interval");
        for value in [wanted, number(&expected[format!("true_{key}")])] {
            assert!((low..=high).contains(&value), "{id}: {key} {value} in {low} to {high}");
        }
        let error = number(&expected[format!("{name}_error{unit}")]);
        assert!(estimate.error.is_some_and(|own| own >= error), "{id}: {key} is too sure");
    }
    assert!(found.held_out.accepted(), "{id}: {}", found.held_out.torque_off_share);
    Vec::new()
}
