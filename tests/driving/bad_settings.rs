//! Settings of the drive that are wrong, or out of bounds, or off by a thousand: each one
//! clear line, or a clear outcome in bounded time.

use std::time::{Duration, Instant};

use super::{Table, drill};
use crate::help::{self, Call};

/// One line on stderr that names all of `parts`; code 2; no panic; no output.
fn refused(name: &str, call: &Call, parts: &[&str]) {
    assert_eq!(call.code, 2, "{name}: {}\n{}", call.stdout, call.stderr);
    assert_eq!(call.stderr.lines().count(), 1, "{name} must give one line:\n{}", call.stderr);
    assert!(call.stdout.is_empty(), "{name}: {}", call.stdout);
    for part in parts {
        assert!(call.stderr.contains(part), "{name} does not say {part:?}: {}", call.stderr);
    }
    for never in ["panicked", "our fault"] {
        assert!(!call.stderr.contains(never), "{name}: {}", call.stderr);
    }
}

/// Field, value, and what the message must say of what is allowed.
#[test]
fn values_out_of_range_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let inertia = "1e-7 to 0.1";
    for (field, value, allowed) in [
        ("drive.layer_inertia_kg_m2", "0", inertia),
        ("drive.layer_inertia_kg_m2", "-0.00001", inertia),
        ("drive.layer_inertia_kg_m2", "NaN", inertia),
        ("drive.rotor_inertia_kg_m2", "inf", inertia),
        ("drive.rotor_inertia_kg_m2", "-inf", inertia),
        ("drive.rotor_inertia_kg_m2", "1e400", inertia),
        ("drive.friction_torque_n_m", "-0.1", "0.0 to 10.0"),
        ("drive.viscous_friction_n_m_s", "-0.5", "0.0 to 1.0"),
        ("controller.position_gain_per_s", "NaN", "0.0 to 20000.0"),
        ("controller.speed_gain_per_s", "-1", "0.0 to 100000.0"),
        ("controller.speed_integral_per_s", "inf", "0.0 to 100000.0"),
        ("drive.torque_limit_n_m", "0", "0.001 to 10.0"),
        ("drive.speed_limit_rad_s", "0", "1.0 to 10000.0"),
        ("supply.source_current_limit_a", "0", "0.1 to 200.0"),
        ("handover.beat_limit_ms", "0", "10.0 to 10000.0"),
        ("handover.settle_window_deg", "0", "0.05 to 10.0"),
        ("controller.loop_period_ms", "0", "0.02 to 2.0"),
        ("cube.stiffness_n_m_per_rad", "0", "0.1 to 1000.0"),
        ("drive.encoder_bits", "64", "8 to 24"),
        // Off by a thousand: mN·m, μs, mV and ms taken for N·m, ms, V and s.
        ("drive.torque_limit_n_m", "479", "0.001 to 10.0"),
        ("controller.current_time_constant_ms", "160", "0.001 to 10.0"),
        ("controller.loop_period_ms", "125", "0.02 to 2.0"),
        ("drive.bus_voltage_v", "48000", "6.0 to 60.0"),
        ("link.watchdog_ms", "0.1", "1.0 to 10000.0"),
        // More friction than torque.
        ("drive.friction_torque_n_m", "0.6", "0.4794 N·m"),
        // No number, no such choice, no such field.
        ("drive.bus_voltage_v", "high", "must be"),
        ("drive.preset", "Strongest", "TorqueFollowsBus"),
        ("drive.colour", "3", "there is no field drive.colour"),
    ] {
        let setting = format!("{field}={value}");
        let call = drill(at, &["--trials", "2", "--plan", "R", "--set", &setting]);
        let parts = ["workbench.ron", field, allowed];
        // A field that is not there has no value.
        let value = if allowed.starts_with("there") { "" } else { value };
        refused(&setting, &call, &[&parts[..], &[value]].concat());
    }
}

#[test]
fn wrong_plans_and_wrong_calls_are_refused() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    std::fs::write(at.join("empty.txt"), "\n# no plan\n").unwrap();
    std::fs::write(at.join("bad.txt"), "R U\n\nR x\n").unwrap();
    std::fs::write(at.join("picture.txt"), [0xff, 0xd8, 0x00]).unwrap();
    std::fs::write(at.join("long.txt"), "R ".repeat(1001)).unwrap();
    std::fs::write(at.join("many.txt"), "R\n".repeat(1001)).unwrap();
    for (arguments, said) in [
        (&["--plan", ""][..], "no turns"),
        (&["--plan", "R3"], "turn 1 is 'R3'"),
        (&["--plan", "R M"], "slice turn"),
        (&["--plans", "0"], "--plans"),
        (&["--plans", "2", "--plan", "R"], "--plan"),
        (&["--plans-from", "none.txt"], "none.txt"),
        (&["--plans-from", "empty.txt"], "empty.txt: 0 plans: must be 1 to 1000"),
        (&["--plans-from", "bad.txt"], "bad.txt:3: turn 2 is 'x'"),
        (&["--plans-from", "picture.txt"], "UTF-8"),
        (&["--plans-from", "long.txt"], "1001 turns: at most 1000"),
        (&["--plans-from", "many.txt"], "1001 plans: must be 1 to 1000"),
        (&["--trials", "0"], "--trials"),
        (&["--trials", "2000000"], "--trials"),
        (&["--set", "drive.bus_voltage_v"], "NAME=VALUE"),
        (&["--compare", "drive.bus_voltage_v=30,30"], "each once"),
        (&["--compare", "drive.bus_voltage_v=30,NaN"], "drive.bus_voltage_v is \"NaN\": must be"),
        (&["--compare", "drive.bus_voltage_v="], "with commas between"),
        (&["--compare", "drive.bus_voltage_v=30..48"], "with commas between"),
        (&["--compare", "handover.policy=Settle,Never"], "handover.policy is \"Never\": must be"),
        (&["--compare", "shafts.*.bus_voltage_v=1,2"], "no field of shafts.U"),
        (&["--compare", "drive.bus_voltage_v=30,90"], "drive.bus_voltage_v is 90"),
    ] {
        refused(said, &drill(at, arguments), &[said]);
    }
    refused("no scene", &help::call(at, &["drill-axes", "none.ron"]), &["none.ron"]);
}

/// How all trials of a drill must end.
#[derive(Clone, Copy, PartialEq)]
enum Ends {
    Completed,
    Jammed,
    /// With this cause.
    Stopped(&'static str),
    /// None completed.
    Failed,
    /// Whichever way.
    Somehow,
}

/// Settings that are allowed but make no rig that works, or a poor one: every trial ends,
/// soon, and says why.
#[test]
fn what_cannot_work_ends_with_its_cause() {
    use Ends::{Completed, Failed, Jammed, Somehow, Stopped};
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let ring = [
        "controller.position_gain_per_s=20000",
        "controller.speed_gain_per_s=100000",
        "controller.speed_integral_per_s=100000",
    ];
    let far = "too far from its set-point";
    let cases: &[(&str, &[&str], Ends)] = &[
        ("gains that ring", &ring, Failed),
        ("a position gain that rings", &ring[..1], Failed),
        ("a slow current loop", &["controller.current_time_constant_ms=10"], Stopped(far)),
        ("a slow controller", &["controller.loop_period_ms=2"], Stopped(far)),
        ("no position gain", &["controller.position_gain_per_s=0"], Somehow),
        ("no speed gain", &["controller.speed_gain_per_s=0"], Stopped("did not settle")),
        ("g m² for kg m²", &["drive.rotor_inertia_kg_m2=0.061"], Stopped("at its current limit")),
        ("a coarse encoder", &["drive.encoder_bits=8"], Stopped(far)),
        ("a choke for a winding", &["drive.inductance_mh=100"], Stopped(far)),
        ("cogging above the torque", &["drive.cogging_torque_n_m=1"], Stopped(far)),
        ("detents above the torque", &["drive.detent_torque_n_m=1"], Stopped(far)),
        ("friction at random", &["tolerances.friction_spread_sigma_share=1"], Somehow),
        ("every frame lost", &["link.frame_loss_share=1"], Stopped("lost too often")),
        ("every frame corrupt", &["link.frame_corrupt_share=1"], Stopped("lost too often")),
        ("the link cut", &["faults.link_cut_at_ms=50"], Stopped("watchdogs let go")),
        ("the button at once", &["faults.emergency_stop_at_ms=0.1"], Stopped("emergency stop")),
        ("a weak supply", &["supply.source_current_limit_a=0.1"], Stopped("fell too far")),
        ("a thin wire", &["supply.source_resistance_ohm=10"], Somehow),
        ("a timid over-voltage limit", &["supply.over_voltage_v=10"], Stopped("rose too far")),
        ("a timid following error", &["detection.following_error_deg=0.1"], Stopped(far)),
        ("no time for a beat", &["handover.beat_limit_ms=10"], Stopped("did not settle")),
        (
            "a crawling profile",
            &["drive.profile=Trapezoid", "drive.speed_limit_rad_s=1"],
            Stopped("did not settle"),
        ),
        ("homed blindly", &["tolerances.homing_error_sigma_deg=20"], Jammed),
        (
            "homed blindly and unwatched",
            &["tolerances.homing_error_sigma_deg=20", "detection.enabled=false"],
            Jammed,
        ),
        ("released at once", &["handover.policy=Release", "handover.release_angle_deg=45"], Jammed),
        ("no friction", &["drive.friction_torque_n_m=0", "drive.bearing_friction_n_m=0"], Somehow),
        ("the strongest feed-forward", &["controller.inertia_feed_forward_ratio=10"], Completed),
        ("a winding without resistance", &["drive.resistance_ohm=0.001"], Completed),
        ("a slow link", &["link.command_latency_ms=100"], Completed),
        ("a second's dwell", &["handover.settle_dwell_ms=1000"], Completed),
        ("much viscous friction", &["drive.viscous_friction_n_m_s=0.1"], Completed),
    ];
    let mut wrong = Vec::new();
    for (name, settings, ends) in cases {
        let mut arguments = vec!["--trials", "6", "--plan", "R U2 F' L D B R", "--json"];
        settings.iter().for_each(|setting| arguments.extend(["--set", *setting]));
        arguments.extend(["--out", "out"]);
        let started = Instant::now();
        let call = drill(at, &arguments);
        let document: serde_json::Value = serde_json::from_str(&call.stdout)
            .unwrap_or_else(|error| panic!("{name}: {error}: {}", call.stderr));
        // A drill of which nothing completes ends with 1.
        let nothing = document["completed"]["count"] == 0;
        assert_eq!(call.code, i32::from(nothing), "{name}: {}", call.stderr);
        assert!(started.elapsed() < Duration::from_secs(60), "{name}: {:?}", started.elapsed());
        let table = Table::read(&at.join("out/drill_axes.csv"));
        let found = table.column("end");
        let causes = table.column("cause");
        let all = |end: &str| found.iter().all(|e| *e == end);
        let as_wanted = match ends {
            Completed => all("completed"),
            Jammed => all("jammed"),
            Stopped(cause) => all("stopped") && causes.iter().all(|c| c.contains(cause)),
            Failed => found.iter().all(|e| *e != "completed"),
            Somehow => true,
        };
        if !as_wanted {
            wrong.push(format!("{name}: {found:?} {causes:?}"));
        }
        // Seven beats, each given up after a second at most unless told otherwise.
        assert!(table.numbers("time_ms").iter().all(|&ms| (0.0..20_000.0).contains(&ms)), "{name}");
        assert_eq!(document["trials"], 6);
        let text = document.to_string();
        assert!(!text.contains("null") || *ends != Completed, "{name}: {text}");
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}
