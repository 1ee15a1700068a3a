//! The joint fit of a log's figures.

use dryturn_studies::overlay::joint::{chi_square, solved};
use serde_json::Value as Json;

use super::{near, number, numbers};

pub(super) fn joint_case(case: &Json) -> Vec<String> {
    let (id, inputs) = (case["id"].as_str().unwrap_or("?"), &case["inputs"]);
    let columns: Vec<Vec<f64>> =
        inputs["columns"].as_array().into_iter().flatten().map(numbers).collect();
    let (at, left) = (numbers(&inputs["at"]), numbers(&inputs["left"]));
    let found = solved(&at, &left, &columns, number(&inputs["prior"])).expect("a solution");
    let size = at.len();
    let errors: Vec<f64> = (0..size).map(|k| found.error(k)).collect();
    let correlations: Vec<f64> =
        (0..size * size).map(|k| found.correlation(k / size, k % size)).collect();
    for (key, found) in
        [("values", &found.at), ("errors", &errors), ("correlations", &correlations)]
    {
        let wanted = numbers(&case["expected"][key]);
        assert_eq!(found.len(), wanted.len(), "{id}: {key}");
        for (found, wanted) in found.iter().zip(wanted) {
            near(id, key, *found, wanted, number(&case["tol"]), number(&case["tol_abs"]));
        }
    }
    Vec::new()
}

pub(super) fn limit_case(case: &Json) -> Vec<String> {
    let (id, inputs) = (case["id"].as_str().unwrap_or("?"), &case["inputs"]);
    let freedom = inputs["freedom"].as_u64().expect("a whole number") as usize;
    let found = chi_square(freedom, number(&inputs["z"]));
    let wanted = number(&case["expected"]["value"]);
    near(id, "value", found, wanted, number(&case["tol"]), 0.0);
    Vec::new()
}
