//! Motion, braking, strength, inertia and statistics.

use std::collections::BTreeMap;

use dryturn_driving::linear::{self, Loop};
use dryturn_driving::separation::Pieces;
use dryturn_driving::shaft::{Infill, Section, Shaft};
use dryturn_driving::{Motor, braking, profile, rest_to_rest, spin_up};
use dryturn_scene::layer_inertia;
use dryturn_statistics::{
    exact_interval, exact_upper, further_trials, trials_without_failure, two_sided_quantile, wilson,
};
use serde_json::Value as Json;

use super::{Checked, closed_loop, joint, motor as fit, near, number, numbers, worst};

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

/// The motor of a case; what the case does not say is as if it were not there.
fn motor(inputs: &Json) -> Motor {
    let or = |key: &str, none: f64| inputs.get(key).map_or(none, number);
    Motor {
        constant_v_s: Motor::constant_of(number(&inputs["Kv_rpm_per_V"])),
        resistance_ohm: number(&inputs["R"]),
        current_limit_a: or("Imax", f64::INFINITY),
        voltage_v: or("V", 0.0),
        inertia_kg_m2: number(&inputs["J"]),
        friction_n_m: number(&inputs["Tc"]),
        viscous_n_m_s: or("B", 0.0),
    }
}

fn spin_up_case(case: &Json) -> Vec<String> {
    let (inputs, expected) = (&case["inputs"], &case["expected"]);
    let id = case["id"].as_str().unwrap_or("?");
    let (angles, speeds) = (numbers(&expected["theta"]), numbers(&expected["w"]));
    let times = numbers(&inputs["t"]);
    assert_eq!((angles.len(), speeds.len()), (times.len(), times.len()), "{id}");
    for ((time_s, angle), speed) in times.into_iter().zip(angles).zip(speeds) {
        let (angle_rad, speed_rad_s) = spin_up(&motor(inputs), time_s);
        let relative = number(&case["tol"]);
        near(id, "theta", angle_rad, angle, relative, 0.0);
        near(id, "w", speed_rad_s, speed, relative, 0.0);
    }
    Vec::new()
}

/// With inductance the motor turns from the start on, its current just above what friction
/// takes.
fn inductive_case(case: &Json) -> Vec<String> {
    let (inputs, expected) = (&case["inputs"], &case["expected"]);
    let input = |key: &str| number(&inputs[key]);
    let mut left = Vec::new();
    for (place, time_s) in numbers(&inputs["t"]).into_iter().enumerate() {
        let found = linear::spin_up(&motor(inputs), input("L"), input("i0"), time_s).unwrap();
        let one = |key: &str| (key.to_owned(), expected[key][place].clone());
        let keys = expected.as_object().into_iter().flatten().map(|(key, _)| one(key));
        let found = [("theta", found.angle_rad), ("w", found.speed_rad_s), ("i", found.current_a)];
        left.extend(compare(case, &Json::Object(keys.collect()), &found));
    }
    left
}

/// A speed loop, or a position loop where it has a gain.
fn step_case(case: &Json) -> Vec<String> {
    let (inputs, expected) = (&case["inputs"], &case["expected"]);
    let id = case["id"].as_str().unwrap_or("?");
    let input = |key: &str| number(&inputs[key]);
    let position_gain_per_s = inputs.get("Kpos").map(number);
    let servo = Loop {
        inertia_kg_m2: input("J"),
        viscous_n_m_s: input("B"),
        torque_constant_n_m_a: input("Kt"),
        current_bandwidth_rad_s: input("current_bw_rad_s"),
        speed_gain_a_s_rad: input("Kp_A_s_per_rad"),
        integral_gain_a_rad: input("Ki_A_per_rad"),
        position_gain_per_s,
    };
    let height = input(if position_gain_per_s.is_some() { "step_theta_ref" } else { "step_w_ref" });
    let answer = servo.step(height).unwrap();
    let times = numbers(&inputs["t"]);
    let wanted = numbers(&expected["y"]);
    assert_eq!(times.len(), wanted.len(), "{id}");
    let (relative, absolute) = (number(&case["tol"]), number(&case["tol_abs"]));
    for (time_s, wanted) in times.into_iter().zip(wanted) {
        near(id, "y", answer.at(time_s), wanted, relative, absolute);
    }
    // Every case of this kind is of a stable loop.
    assert!(servo.decay_per_s().unwrap() > 0.0, "{id} is unstable");
    let found = [
        ("overshoot_fraction", answer.overshoot_share()),
        ("final", answer.end().expect("it is stable")),
    ];
    let mut left = compare(case, expected, &found);
    left.retain(|key| key != "y");
    left
}

fn separation_case(case: &Json) -> Vec<String> {
    let input = |key: &str| number(&case["inputs"][key]);
    let pieces =
        Pieces { half_mm: input("H_mm"), radius_mm: input("r_mm"), clearance_mm: input("c_mm") };
    let [late, turned] = ["delta_deg", "theta_deg"].map(|key| input(key).to_radians());
    let found = pieces.separation_mm(late, turned, input("lift_mm"));
    let hard = found <= -2.0 * pieces.radius_mm + 1e-9;
    let expected = &case["expected"];
    assert_eq!(Some(hard), expected["hard"].as_bool(), "{}", case["id"]);
    let mut left = compare(case, expected, &[("separation_mm", found)]);
    left.retain(|key| key != "hard");
    left
}

fn brake_case(case: &Json) -> Vec<String> {
    let inputs = &case["inputs"];
    let input = |key: &str| number(&inputs[key]);
    let stop = braking::stop(&motor(inputs), input("w0"), input("I_brake"));
    let bus_v = braking::bus_voltage_v(input("V_bus0"), stop.returned_j, input("C_bus"));
    let heat_j = input("n_stops") * stop.returned_j;
    let found = [
        ("kinetic", stop.kinetic_j),
        ("returned", stop.returned_j),
        ("drawn_at_end", stop.drawn_j),
        ("t_stop", stop.duration_s),
        ("V_bus_no_chopper", bus_v),
        ("chopper_power_at_V0", braking::chopper_power_w(input("V_bus0"), input("R_brake"))),
        ("dT_adiabatic", braking::adiabatic_rise_k(heat_j, input("Cth_J_per_K"))),
    ];
    compare(case, &case["expected"], &found)
}

fn torsion_case(case: &Json) -> Vec<String> {
    let inputs = &case["inputs"];
    let input = |key: &str| number(&inputs[key]);
    let size_m = input("size_m");
    let section = match inputs["section"].as_str() {
        Some("square") => Section::Square { side_m: size_m },
        Some("rectangle") => Section::Rectangle { width_m: size_m, height_m: input("size2_m") },
        Some("hexagon") => Section::Hexagon { across_flats_m: size_m },
        Some("round") => Section::Round { diameter_m: size_m },
        Some("round_hollow") => Section::RoundHollow { outer_m: size_m, inner_m: input("size2_m") },
        other => panic!("section is {other:?}"),
    };
    let shaft = Shaft {
        section,
        length_m: input("length_m"),
        shear_modulus_pa: input("G_Pa"),
        ultimate_stress_pa: input("tau_ult_Pa"),
        infill: Infill::SOLID,
    };
    shaft.check().unwrap();
    let found = [
        ("K_m4", section.torsion_constant_m4()),
        ("W_m3", section.section_modulus_m3()),
        ("T_max", shaft.ultimate_torque_n_m()),
        ("stiffness", shaft.stiffness_n_m_per_rad()),
        ("safety_factor", shaft.safety_factor(input("T_applied"))),
    ];
    compare(case, &case["expected"], &found)
}

fn binomial_case(case: &Json) -> Vec<String> {
    let input = |key: &str| number(&case["inputs"][key]);
    let (failures, trials) = (input("failures") as usize, input("trials") as usize);
    let (confidence, claim) = (input("confidence"), input("p_claim"));
    let (wilson_low, wilson_high) = wilson(failures, trials, two_sided_quantile(confidence));
    let (exact_low, exact_high) = exact_interval(failures, trials, confidence);
    let needed = trials_without_failure(claim, confidence).unwrap();
    assert_eq!(further_trials(0, 0, claim, confidence), Some(needed));
    let found = [
        ("wilson_lo", wilson_low),
        ("wilson_hi", wilson_high),
        ("exact_lo", exact_low),
        ("exact_hi", exact_high),
        ("upper_one_sided", exact_upper(failures, trials, confidence)),
        ("trials_zero_failures_needed", needed as f64),
    ];
    compare(case, &case["expected"], &found)
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
            let s_curve = profile::SCurve::of(theta, v, a, j);
            let id = case["id"].as_str().unwrap_or("?");
            // As it is played it ends where and how it shall.
            let (angle, speed, _) = s_curve.at(s_curve.duration_s());
            near(id, "angle at the end", angle, theta.abs(), 1e-9, 0.0);
            near(id, "speed at the end", speed, 0.0, 0.0, 1e-9 * v);
            let found = [
                ("t_bang_bang", profile::bang_bang(1.0, a, 0.0, theta.abs()).0),
                ("t_trapezoid", profile::trapezoid(theta, v, a)),
                ("t_scurve", s_curve.duration_s()),
                ("scurve_v_peak", s_curve.peak_rad_s),
                ("scurve_a_peak", s_curve.acceleration_rad_s2),
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
        "layer_slab" => {
            // Nine of 26 pieces and no core.
            let whole_kg = input("layer_kg") * 26.0 / 9.0;
            let (_, inertia) = layer_inertia(input("edge_m"), whole_kg, 0.0, 1.0 / 6.0);
            compare(case, expected, &[("J_layer", inertia)])
        }
        "derived_layer" => {
            let scene = closed_loop::scene(case);
            let file = scene.file();
            let found = [
                ("mass_g", file.cube_mass_g()),
                ("J_layer", file.layer_inertia_kg_m2()),
                ("friction_n_m", file.friction_torque_n_m()),
            ];
            compare(case, expected, &found)
        }
        "spin_up" if inductive(case) => inductive_case(case),
        "spin_up" => spin_up_case(case),
        "pi_step_linear" => step_case(case),
        "interlock_separation" => separation_case(case),
        "closed_loop" => closed_loop::check_case(case),
        "brake_energy" => brake_case(case),
        "torsion" => torsion_case(case),
        "binomial" => binomial_case(case),
        "joint_fit" => joint::joint_case(case),
        "chi_square_limit" => joint::limit_case(case),
        "zero_phase_low_pass" => fit::low_pass_case(case),
        "correlated_regression" => fit::regression_case(case),
        "identified_axis" => fit::axis_case(case),
        "slow_axis" => fit::slow_axis_case(case),
        _ => return None,
    };
    Some(left)
}

/// Whether a case's winding has inductance.
fn inductive(case: &Json) -> bool {
    case["inputs"].get("L").is_some_and(|value| number(value) > 0.0)
}

/// Its kind; a winding with inductance is another matter than one without.
fn group_of(case: &Json) -> String {
    let kind = case["kind"].as_str().unwrap_or("?");
    if inductive(case) { format!("{kind} with inductance") } else { kind.to_owned() }
}

pub(crate) fn check(cases: &Json) -> Vec<(String, Checked)> {
    let mut kinds: BTreeMap<String, Vec<&Json>> = BTreeMap::new();
    for case in cases.as_array().into_iter().flatten() {
        kinds.entry(group_of(case)).or_default().push(case);
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
