//! The lines of the ledger about logs of real axes.

use dryturn_metrology::motor::Identified;
use serde_json::{Map, Value as Json, json};

use super::digest;
use crate::overlay::{BeatOff, Overlay};

/// What logs of one axis tell of it.
#[must_use]
pub fn identified(found: &Identified) -> Json {
    let over = found.over_inertia;
    let estimate = |own: &dryturn_metrology::motor::Estimate| {
        let value = json!({
            "value": own.value, "error": own.error, "interval_95": own.interval,
            "determined": own.open.is_none(), "because": own.open,
        });
        (own.parameter.key(over).to_owned(), value)
    };
    let limit = |own: &dryturn_metrology::motor::Limit| {
        let value = json!({ "value": own.reached, "largest": own.largest, "because": own.because });
        (own.kind.key().to_owned(), value)
    };
    let moves: Vec<Json> = found
        .moves
        .iter()
        .map(|own| {
            json!({
                "log": own.log, "start_s": own.start_s, "way_deg": own.way_deg,
                "top_speed_rad_s": own.top_speed_rad_s, "friction": own.friction,
            })
        })
        .collect();
    let held = &found.held_out;
    let fields: Vec<Json> = found
        .fields
        .iter()
        .map(|own| json!({ "field": own.name, "drawn": own.drawn, "measured": own.measured }))
        .collect();
    json!({
        "stage": "identify", "over_inertia": over,
        "constant_n_m_per_a": found.constant_n_m_per_a,
        "estimates": found.estimates.iter().map(estimate).collect::<Map<_, _>>(),
        "limits": found.limits.iter().map(limit).collect::<Map<_, _>>(),
        "friction_at": { "speed_rad_s": found.friction_at[0], "value": found.friction_at[1] },
        "condition_ratio": found.condition_ratio, "rows": found.rows,
        "misfit_share": found.misfit_share, "corner_hz": found.corner_hz, "moves": moves,
        "held_out": {
            "number": held.number, "torque_off_share": held.torque_off_share,
            "angle_off_share": held.angle_off_share, "end_off_deg": held.end_off_deg,
            "accepted": held.accepted(),
        },
        "fields": fields, "warnings": found.warnings,
        "slow": found.slow.map(|slow| json!({
            "step_ms": slow.step_ms, "angle_off_deg": slow.angle_off_deg,
            "current_off_a": slow.current_off_a,
        })),
    })
}

/// How far beats are off.
#[must_use]
pub fn beats_off(beats: &[BeatOff]) -> Json {
    let beat = |own: &BeatOff| {
        json!({
            "beat": own.beat + 1, "turns": own.turns, "late_ms": own.late_ms,
            "longer_ms": own.longer_ms, "rms_deg": own.rms_deg,
        })
    };
    beats.iter().map(beat).collect()
}

/// What might be to blame for what a log is off, the most likely first.
#[must_use]
pub fn causes(overlay: &Overlay) -> Json {
    let cause = |own: &crate::overlay::Cause| {
        json!({
            "field": own.field, "what": own.words, "drawn": own.drawn, "value": own.value,
            "explained_share": own.explained_share, "rms_ms": own.rms_ms, "as_good": own.as_good,
        })
    };
    overlay.causes.iter().map(cause).collect()
}

/// A log laid over the simulated run.
#[must_use]
pub fn overlay(overlay: &Overlay) -> Json {
    let held: Vec<Json> = overlay
        .held_up
        .iter()
        .map(|own| {
            json!({
                "beat": own.beat + 1, "turn": own.turn.to_string(), "what": own.stretch.words(),
                "longer_ms": own.longer_ms,
            })
        })
        .collect();
    json!({
        "stage": "overlay", "scene": overlay.scene.file().name,
        "scene_sha256": digest(overlay.scene.identity().as_bytes()),
        "turns": overlay.plan.notation(), "ends_early": overlay.ends_early,
        "rms_ms": overlay.rms_ms, "explained": overlay.explained(), "held_up": held,
        "beats": beats_off(&overlay.beats),
        "beats_after": overlay.fitted.as_ref().map(|fitted| beats_off(&fitted.beats)),
        "causes": causes(overlay),
    })
}
