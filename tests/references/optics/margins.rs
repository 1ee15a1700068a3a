//! How often two colours are taken for each other.

use dryturn_geometry::DMat3;
use dryturn_optics::survey::sigmas_between;
use dryturn_statistics::normal_tail;
use serde_json::Value as Json;

use super::super::{number, numbers, vector};
use super::{Case, Keys};

pub(super) fn normal_tails(case: &Case<'_>) -> Keys {
    let z = number(&case.input["z"]);
    // Half a square of z goes through an exponential: its last bit counts z² times.
    let relative = 1e-13 + 2e-16 * z * z;
    case.near("share", normal_tail(z), number(&case.expected["share"]), relative, 0.0);
    &["share"]
}

pub(super) fn mistaken(case: &Case<'_>) -> Keys {
    let (means, covariances) = (&case.input["means"], &case.input["covariances"]);
    let matrix = |value: &Json| {
        let rows: Vec<f64> = value.as_array().unwrap().iter().flat_map(numbers).collect();
        // Symmetric: rows are columns.
        DMat3::from_cols_slice(&rows)
    };
    let class = |k: usize| (vector(&means[k]), matrix(&covariances[k]));
    let sigmas = sigmas_between(class(0), class(1));
    case.near("sigmas", sigmas, number(&case.expected["sigmas"]), 1e-9, 0.0);
    if case.has("share") {
        let share = normal_tail(sigmas / 2.0);
        case.near("share", share, number(&case.expected["share"]), 1e-6, 1e-10);
    }
    &["sigmas", "share"]
}
