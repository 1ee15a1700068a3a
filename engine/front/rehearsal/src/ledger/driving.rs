//! The lines of the ledger about the axes: runs, squaring, drills of the axes alone.

use dryturn_cube::{CubeState, Face, net};
use dryturn_driving::Squared;
use dryturn_handoff::{Energy, Jam, Run, Stop};
use dryturn_scene::Scene;
use serde_json::{Map, Value as Json, json};

use super::digest;
use crate::blame::{AxisBlame, Blame, Reason};
use crate::failures::{FailureKind, Failures};
use crate::start_to_stop::StartToStop;
use crate::statistics::{Z_95, wilson};
use crate::turning::{Execution, TurningDrill};

/// Most failed trials that a drill's line names.
const NAMED: usize = 100;

pub(super) fn jam(jam: &Jam) -> Json {
    json!({
        "time_ms": jam.time_s * 1e3, "beat": jam.beat + 1,
        "late_face": jam.late_face.to_string(), "late_angle_deg": jam.late_angle_deg,
        "allowed_deg": jam.allowed_deg, "blocked_face": jam.blocked_face.to_string(),
        "blocked_angle_deg": jam.blocked_angle_deg, "peak_torque_n_m": jam.peak_torque_n_m,
        "safety_factor": jam.safety_factor_ratio, "verdict": jam.verdict.words(),
        "noticed_ms": jam.noticed_s.map(|s| s * 1e3), "blame": jam.blame,
    })
}

pub(super) fn stop(stop: &Stop) -> Json {
    json!({
        "time_ms": stop.time_s * 1e3, "beat": stop.beat + 1, "cause": stop.cause.to_string(),
    })
}

/// Where the energy of a run went, J; `unaccounted_share` is of what the supply gave.
#[must_use]
pub fn energy(energy: &Energy) -> Json {
    json!({
        "supply_j": energy.supply_j, "source_j": energy.source_j, "copper_j": energy.copper_j,
        "friction_j": energy.friction_j, "brake_j": energy.brake_j, "jam_j": energy.jam_j,
        "detent_j": energy.detent_j, "kinetic_j": energy.kinetic_j, "stored_j": energy.stored_j,
        "unaccounted_share": energy.unaccounted_j() / energy.supply_j.max(1e-9),
    })
}

/// From the start button to the last stop, ms by part.
#[must_use]
pub fn start_to_stop(budget: &StartToStop) -> Json {
    let part = |(name, seconds): (&str, f64)| (name.replace('-', "_"), json!(seconds * 1e3));
    let mut parts: Map<String, Json> = budget.parts().into_iter().map(part).collect();
    parts.insert("total".to_owned(), json!(budget.total_s() * 1e3));
    Json::Object(parts)
}

/// Torque and safety factor by shaft, faces in the order U R F D L B.
fn shafts(run: &Run) -> Vec<Json> {
    let shaft = |(face, axis): (Face, &dryturn_handoff::AxisLoad)| {
        json!({
            "face": face.to_string(), "peak_torque_n_m": axis.peak_torque_n_m,
            "safety_factor": axis.safety_factor_ratio(), "peak_current_a": axis.peak_current_a,
            "winding_c": axis.winding_c,
        })
    };
    Face::ALL.into_iter().zip(&run.axes).map(shaft).collect()
}

/// A run on a scene's axes.
#[must_use]
pub fn run(run: &Run, scene: &Scene, trial: u64) -> Json {
    let beats: Vec<Json> = run
        .beats
        .iter()
        .map(|b| {
            json!({
                "beat": b.beat + 1, "start_ms": b.start_s() * 1e3, "stop_ms": b.stop_s() * 1e3,
                "worst_offset_deg": b.worst_offset_deg,
            })
        })
        .collect();
    json!({
        "stage": "execute", "trial": trial, "total_ms": run.total_s * 1e3,
        "bound_ms": run.bound_s * 1e3, "beats": beats, "failure": run.failure(),
        "failure_kind": FailureKind::of_run(run).map(FailureKind::key),
        "jam": run.jam().map(jam), "stop": run.stop().map(stop),
        "pushed": run.pushed.iter().map(jam).collect::<Vec<_>>(), "resent": run.resent,
        "peak_torque_n_m": run.peak_torque_n_m(), "safety_factor": run.safety_factor_ratio(),
        "shafts": shafts(run), "energy": energy(&run.energy),
        "lowest_v": run.power.lowest_v, "highest_v": run.power.highest_v,
        "peak_w": run.power.peak_w, "resistor_c": run.power.resistor_c,
        "winding_c": run.winding_c(), "rest_deg": run.rest_deg,
        "start_to_stop_ms": start_to_stop(&StartToStop::of(scene, run.total_s)),
        "ends_as": net::write_faces(&run.final_state.colours()),
        "solved": run.final_state == CubeState::SOLVED,
    })
}

/// Faces led to their stops after a run was broken off.
#[must_use]
pub fn squared(squared: &Squared, trial: u64) -> Json {
    let stuck: Vec<String> = squared.stuck.iter().map(Face::to_string).collect();
    json!({
        "stage": "square", "trial": trial, "stuck": stuck, "total_ms": squared.total_s * 1e3,
        "rest_deg": squared.rest_deg,
    })
}

/// Who blocked whom, one row.
#[must_use]
pub fn blame(row: &Blame) -> Json {
    json!({
        "late": row.late.to_string(), "blocked": row.blocked.to_string(), "against": row.against,
        "jams": row.jams, "pushed": row.pushed, "late_deg": row.late_deg,
    })
}

/// A quantile of the completed runs' times with its interval, ms; null where none was
/// completed.
fn time(drill: &TurningDrill, share: f64) -> Json {
    drill.time_s(share).map_or(Json::Null, |(value_s, (low_s, high_s))| {
        json!({
            "ms": value_s * 1e3, "bootstrap_95_low": low_s * 1e3, "bootstrap_95_high": high_s * 1e3,
        })
    })
}

/// Each kind of failure that occurred, the most frequent first.
pub(super) fn kinds(failures: &Failures) -> Vec<Json> {
    let kind = |(kind, count): (FailureKind, usize)| {
        let (low, high) = wilson(count, failures.trials(), Z_95);
        json!({
            "kind": kind.key(), "says": kind.sentence(), "count": count, "wilson_95_low": low,
            "wilson_95_high": high,
        })
    };
    failures.split().into_iter().map(kind).collect()
}

/// What a drill of the axes adds up to.
#[must_use]
pub fn turning_drill(drill: &TurningDrill) -> Json {
    let trials = drill.trials();
    let share = |count: usize| {
        let (low, high) = wilson(count, trials, Z_95);
        json!({ "count": count, "wilson_95_low": low, "wilson_95_high": high })
    };
    let quantile = |share: f64| drill.quantile(share, |e| e.safety_factor_ratio);
    let axis = |(face, axis): (Face, AxisBlame)| {
        json!({
            "face": face.to_string(), "late": axis.late, "blocked": axis.blocked,
            "stops": axis.stops, "broken": axis.broken,
        })
    };
    let most = |of: fn(&Execution) -> f64| drill.quantile(1.0, of);
    let reason = |reason: &Reason| json!({ "kind": reason.kind.key(), "says": reason.words, "count": reason.count });
    let failures = drill.failures();
    let failed = drill.executions.iter().filter(|execution| !execution.completed());
    json!({
        "stage": "drill_turning", "scene": drill.scene.file().name,
        "scene_sha256": digest(drill.scene.identity().as_bytes()), "trials": trials,
        "plans": drill.plans.iter().map(dryturn_handoff::Plan::notation).collect::<Vec<_>>(),
        "completed": share(drill.completed()), "failures": share(failures.count()),
        "failures_exact_95_upper": failures.at_most(), "kinds": kinds(&failures),
        "reasons": drill.reasons().iter().map(reason).collect::<Vec<_>>(),
        "jammed": share(drill.jams()),
        "jams_exact_95_upper": drill.jams_at_most(), "stopped": share(drill.stops()),
        "pushed": share(drill.pushed()), "bound_ms": drill.mean_bound_s() * 1e3,
        "time_ms": {
            "p05": time(drill, 0.05), "median": time(drill, 0.5), "p95": time(drill, 0.95),
            "longest": drill.times_s().last().map(|s| s * 1e3),
        },
        "safety_factor": {
            "least": quantile(0.0), "p01": quantile(0.01), "p05": quantile(0.05),
            "median": quantile(0.5),
        },
        "peak_torque_n_m": most(|e| e.peak_torque_n_m),
        "lowest_v": drill.quantile(0.0, |e| e.bus_v.0), "highest_v": most(|e| e.bus_v.1),
        "winding_c": most(|e| e.winding_c), "resistor_c": most(|e| e.resistor_c),
        "blame": drill.blame().iter().map(blame).collect::<Vec<_>>(),
        "axes": Face::ALL.into_iter().zip(drill.axes()).map(axis).collect::<Vec<_>>(),
        "failed": failed.take(NAMED).map(|execution| execution.number).collect::<Vec<_>>(),
    })
}
