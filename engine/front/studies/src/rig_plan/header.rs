//! The C header of what a firmware needs to be as the simulation was.

use core::fmt::Write as _;

use dryturn_driving::{Ceiling, Machine};
use dryturn_handoff::CueSheet;
use dryturn_scene::Scene;
use dryturn_scene::file::{AntiWindup, Policy};

use super::remarks::remarks;

/// One definition: its name with its unit, its value, what it is.
type Line = (&'static str, String, &'static str);

/// A number as C has it: always with a point or an exponent.
fn real(value: f64) -> String {
    let text = format!("{value:?}");
    if text.contains(['.', 'e']) { text } else { format!("{text}.0") }
}

/// Six digits are more than any of it is known to.
fn short(value: f64) -> String {
    let digits = format!("{value:.5e}").parse().unwrap_or(value);
    real(digits)
}

fn group(text: &mut String, title: &str, lines: &[Line]) {
    // Writing to a String cannot fail.
    let _ = writeln!(text, "\n/* {title} */");
    for (name, value, what) in lines {
        let _ = writeln!(text, "#define RIG_{name} {value} /* {what} */");
    }
}

/// The header. `about` says what it is for, a remark a line.
pub(super) fn header(
    scene: &Scene,
    ceiling: Ceiling,
    sheet: &CueSheet,
    about: &[String],
) -> String {
    let machine = Machine::below(scene, ceiling);
    let set = machine.settings();
    let file = scene.file();
    let (drive, controller) = (&file.drive, &file.controller);
    let (detection, link) = (&file.detection, &file.link);
    let mut text = remarks(about);
    text.push_str("#ifndef RIG_DRIVE_H\n#define RIG_DRIVE_H\n");
    group(
        &mut text,
        "The ceiling that plan and figures are for",
        &[
            (
                "CEILING_E4",
                format!("{:.0}", ceiling.share() * 1e4),
                "share of full power's torque above friction, in ten-thousandths; rig_plan_parse wants it",
            ),
            ("TORQUE_LIMIT_N_M", short(set.torque_limit_n_m), "of each drive"),
            (
                "CURRENT_LIMIT_A",
                short(set.torque_limit_n_m / set.torque_constant_n_m_per_a),
                "the same, direct-current equivalent",
            ),
            (
                "HOLD_TORQUE_LIMIT_N_M",
                short(set.hold_torque_n_m),
                "of an axis that has come to rest",
            ),
            (
                "TORQUE_CONSTANT_N_M_PER_A",
                short(set.torque_constant_n_m_per_a),
                "direct-current equivalent",
            ),
            ("BUS_VOLTAGE_V", short(drive.bus_voltage_v), "begin lower"),
        ],
    );
    group(
        &mut text,
        "Set-points, at this ceiling",
        &[
            ("HIGHEST_SPEED_RAD_PER_S", short(set.highest_speed_rad_s), "no set-point is faster"),
            (
                "HIGHEST_ACCELERATION_RAD_PER_S2",
                short(set.highest_acceleration_rad_s2),
                "nor speeds up or slows down more",
            ),
            ("QUARTER_TURN_MS", short(set.quarter_turn_ms), "from rest to rest"),
            ("HALF_TURN_MS", short(set.half_turn_ms), "from rest to rest"),
        ],
    );
    let back = u8::from(controller.anti_windup == AntiWindup::BackCalculation);
    group(
        &mut text,
        "Controller: position, speed and current in cascade",
        &[
            ("LOOP_PERIOD_MS", short(set.loop_period_ms), "of position and speed"),
            (
                "CURRENT_TIME_CONSTANT_MS",
                short(controller.current_time_constant_ms),
                "of the current loop",
            ),
            ("POSITION_GAIN_PER_S", short(set.position_gain_per_s), "speed per angle of error"),
            ("SPEED_GAIN_N_M_S_PER_RAD", short(set.speed_gain_n_m_s), "torque per speed of error"),
            (
                "SPEED_INTEGRAL_N_M_PER_RAD",
                short(set.speed_integral_n_m),
                "torque per angle of error, summed up",
            ),
            (
                "SPEED_WINDOW_SAMPLES",
                controller.speed_window_samples.to_string(),
                "encoder samples that speed is taken over",
            ),
            (
                "ANTI_WINDUP_BACK_CALCULATION",
                back.to_string(),
                "1: the cut-off torque is led back; 0: the sum stands still",
            ),
            (
                "FEED_FORWARD_INERTIA_KG_M2",
                short(set.inertia_kg_m2),
                "torque per acceleration of the set-point",
            ),
            (
                "FEED_FORWARD_FRICTION_N_M",
                short(set.friction_n_m),
                "times tanh of its speed over 2 rad/s",
            ),
            (
                "FEED_FORWARD_VISCOUS_N_M_S_PER_RAD",
                short(set.viscous_n_m_s),
                "torque per speed of the set-point",
            ),
            (
                "DEADBAND_DEG",
                short(controller.deadband_deg),
                "a stopped axis nearer than this is left alone",
            ),
        ],
    );
    group(
        &mut text,
        "Windows and watches",
        &[
            (
                "ENCODER_STEPS_PER_TURN",
                (1_u64 << drive.encoder_bits).to_string(),
                "resolution that was simulated",
            ),
            ("SETTLED_WITHIN_DEG", short(sheet.window_deg), "of the end of a turn, by the encoder"),
            ("SETTLED_FOR_MS", short(sheet.dwell_ms), "how long it must stay there"),
            (
                "FOLLOWING_ERROR_LIMIT_DEG",
                short(detection.following_error_deg),
                "beyond it, cut the torque of all axes",
            ),
            ("FOLLOWING_ERROR_TIME_MS", short(detection.following_time_ms), "after so long"),
            (
                "STALL_TORQUE_N_M",
                short(detection.stall_current_share * set.torque_limit_n_m),
                "at this torque, and slower than 2 rad/s, cut likewise",
            ),
            ("STALL_TIME_MS", short(detection.stall_time_ms), "after so long"),
            ("LINK_WATCHDOG_MS", short(link.watchdog_ms), "so long without the host, cut likewise"),
        ],
    );
    lead_table(&mut text, &machine, file.handover.policy, file.handover.clearance_margin_deg);
    text.push_str("\n#endif\n");
    text
}

/// How early turns may start, by prediction.
fn lead_table(text: &mut String, machine: &Machine, policy: Policy, margin_deg: f64) {
    let used = if policy == Policy::Predict {
        "The plan's angles come from it; it is here to be compared"
    } else {
        "The plan does not use it: its policy is not Predict"
    };
    let _ = writeln!(
        text,
        "\n/* How early a turn may start before the set-point of its late neighbour stops, with a\n \
         * clearance margin of {margin_deg} degrees. {used}.\n \
         * Columns: late turn is a half turn, next turn is one, both turn the same way about, lead in\n \
         * ms, way that the late turn's set-point has still to go then, degrees. */\n\
         typedef struct rig_lead {{\n    int late_is_half, next_is_half, same_sense;\n    \
         double lead_ms, to_go_deg;\n}} rig_lead;\n\
         #define RIG_LEADS 8\n#define RIG_LEAD_TABLE {{ \\"
    );
    for lead in machine.leads() {
        let _ = writeln!(
            text,
            "    {{ {}, {}, {}, {}, {} }}, \\",
            u8::from(lead.late_half),
            u8::from(lead.next_half),
            u8::from(lead.same_sense),
            short(lead.lead_s * 1e3),
            short(lead.to_go_deg)
        );
    }
    text.push_str("}\n");
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_are_doubles_in_c() {
        assert_eq!(
            [1.0, 0.25, 1e-5, 1234567.0, 0.123_456_78].map(short),
            ["1.0", "0.25", "1e-5", "1234570.0", "0.123457"]
        );
    }
}
