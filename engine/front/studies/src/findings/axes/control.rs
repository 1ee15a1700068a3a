//! Controllers, hand-over and what notices that an axis lags.

use dryturn_cube::Amount;
use dryturn_driving::Machine;
use dryturn_scene::file::SceneFile;
use dryturn_units::maths;

use crate::findings::{Finding, FindingKind as Kind};

/// A sampled loop of first order needs a gain times period below this (2 is its limit of
/// stability), with what current loop and filter add.
const QUICKEST: f64 = 0.7;
/// A loop must be so many times slower than the one inside it (common practice, no source:
/// three to five).
const CASCADE: f64 = 1.5;

pub(super) fn settle(file: &SceneFile) -> Option<Finding> {
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

pub(super) fn deadband(file: &SceneFile) -> Option<Finding> {
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

pub(super) fn beat_limit(file: &SceneFile, machine: &Machine) -> Option<Finding> {
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

pub(super) fn speed_loop(file: &SceneFile) -> Option<Finding> {
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

pub(super) fn position_loop(file: &SceneFile) -> Option<Finding> {
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

pub(super) fn current_loop(file: &SceneFile) -> Option<Finding> {
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

pub(super) fn hold(file: &SceneFile, machine: &Machine) -> Option<Finding> {
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

pub(super) fn following(file: &SceneFile) -> Option<Finding> {
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
