//! The ledger: one JSON object a line, one line a stage. Keys of version 2 are
//! listed in `scripts/README.md`. Nothing in it depends on the clock, the
//! machine or the thread count.

mod comparison;
mod driving;
mod logs;
mod tuning;

use std::collections::BTreeMap;

pub use comparison::{compare_rigs, search_budgets};
pub use driving::{blame, energy, run, squared, start_to_stop, turning_drill};
use driving::{jam, kinds, stop};
use dryturn_cube::{CubeState, Face, Facelet, FaceletKind, net, notation};
use dryturn_handoff::{CameraFound, FaceletLabel, Outcome, Plan, Reading, Scan, Source};
use dryturn_reading::{CameraLight, PooledClass, PooledClasses};
use dryturn_scene::Scene;
use dryturn_units::noise::Seed;
pub use logs::{beats_off, causes, identified, joint, outcome, overlay, told};
use serde_json::{Value as Json, json};
use sha2::{Digest, Sha256};
pub use tuning::tuning;

use crate::drill::{Drill, Trial};
use crate::frame_set::SetRequest;
use crate::pass::{Mistake, Score, Verdict};
use crate::readers::{ReaderTable, ReaderTally};
use crate::statistics::{Z_95, wilson};
use crate::survey::Surveyed;

/// Version of the ledger's keys.
pub const VERSION: u32 = 2;

/// SHA-256 in hexadecimal.
#[must_use]
pub fn digest(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}

/// First line: what was run.
#[must_use]
pub fn header(
    script: &str,
    script_text: &str,
    seed: Seed,
    settings: &BTreeMap<String, String>,
) -> Json {
    json!({
        "stage": "start", "ledger_version": VERSION, "dryturn": env!("CARGO_PKG_VERSION"),
        "script": script, "script_sha256": digest(script_text.as_bytes()), "seed": seed.value(),
        "settings": settings,
    })
}

/// A scene as it is used, changes by the script included.
#[must_use]
pub fn scene(scene: &Scene) -> Json {
    json!({
        "stage": "scene", "name": scene.file().name, "file": scene.source_name(),
        "scene_sha256": digest(scene.identity().as_bytes()),
    })
}

/// A calibration.
#[must_use]
pub fn calibration(calibration: &dryturn_reading::Calibration, trial: u64, scans: usize) -> Json {
    let checked = calibration.cross_validation();
    json!({
        "stage": "calibrate", "trial": trial, "scans": scans,
        "made_under": calibration.made_under(), "lamps": calibration.lamps(),
        "left_out": checked.sightings, "wrong_when_left_out": checked.wrong,
        "shrinkage_share": calibration.shrinkage_share(),
    })
}

/// Colour classes for other programs, as JSON.
#[must_use]
pub fn classes_text(classes: &PooledClasses) -> String {
    let class = |class: &PooledClass| {
        json!({
            "colour": class.name, "face": class.face.to_string(), "mean": class.mean,
            "precision": class.precision, "log_determinant": class.log_determinant,
        })
    };
    let camera = |(name, light): &CameraLight| json!({ "camera": name, "light": light });
    let document = json!({
        "made_under": classes.made_under, "floor": classes.floor,
        "classes": classes.classes.iter().map(class).collect::<Vec<_>>(),
        "cameras": classes.cameras.iter().map(camera).collect::<Vec<_>>(),
    });
    format!("{document:#}\n")
}

/// A scan: the frames by their hashes.
#[must_use]
pub fn scan(scan: &Scan, trial: u64) -> Json {
    let frames: Vec<Json> = scan
        .frames
        .iter()
        .map(|f| {
            json!({
                "camera": f.camera, "width_px": f.width, "height_px": f.height,
                "pixels_sha256": digest(&f.pixels),
            })
        })
        .collect();
    json!({ "stage": "scan", "trial": trial, "frames": frames })
}

/// A survey: its figures by facelet and camera.
#[must_use]
pub fn survey(survey: &Surveyed) -> Json {
    let mut line = survey.json();
    line["stage"] = json!("survey");
    line
}

/// A labelled set that a script has made.
#[must_use]
pub fn labelled_set(request: &SetRequest, seed: u64, name: &str) -> Json {
    let mut line = request.json(seed);
    line["stage"] = json!("labelled_set");
    line["name"] = json!(name);
    line
}

/// What a label says of a facelet.
#[must_use]
pub fn facelet_label(label: &FaceletLabel) -> Json {
    json!({
        "facelet": label.facelet.name(), "colour": label.colour.to_string(),
        "visible_px": label.visible_px, "visible_share": label.visible_share,
        "glare_share": label.glare_share, "clipped_share": label.clipped_share,
        "linear": label.mean_linear, "encoded": label.mean_encoded,
    })
}

/// Six named faces of three rows; `?` where nothing is known.
fn faces(reading: &Reading) -> String {
    let letter = |facelet: Facelet| reading.colour(facelet).map_or('?', |face| face.letter());
    let face = |face: dryturn_cube::Face| {
        let row = |r| (0..3).map(|c| letter(Facelet::new(face, r, c))).collect::<String>();
        format!("{face}={}/{}/{}", row(0), row(1), row(2))
    };
    dryturn_cube::Face::ALL.map(face).join(" ")
}

/// Which face's colour each face of the rig shows at its centre.
#[must_use]
pub fn centres(reading: &Reading) -> Json {
    let shown = Face::ALL.into_iter().zip(reading.centres);
    shown.map(|(face, shows)| (face.to_string(), Json::from(shows.to_string()))).collect()
}

/// A reading, by itself.
#[must_use]
pub fn reading(reading: &Reading) -> Json {
    let with = |wanted: fn(&Source) -> bool| {
        let facelets = Facelet::all().filter(|f| f.kind() != FaceletKind::Centre);
        facelets.filter(move |f| wanted(&reading.facelets[f.index()].source)).map(|f| f.name())
    };
    let inferred: Vec<&str> = with(|source| matches!(source, Source::Inferred)).collect();
    let unknown: Vec<&str> = with(|source| matches!(source, Source::Unknown)).collect();
    let margin = reading
        .facelets
        .iter()
        .filter_map(|f| match f.source {
            Source::Seen { margin, .. } => Some(margin),
            _ => None,
        })
        .min_by(f64::total_cmp);
    let (because, weakest) = match &reading.outcome {
        Outcome::Read(_) => (None, Vec::new()),
        Outcome::Unreadable { because, weakest } => {
            (Some(because), weakest.iter().map(|f| f.name()).collect())
        }
    };
    json!({
        "stage": "read", "readable": because.is_none(), "because": because,
        "faces": faces(reading), "inferred": inferred, "unknown": unknown,
        "smallest_margin": margin, "weakest": weakest, "probability": reading.probability,
        "log_odds": reading.runner_up.map(|next| next.log_odds),
        "without_calibration": reading.without_calibration, "steps": reading.steps,
        "centres": centres(reading),
        "cameras": reading.cameras.iter().map(camera_found).collect::<Vec<_>>(),
    })
}

/// Where a camera was found, and how its light has changed.
#[must_use]
pub fn camera_found(found: &CameraFound) -> Json {
    json!({
        "shift_mm": found.shift_mm, "turn_deg": found.turn_deg, "light_ratio": found.light_ratio,
    })
}

/// One way to read the scans of one kind.
#[must_use]
pub fn readers(table: &ReaderTable) -> Json {
    let tally = |tally: &ReaderTally| {
        let (wilson_upper, exact_upper) = tally.wrong_at_most();
        let (claims, claims_right) = tally.claiming(0.99);
        json!({
            "method": format!("{:?}", tally.method), "right": tally.right, "wrong": tally.wrong,
            "refused": tally.refused, "facelets": tally.facelets,
            "facelets_right": tally.facelets_right, "wrong_wilson_95_high": wilson_upper,
            "wrong_exact_95_upper": exact_upper, "brier": tally.brier(),
            "claims_99": claims, "claims_99_right": claims_right,
            "confusion_true_by_read": tally.confusion,
        })
    };
    json!({
        "stage": "readers", "name": table.name, "calibrated_in": table.calibrated_in.file().name,
        "scene": table.read_in.file().name, "scans": table.scans,
        "readers": table.readers.iter().map(tally).collect::<Vec<_>>(),
    })
}

fn mistakes(score: &Score) -> Vec<Json> {
    let line = |m: &Mistake| {
        let (read, truth) = (m.read.to_string(), m.truth.to_string());
        json!({ "facelet": m.facelet.name(), "read": read, "truth": truth })
    };
    score.mistakes.iter().map(line).collect()
}

/// A reading against the truth.
#[must_use]
pub fn score(score: &Score, truth: &CubeState) -> Json {
    json!({
        "stage": "score", "truth": net::write_faces(&truth.colours()),
        "right": score.right(), "mistakes": mistakes(score),
    })
}

/// A plan and the state it is for.
#[must_use]
pub fn plan(plan: &Plan, state: &CubeState) -> Json {
    let beats: Vec<String> = plan.beats.iter().map(|b| notation::format(&b.turns)).collect();
    json!({
        "stage": "plan", "turns": plan.turns().len(), "beats": beats,
        "solves": state.turned_by(&plan.turns()) == CubeState::SOLVED,
    })
}

/// The verdict on a pass.
#[must_use]
pub fn verdict(verdict: Verdict, trial: u64) -> Json {
    json!({ "stage": "judge", "trial": trial, "verdict": verdict.word() })
}

/// One trial of a drill.
#[must_use]
pub fn trial(trial: &Trial) -> Json {
    json!({
        "stage": "trial", "trial": trial.number, "verdict": trial.verdict.word(),
        "read_right": trial.score.right(), "because": trial.because,
        "mistakes": mistakes(&trial.score), "turns": trial.plan_size.map(|p| p.0),
        "beats": trial.plan_size.map(|p| p.1), "plan_solves_reading": trial.plan_solves_reading,
        "total_ms": trial.total_s.map(|s| s * 1e3), "jam": trial.jam.as_ref().map(jam),
        "stop": trial.stop.as_ref().map(stop),
        "truth": net::write_faces(&trial.truth.colours()),
    })
}

/// What a drill adds up to.
#[must_use]
pub fn drill(drill: &Drill) -> Json {
    let trials = drill.trials.len();
    let share = |count: usize| {
        let (low, high) = wilson(count, trials, Z_95);
        json!({ "count": count, "wilson_95_low": low, "wilson_95_high": high })
    };
    let plans = drill.count(|t| t.plan_solves_reading.is_some());
    json!({
        "stage": "drill", "scene": drill.scene.file().name,
        "calibrated_in": drill.calibrated_in.file().name, "trials": trials,
        "read_right": share(drill.right_reads()), "solved": share(drill.ended(Verdict::Solved)),
        "unreadable": share(drill.ended(Verdict::Unreadable)),
        "jammed": share(drill.ended(Verdict::Jammed)),
        "stopped": share(drill.ended(Verdict::Stopped)),
        "misread": share(drill.ended(Verdict::Misread)),
        "lost": share(drill.ended(Verdict::Lost)), "kinds": kinds(&drill.failures()),
        "plans": plans, "plans_that_solve": drill.count(|t| t.plan_solves_reading == Some(true)),
        "time_ms": {
            "p05": drill.time_ms(0.05), "median": drill.time_ms(0.5),
            "p95": drill.time_ms(0.95), "longest": drill.time_ms(1.0),
        },
        "confusion_true_by_read": drill.confusion(),
    })
}
