//! Controllers, hand-over, supply, link and host.

use dryturn_cube::Amount;
use dryturn_driving::Machine;
use dryturn_handoff::Reading;
use dryturn_rehearsal::reading_ms;
use dryturn_scene::Scene;
use dryturn_scene::file::{Camera, SceneFile, Tension};
use dryturn_units::maths;

use super::{Finding, FindingKind as Kind, Severity};

/// A sampled loop of first order needs a gain times period below this (2 is its limit of
/// stability), with what current loop and filter add.
const QUICKEST: f64 = 0.7;
/// A loop must be so many times slower than the one inside it (common practice, no source:
/// three to five).
const CASCADE: f64 = 1.5;
/// Beats of a usual plan, for what the link loses.
const BEATS: f64 = 20.0;
/// Solves that may be lost to the link.
const LOST_SOLVES: f64 = 0.01;
/// A host that takes longer than this outweighs all turns, ms.
const SLOW_HOST_MS: f64 = 10_000.0;

pub(super) fn findings(scene: &Scene, machine: &Machine) -> Vec<Finding> {
    let file = scene.file();
    let all = [
        settle(file),
        deadband(file),
        beat_limit(file, machine),
        speed_loop(file),
        position_loop(file),
        current_loop(file),
        hold(file, machine),
        following(file),
        over_voltage(file),
        chopper_off(file),
        supply(file, machine),
        heat(file),
        commands(file),
        watchdog(file),
        resend(file),
        jitter(file),
        tension(file),
        host(file),
    ];
    all.into_iter().flatten().collect()
}

fn settle(file: &SceneFile) -> Option<Finding> {
    let step_deg = 360.0 / maths::pow(2.0, f64::from(file.drive.encoder_bits));
    let window_deg = file.handover.settle_window_deg;
    (window_deg < step_deg).then(|| {
        Finding::wrong(Kind::SettleBelowEncoder, "handover.settle_window_deg")
            .figure("settle_window_deg", window_deg)
            .figure("encoder_step_deg", step_deg)
            .says(
                format!("the window is {window_deg}°, a step of the encoder {step_deg:.2}°"),
                format!(
                    "widen the window beyond {step_deg:.2}°, or take an encoder of more than {} bits",
                    file.drive.encoder_bits
                ),
            )
    })
}

fn deadband(file: &SceneFile) -> Option<Finding> {
    let (band, window) = (file.controller.deadband_deg, file.handover.settle_window_deg);
    (band > window).then(|| {
        Finding::wrong(Kind::DeadbandBeyondSettle, "controller.deadband_deg")
            .figure("deadband_deg", band)
            .figure("settle_window_deg", window)
            .says(
                format!(
                    "an axis is left alone {band}° off its stop, and settled at {window}° only"
                ),
                format!("keep it well below {window}°"),
            )
    })
}

fn beat_limit(file: &SceneFile, machine: &Machine) -> Option<Finding> {
    let turn_ms = 1e3 * machine.turn_s(Amount::Half);
    let limit_ms = file.handover.beat_limit_ms;
    (limit_ms < turn_ms).then(|| {
        Finding::wrong(Kind::BeatLimitShort, "handover.beat_limit_ms")
            .figure("beat_limit_ms", limit_ms)
            .figure("half_turn_ms", turn_ms)
            .says(
                format!("a half turn's profile takes {turn_ms:.0} ms and is given up after {limit_ms} ms"),
                format!("allow several times {turn_ms:.0} ms"),
            )
    })
}

fn speed_loop(file: &SceneFile) -> Option<Finding> {
    let (gain, period_ms) = (file.controller.speed_gain_per_s, file.controller.loop_period_ms);
    let window = f64::from(file.controller.speed_window_samples);
    // The speed is that of half a window ago.
    let share = gain * period_ms * 1e-3 * (1.0 + 0.5 * (window - 1.0)).max(1.0);
    let allowed = QUICKEST / (share / gain.max(1e-9));
    (share > QUICKEST).then(|| {
        Finding::wrong(Kind::SpeedLoopTooQuick, "controller.speed_gain_per_s")
            .figure("gain_times_delay_ratio", share)
            .says(
                format!(
                    "{gain} per s over a delay of {:.2} ms is {share:.1}: above {QUICKEST} it swings",
                    1e3 * share / gain.max(1e-9)
                ),
                format!("at most {allowed:.0} per s, or a shorter loop_period_ms"),
            )
    })
}

fn position_loop(file: &SceneFile) -> Option<Finding> {
    let (outer, inner) = (file.controller.position_gain_per_s, file.controller.speed_gain_per_s);
    (outer * CASCADE > inner).then(|| {
        Finding::wrong(Kind::PositionLoopTooQuick, "controller.position_gain_per_s")
            .figure("position_gain_per_s", outer)
            .figure("speed_gain_per_s", inner)
            .says(
                format!("{outer} per s round a speed controller of {inner} per s: it swings"),
                format!("a quarter of the speed gain is usual, {:.0} per s", inner / 4.0),
            )
    })
}

fn current_loop(file: &SceneFile) -> Option<Finding> {
    let (constant_ms, gain) =
        (file.controller.current_time_constant_ms, file.controller.speed_gain_per_s);
    let share = constant_ms * 1e-3 * gain;
    (share > 1.0 / CASCADE).then(|| {
        Finding::wrong(Kind::CurrentLoopSlow, "controller.current_time_constant_ms")
            .figure("current_time_constant_ms", constant_ms)
            .figure("speed_gain_per_s", gain)
            .says(
                format!(
                    "current takes {constant_ms} ms to follow, the speed controller wants it within \
                     {:.2} ms",
                    1e3 / gain
                ),
                format!("a sixth of that is usual, {:.2} ms", 1e3 / gain / 6.0),
            )
    })
}

fn hold(file: &SceneFile, machine: &Machine) -> Option<Finding> {
    let limit = &machine.axis().limit;
    let hold_n_m = file.controller.hold_torque_share * limit.torque_n_m();
    (hold_n_m < 0.25 * limit.friction_n_m).then(|| {
        Finding::doubtful(Kind::HoldWeak, "controller.hold_torque_share")
            .figure("hold_n_m", hold_n_m)
            .figure("friction_n_m", limit.friction_n_m)
            .says(
                format!(
                    "stopped axes hold with {hold_n_m:.3} N·m; a turning neighbour rubs with up to \
                     {:.3} N·m",
                    limit.friction_n_m
                ),
                "0.3 to 0.5 of the torque limit keeps faces in place",
            )
    })
}

fn following(file: &SceneFile) -> Option<Finding> {
    let angle_deg = file.detection.following_error_deg;
    (file.detection.enabled && angle_deg >= 90.0).then(|| {
        Finding::wrong(Kind::FollowingNeverFound, "detection.following_error_deg")
            .figure("following_error_deg", angle_deg)
            .says(
                format!("an axis may be {angle_deg}° behind: a whole quarter turn is never missed"),
                "10° are usual",
            )
    })
}

fn over_voltage(file: &SceneFile) -> Option<Finding> {
    let (bus_v, over_v) = (file.drive.bus_voltage_v, file.supply.over_voltage_v);
    let chopper_v = bus_v + file.supply.chopper_above_v;
    if over_v <= bus_v {
        return Some(
            Finding::wrong(Kind::OverVoltageBelowBus, "supply.over_voltage_v")
                .figure("over_voltage_v", over_v)
                .figure("bus_voltage_v", bus_v)
                .says(
                    format!("the drives let go above {over_v} V, and the supply has {bus_v} V"),
                    format!("set it above {chopper_v} V, where the chopper starts"),
                ),
        );
    }
    (chopper_v >= over_v).then(|| {
        Finding::wrong(Kind::ChopperTooLate, "supply.chopper_above_v")
            .figure("chopper_v", chopper_v)
            .figure("over_voltage_v", over_v)
            .says(
                format!("the chopper starts at {chopper_v} V, and the drives let go at {over_v} V"),
                format!("keep it below {:.1} V above the supply", over_v - bus_v),
            )
    })
}

fn chopper_off(file: &SceneFile) -> Option<Finding> {
    let supply = &file.supply;
    (supply.chopper_hysteresis_v >= supply.chopper_above_v).then(|| {
        let off_v = file.drive.bus_voltage_v + supply.chopper_above_v - supply.chopper_hysteresis_v;
        Finding::wrong(Kind::ChopperNeverOff, "supply.chopper_hysteresis_v")
            .figure("chopper_off_v", off_v)
            .figure("bus_voltage_v", file.drive.bus_voltage_v)
            .says(
                format!(
                    "it stops below {off_v} V only, and the supply holds {} V",
                    file.drive.bus_voltage_v
                ),
                format!("keep it below chopper_above_v, {} V", supply.chopper_above_v),
            )
    })
}

fn supply(file: &SceneFile, machine: &Machine) -> Option<Finding> {
    let planned = &machine.axis().planned;
    let current_a = planned.current_limit_a;
    let mechanical_w = planned.torque_n_m() * machine.highest_speed_rad_s();
    let copper_w = planned.resistance_ohm * current_a * current_a;
    // The winding cannot take more than the bus gives it.
    let axis_w = (mechanical_w + copper_w).min(planned.voltage_v * current_a);
    let supply_w = file.supply.source_current_limit_a * file.drive.bus_voltage_v;
    (axis_w > supply_w).then(|| {
        Finding::wrong(Kind::SupplyWeak, "supply.source_current_limit_a")
            .figure("axis_w", axis_w)
            .figure("supply_w", supply_w)
            .says(
                format!("one axis takes up to {axis_w:.0} W, and the supply gives {supply_w:.0} W"),
                format!("two axes at once want {:.0} A", 2.0 * axis_w / file.drive.bus_voltage_v),
            )
    })
}

fn heat(file: &SceneFile) -> Option<Finding> {
    let ambient_c = file.supply.ambient_c;
    let limits = [
        ("drive.winding_limit_c", file.drive.winding_limit_c),
        ("supply.resistor_limit_c", file.supply.resistor_limit_c),
    ];
    let (field, limit_c) = limits.into_iter().find(|limit| limit.1 <= ambient_c + 5.0)?;
    Some(
        Finding::wrong(Kind::HeatLimitBelowAmbient, field)
            .figure("limit_c", limit_c)
            .figure("ambient_c", ambient_c)
            .says(
                format!("the limit is {limit_c} °C, and all starts at {ambient_c} °C"),
                "give the limit of the winding's insulation, or of the resistor",
            ),
    )
}

fn commands(file: &SceneFile) -> Option<Finding> {
    let link = &file.link;
    let once = (link.frame_loss_share + link.frame_corrupt_share).min(1.0);
    let for_good = maths::pow(once, 1.0 + f64::from(link.most_resends));
    let solves = 1.0 - maths::pow(1.0 - for_good, BEATS);
    let severity = if solves > 0.5 { Severity::Wrong } else { Severity::Doubtful };
    (solves > LOST_SOLVES).then(|| {
        Finding::new(Kind::CommandsLost, severity, "link.frame_loss_share")
            .figure("lost_once_share", once)
            .figure("failed_solves_share", solves)
            .says(
                format!(
                    "{:.0} % of frames fail, and after {} resends {:.2} %: {:.0} % of solves of {BEATS} \
                     beats end there",
                    100.0 * once,
                    link.most_resends,
                    100.0 * for_good,
                    100.0 * solves
                ),
                "mend the link, or raise most_resends",
            )
    })
}

fn watchdog(file: &SceneFile) -> Option<Finding> {
    let (latency_ms, watchdog_ms) = (file.link.command_latency_ms, file.link.watchdog_ms);
    (latency_ms >= watchdog_ms).then(|| {
        Finding::wrong(Kind::LatencyBeyondWatchdog, "link.watchdog_ms")
            .figure("command_latency_ms", latency_ms)
            .figure("watchdog_ms", watchdog_ms)
            .says(
                format!(
                    "commands take {latency_ms} ms, and the axes let go after {watchdog_ms} ms"
                ),
                format!("allow several times {latency_ms} ms"),
            )
    })
}

fn resend(file: &SceneFile) -> Option<Finding> {
    let (latency_ms, after_ms) = (file.link.command_latency_ms, file.link.resend_after_ms);
    (after_ms < latency_ms).then(|| {
        Finding::doubtful(Kind::ResendTooEarly, "link.resend_after_ms")
            .figure("command_latency_ms", latency_ms)
            .figure("resend_after_ms", after_ms)
            .says(
                format!("a command takes {latency_ms} ms, and is sent again after {after_ms} ms"),
                format!("wait for more than {latency_ms} ms"),
            )
    })
}

fn jitter(file: &SceneFile) -> Option<Finding> {
    let (latency_ms, sigma_ms) = (file.link.command_latency_ms, file.link.command_jitter_sigma_ms);
    (sigma_ms > 0.5 * latency_ms).then(|| {
        Finding::doubtful(Kind::JitterBeyondLatency, "link.command_jitter_sigma_ms")
            .figure("command_jitter_sigma_ms", sigma_ms)
            .figure("command_latency_ms", latency_ms)
            .says(
                format!(
                    "a spread of {sigma_ms} ms round {latency_ms} ms is cut off at nothing and at \
                     twice the latency"
                ),
                "measure the link: latency is the mean, jitter its standard deviation",
            )
    })
}

fn tension(file: &SceneFile) -> Option<Finding> {
    let cube = &file.cube;
    let contradicts = match cube.tension {
        // Half-way between the two kinds of cube.
        Tension::Tight => cube.clearance_mm > 0.25,
        Tension::Loose => cube.clearance_mm < 0.25,
    };
    contradicts.then(|| {
        let other = if cube.tension == Tension::Tight { Tension::Loose } else { Tension::Tight };
        Finding::doubtful(Kind::ClearanceContradictsTension, "cube.clearance_mm")
            .figure("clearance_mm", cube.clearance_mm)
            .says(
                format!(
                    "the cube is {:?}, with the play of a {other:?} one: {} mm",
                    cube.tension, cube.clearance_mm
                ),
                format!("cube.tension {other:?}, or leave clearance_mm to the tension"),
            )
    })
}

fn host(file: &SceneFile) -> Option<Finding> {
    let host = &file.host;
    let pixels = |c: &Camera| u64::from(c.width_px) * u64::from(c.height_px);
    let largest = file.cameras.iter().map(|c| pixels(c) * c.picture_names().len() as u64);
    let transfer_ms = largest.max().unwrap_or(0) as f64 / (host.transfer_mb_per_s * 1e3);
    let search_ms = f64::from(host.search_nodes) / host.search_nodes_per_ms;
    let reading_ms = reading_ms(host, Reading::USUAL_STEPS);
    let terms = [
        (transfer_ms, "host.transfer_mb_per_s", "transfer"),
        (reading_ms, "host.reading_ms", "reading"),
        (search_ms, "host.search_nodes", "search"),
    ];
    let sum_ms = transfer_ms + reading_ms + search_ms;
    let [first, rest @ ..] = terms;
    let worst = rest.into_iter().fold(first, |a, b| if b.0 > a.0 { b } else { a });
    (sum_ms > SLOW_HOST_MS).then(|| {
        Finding::doubtful(Kind::HostSlow, worst.1).figure("host_ms", sum_ms).says(
            format!(
                "{:.0} s pass before the first command, {:.0} s of them in {}",
                1e-3 * sum_ms,
                1e-3 * worst.0,
                worst.2
            ),
            "check the figure's unit",
        )
    })
}
