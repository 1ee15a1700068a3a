//! The lines of the ledger about logs of real axes.

use dryturn_metrology::motor::Identified;
use serde_json::{Map, Value as Json, json};

use super::digest;
use crate::overlay::{BeatOff, Explained, Fitted, Outcome, Overlay};

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

fn figure(own: &Fitted) -> Json {
    json!({
        "field": own.field, "what": own.words, "drawn": own.drawn, "value": own.value,
        "interval_95": own.interval, "determined": own.determined,
    })
}

/// What comes of fitting sets of figures, by name.
#[must_use]
pub fn outcome(overlay: &Overlay) -> &'static str {
    match overlay.sets.as_ref().map(|sets| sets.outcome) {
        None => "not_fitted",
        Some(Outcome::AsDrawn) => "as_drawn",
        Some(Outcome::Certain) => "certain",
        Some(Outcome::Several) => "several",
        Some(Outcome::Unexplained) => "unexplained",
    }
}

/// The sets of figures that explain a log equally well, the likeliest first.
#[must_use]
pub fn told(overlay: &Overlay) -> Json {
    let told = overlay.sets.as_ref().map_or(&[][..], |sets| &sets.told);
    let set = |own: &crate::overlay::Told| {
        json!({
            "figures": own.figures.iter().map(figure).collect::<Vec<_>>(),
            "chi_square_above": own.above, "correlations": square(&own.correlations),
        })
    };
    told.iter().map(set).collect()
}

/// A matrix, row by row.
fn square(values: &[f64]) -> Json {
    let size = values.len().isqrt().max(1);
    values.chunks(size).map(Json::from).collect()
}

/// All figures fitted together.
#[must_use]
pub fn joint(overlay: &Overlay) -> Json {
    let Some(sets) = &overlay.sets else { return Json::Null };
    let tied = sets.tied().into_iter().map(
        |(a, b, correlation)| json!({ "fields": [a.field, b.field], "correlation": correlation }),
    );
    json!({
        "figures": sets.figures.iter().map(figure).collect::<Vec<_>>(),
        "correlations": square(&sets.correlations), "tied": tied.collect::<Vec<_>>(),
        "chi_square_drawn": sets.chi_square[0], "chi_square": sets.chi_square[1],
        "problem": {
            "at": sets.problem.at, "left": sets.problem.left, "columns": sets.problem.columns,
            "prior": sets.problem.prior,
        },
        "measures": sets.measures, "combinations_determined": sets.determined,
    })
}

/// The same sets in few lines, in words, and what would tell them apart.
fn words(sets: &Explained) -> Json {
    let lines: Vec<String> = sets.lines.iter().map(|line| sets.line_words(line)).collect();
    json!({ "verdict": sets.verdict(), "lines": lines, "to_tell_apart": sets.hints() })
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
        "causes": causes(overlay), "outcome": outcome(overlay), "told": told(overlay),
        "words": overlay.sets.as_ref().map(words), "joint": joint(overlay),
    })
}
