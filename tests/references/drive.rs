//! Motion, inertia and statistics.

use std::collections::BTreeMap;

use dryturn_driving::{Motor, layer_inertia, profile, rest_to_rest};
use dryturn_rehearsal::statistics::{two_sided_quantile, wilson};
use serde_json::Value as Json;

use super::{Checked, near, number, worst};

/// Compares each named figure with the case's expected ones; returns the keys
/// that were not compared.
fn compare(case: &Json, expected: &Json, found: &[(&str, f64)]) -> Vec<String> {
    let id = case["id"].as_str().unwrap_or("?");
    let (relative, absolute) = (number(&case["tol"]), case.get("tol_abs").map_or(0.0, number));
    for (key, value) in found {
        near(id, key, *value, number(&expected[key]), relative, absolute);
    }
    let keys = expected.as_object().into_iter().flatten().map(|(key, _)| key.clone());
    keys.filter(|key| !found.iter().any(|(name, _)| name == key)).collect()
}

fn motor(inputs: &Json) -> Motor {
    Motor {
        constant_v_s: Motor::constant_of(number(&inputs["Kv_rpm_per_V"])),
        resistance_ohm: number(&inputs["R"]),
        current_limit_a: number(&inputs["Imax"]),
        voltage_v: number(&inputs["V"]),
        inertia_kg_m2: number(&inputs["J"]),
        friction_n_m: number(&inputs["Tc"]),
        viscous_n_m_s: number(&inputs["B"]),
    }
}

/// Checks one case; `None` when nothing checks such a kind yet.
fn check_case(case: &Json) -> Option<Vec<String>> {
    let (inputs, expected) = (&case["inputs"], &case["expected"]);
    let input = |key: &str| number(&inputs[key]);
    let left = match case["kind"].as_str().unwrap_or_default() {
        "bang_bang" => {
            let (total, switch, peak) =
                profile::bang_bang(input("J"), input("T"), input("Tc"), input("theta"));
            // The same move by the general planner, without a voltage limit.
            let motor = Motor {
                constant_v_s: 0.1,
                resistance_ohm: 1e-9,
                current_limit_a: input("T") / 0.1,
                voltage_v: 1e3,
                inertia_kg_m2: input("J"),
                friction_n_m: input("Tc"),
                viscous_n_m_s: 0.0,
            };
            let general = rest_to_rest(&motor, input("theta"), f64::INFINITY);
            let id = case["id"].as_str().unwrap_or("?");
            near(id, "t_total by the planner", general.duration_s, total, 1e-9, 0.0);
            compare(case, expected, &[("t_total", total), ("t_switch", switch), ("w_peak", peak)])
        }
        "voltage_limited_rest_to_rest" => {
            let mut left = Vec::new();
            let mut durations = Vec::new();
            for (name, angle) in
                [("quarter", core::f64::consts::FRAC_PI_2), ("half", core::f64::consts::PI)]
            {
                let motion = rest_to_rest(&motor(inputs), angle, f64::INFINITY);
                durations.push(motion.duration_s);
                let found = [
                    ("t_total", motion.duration_s),
                    ("t_switch", motion.switch_s),
                    ("w_peak", motion.peak_speed_rad_s),
                ];
                left.extend(compare(case, &expected[name], &found));
                // The motion as it is played must end where it shall.
                let id = case["id"].as_str().unwrap_or("?");
                let end = motion.angle_at(motion.duration_s * (1.0 - 1e-12));
                near(id, "angle at the end", end, angle, 1e-6, 0.0);
            }
            let ratio = durations[1] / durations[0];
            near(
                "ratio",
                "half/quarter",
                ratio,
                number(&expected["ratio_half_quarter"]),
                1e-6,
                0.0,
            );
            left
        }
        "profile_duration" => {
            let (theta, v, a, j) = (input("theta"), input("v_max"), input("a_max"), input("j_max"));
            let (s_curve, peak, acceleration) = profile::s_curve(theta, v, a, j);
            let found = [
                ("t_bang_bang", profile::bang_bang(1.0, a, 0.0, theta.abs()).0),
                ("t_trapezoid", profile::trapezoid(theta, v, a)),
                ("t_scurve", s_curve),
                ("scurve_v_peak", peak),
                ("scurve_a_peak", acceleration),
            ];
            compare(case, expected, &found)
        }
        "layer_inertia" => {
            let own = match inputs["own"].as_str() {
                Some("solid") => 1.0 / 6.0,
                Some("thin_shell") => 5.0 / 18.0,
                other => panic!("own is {other:?}"),
            };
            let (mass, inertia) =
                layer_inertia(input("edge_m"), input("mass_kg"), input("core_kg"), own);
            compare(case, expected, &[("layer_mass", mass), ("J_layer", inertia)])
        }
        "binomial" => {
            let z = two_sided_quantile(input("confidence"));
            let (low, high) = wilson(input("failures") as usize, input("trials") as usize, z);
            compare(case, expected, &[("wilson_lo", low), ("wilson_hi", high)])
        }
        _ => return None,
    };
    Some(left)
}

pub(crate) fn check(cases: &Json) -> Vec<(String, Checked)> {
    let mut kinds: BTreeMap<String, Vec<&Json>> = BTreeMap::new();
    for case in cases.as_array().into_iter().flatten() {
        kinds.entry(case["kind"].as_str().unwrap_or("?").to_owned()).or_default().push(case);
    }
    let group = |(kind, cases): (String, Vec<&Json>)| {
        let results: Option<Vec<Vec<String>>> = cases.iter().map(|case| check_case(case)).collect();
        let checked = match results {
            None => Checked::NotYet { cases: cases.len() },
            Some(left) => {
                let mut keys_left: Vec<String> = left.into_iter().flatten().collect();
                keys_left.sort();
                keys_left.dedup();
                Checked::All { cases: cases.len(), keys_left, worst: worst() }
            }
        };
        (kind, checked)
    };
    kinds.into_iter().map(group).collect()
}
