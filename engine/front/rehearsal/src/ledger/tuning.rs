//! The line of the ledger about tuning.

use serde_json::{Value as Json, json};

use super::digest;
use super::driving::{kinds, turning_drill};
use crate::tune::{Dot, Limit, NotTuned, Nudge, Round, Setting, Tuned, Tuning};

/// What tuning came to.
#[must_use]
pub fn tuning(tuning: &Tuning) -> Json {
    let request = &tuning.request;
    let allowed: Vec<Json> = request
        .allow
        .iter()
        .map(|v| json!({ "field": v.path, "low": v.low, "high": v.high }))
        .collect();
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
    let setting = |setting: &Setting| json!({ "field": setting.field, "before": setting.before, "after": setting.after });
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
        "tried": tuned.tried,
        "drill": turning_drill(&tuned.drill), "before": turning_drill(&tuned.before),
        "waiting": turning_drill(&tuned.waiting),
    })
}
