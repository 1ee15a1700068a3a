//! The line of the ledger about tuning.

use dryturn_driving::Lead;
use dryturn_scene::Variation;
use serde_json::{Value as Json, json};

use super::digest;
use super::driving::{kinds, turning_drill};
use crate::tune::{
    BelowZero, Dot, Limit, NotTuned, Nudge, Round, Setting, Tuned, Tuning, lead_sentence,
};

/// What tuning came to.
#[must_use]
pub fn tuning(tuning: &Tuning) -> Json {
    let request = &tuning.request;
    let allowed: Vec<Json> = request.allow.iter().map(Variation::json).collect();
    let round = |round: &Round| {
        json!({
            "trials": round.trials, "began": round.began, "failing": round.failing,
            "slower": round.slower, "beyond": round.beyond, "stayed": round.stayed,
            "best_ms": round.best_s.map(|s| s * 1e3),
        })
    };
    let dot = |dot: &&Dot| {
        json!({
            "median_ms": dot.median_s * 1e3, "failures": dot.failures.count(),
            "trials": dot.failures.trials(), "kinds": kinds(&dot.failures), "policy": dot.policy,
        })
    };
    json!({
        "stage": "tune", "scene": request.scene.file().name,
        "scene_sha256": digest(request.scene.identity().as_bytes()),
        "jam_rate": request.target.jam_rate,
        "static_safety_factor": request.target.static_safety_ratio,
        "candidates": request.candidates, "proof_trials": request.proof,
        "allow": allowed, "keep": request.keep, "fields": tuning.fields,
        "rounds": tuning.rounds.iter().map(round).collect::<Vec<_>>(),
        "frontier": tuning.dots.iter().filter(|dot| dot.frontier).map(|d| dot(&d)).collect::<Vec<_>>(),
        "found": tuning.found.as_ref().ok().map(found),
        "nearest": match &tuning.found {
            Err(NotTuned::NoneKeeps { drill, .. }) => turning_drill(drill),
            _ => Json::Null,
        },
        "because": tuning.found.as_ref().err().map(ToString::to_string),
    })
}

fn found(tuned: &Tuned) -> Json {
    let setting = |setting: &Setting| {
        json!({
            "field": setting.field, "before": setting.before, "after": setting.after,
            "says": setting.says(),
        })
    };
    let nudge = |nudge: &Option<Nudge>| {
        nudge.as_ref().map(|nudge| {
            json!({
                "value": nudge.value, "faster_ms": nudge.faster_s.map(|s| s * 1e3),
                "failures": nudge.failures.count(), "kinds": kinds(&nudge.failures),
            })
        })
    };
    let limit = |limit: &Limit| {
        json!({
            "field": limit.field, "value": limit.value, "trials": limit.failures.trials(),
            "failures": limit.failures.count(), "less": nudge(&limit.nudges[0]),
            "more": nudge(&limit.nudges[1]), "says": limit.sentence(),
        })
    };
    let (low, high) = tuned.failure_interval();
    json!({
        "settings": tuned.settings.iter().map(setting).collect::<Vec<_>>(),
        "failure_wilson_95_low": low, "failure_wilson_95_high": high,
        "static_safety_factor": tuned.static_safety_ratio(),
        "start_to_stop_ms": tuned.start_to_stop_s().map(|s| s * 1e3),
        "gap_closed_share": tuned.gap_closed(),
        "limits": tuned.limits.iter().map(limit).collect::<Vec<_>>(),
        "next_limits": tuned.what_limits(),
        "leads": tuned.leads().map(|leads| leads.iter().map(lead).collect::<Vec<_>>()),
        "clearance": tuned.clearance_sentence(),
        "below_zero": tuned.below_zero.as_ref().map(below_zero),
        "tried": tuned.tried,
        "drill": turning_drill(&tuned.drill), "before": turning_drill(&tuned.before),
        "waiting": turning_drill(&tuned.waiting),
    })
}

fn lead(lead: &Lead) -> Json {
    let turn = |half: bool| if half { "half" } else { "quarter" };
    json!({
        "late": turn(lead.late_half), "next": turn(lead.next_half),
        "same_sense": lead.same_sense, "lead_ms": lead.lead_s * 1e3, "to_go_deg": lead.to_go_deg,
        "nearest_mm": lead.nearest_mm, "nearest_late_deg": lead.nearest_late_deg,
        "nearest_turned_deg": lead.nearest_turned_deg, "says": lead_sentence(lead),
    })
}

fn below_zero(asked: &BelowZero) -> Json {
    let best = asked.best.as_ref().map(|bought| {
        json!({
            "margin_deg": bought.margin_deg, "saves_ms": bought.saves_s * 1e3,
            "saves_95_low_ms": bought.interval_s.0 * 1e3,
            "saves_95_high_ms": bought.interval_s.1 * 1e3,
            "failures": bought.failures.0, "failures_as_found": bought.failures.1,
            "trials": bought.trials, "overlap_mm": bought.overlap_mm,
        })
    });
    json!({
        "tried_deg": asked.tried_deg, "executions": asked.executions, "best": best,
        "says": asked.sentence(),
    })
}
