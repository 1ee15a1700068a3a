//! What script values stand for. They are shared, never copied.

use std::sync::Arc;

use dryturn_cube::{CubeState, Facelet, net};
use dryturn_handoff::{Outcome, Plan, Reading, Run, Scan, Source};
use dryturn_reading::Calibration;
use dryturn_rehearsal::{BuiltRig, Pass, Score, Verdict};
use dryturn_scene::Scene;
use dryturn_studies::{
    Drill, ReaderTable, RigComparison, SearchBudgets, Squared, Surveyed, Tuning, TurningDrill,
};
use dryturn_units::stop;
use rhai::{Dynamic, Engine};

use crate::driving_handles::share;
use crate::optics_verbs::shown;
use crate::session::{Fallible, fault};

/// Memory of a pixel's labels.
const LABELS_BYTES: usize = 6;

macro_rules! handle {
    ($($(#[$doc:meta])* $name:ident($inner:ty) as $shown:literal;)+) => {
        $( $(#[$doc])* #[derive(Clone)] pub(crate) struct $name(pub(crate) $inner); )+
        fn register_types(engine: &mut Engine) {
            $( engine.register_type_with_name::<$name>($shown); )+
        }
    };
}

handle! {
    SceneValue(Arc<Scene>) as "Scene";
    RigValue(Arc<BuiltRig>) as "Rig";
    CalibrationValue(Arc<Calibration>) as "Calibration";
    CubeValue(CubeState) as "Cube";
    ScanValue(Arc<Scan>) as "Scan";
    ReadingValue(Arc<Reading>) as "Reading";
    ScoreValue(Arc<Score>) as "Score";
    PlanValue(Arc<Plan>) as "Plan";
    RunValue(Arc<Executed>) as "Run";
    PassValue(Arc<Pass>) as "Pass";
    DrillValue(Arc<Drill>) as "Drill";
    SurveyValue(Arc<Surveyed>) as "Survey";
    ReadersValue(Arc<ReaderTable>) as "Readers";
    TurningValue(Arc<TurningDrill>) as "TurningDrill";
    SquaredValue(Arc<Squared>) as "Squared";
    TuningValue(Arc<Tuning>) as "Tuning";
    BudgetsValue(Arc<SearchBudgets>) as "SearchBudgets";
    ComparisonValue(Arc<RigComparison>) as "RigComparison";
}

/// A run with what was turned, and on what.
#[derive(Clone)]
pub(crate) struct Executed {
    pub(crate) scene: Arc<Scene>,
    pub(crate) plan: Arc<Plan>,
    pub(crate) run: Arc<Run>,
}

/// Memory that a scan holds.
pub(crate) fn scan_bytes(scan: &Scan) -> usize {
    let frames = scan.frames.iter().map(|frame| frame.pixels.len());
    frames.chain(scan.labels.iter().map(|labels| LABELS_BYTES * labels.codes.len())).sum()
}

pub(crate) fn int(value: usize) -> i64 {
    value as i64
}

/// A number, or `()` where there is none.
pub(crate) fn float_or_unit(value: Option<f64>) -> Dynamic {
    value.map_or(Dynamic::UNIT, Dynamic::from_float)
}

pub(crate) fn facelet(name: &str) -> Fallible<Facelet> {
    match Facelet::from_name(name) {
        Some(facelet) => Ok(facelet),
        None => fault(format!("{name:?} is no facelet: facelets are called URF, UF, U and so on")),
    }
}

/// The face whose colour has this name in the scene (`red`), or the face itself (`R`).
pub(crate) fn face_of_colour(scene: &Scene, name: &str) -> Fallible<dryturn_cube::Face> {
    let colours = &scene.file().cube.colours;
    let called = |face: &dryturn_cube::Face| {
        format!("{:?}", colours.of(*face)).eq_ignore_ascii_case(name) || face.to_string() == name
    };
    match dryturn_cube::Face::ALL.into_iter().find(called) {
        Some(face) => Ok(face),
        None => fault(format!(
            "{name:?} is no colour of this cube: white, yellow, orange, red, green, blue, or a \
             face letter"
        )),
    }
}

/// Registers the types and what can be asked of their values.
pub(crate) fn register(engine: &mut Engine) {
    register_types(engine);
    engine.register_get("name", |s: &mut SceneValue| s.0.file().name.clone());

    engine.register_get("hidden", |r: &mut RigValue| -> rhai::Array {
        r.0.patches().hidden().into_iter().map(|f| f.name().into()).collect()
    });
    engine.register_get("trial", |r: &mut RigValue| r.0.trial() as i64);

    engine.register_get("net", |c: &mut CubeValue| {
        let colours = c.0.colours();
        net::draw(|f| colours[f.index()].letter())
    });
    engine.register_get("faces", |c: &mut CubeValue| net::write_faces(&c.0.colours()));
    engine.register_get("is_solved", |c: &mut CubeValue| c.0 == CubeState::SOLVED);
    engine.register_fn("==", |a: CubeValue, b: CubeValue| a.0 == b.0);
    engine.register_fn("!=", |a: CubeValue, b: CubeValue| a.0 != b.0);

    engine.register_get("readable", |r: &mut ReadingValue| r.0.state().is_some());
    engine.register_get("because", |r: &mut ReadingValue| match &r.0.outcome {
        Outcome::Read(_) => Dynamic::UNIT,
        Outcome::Unreadable { because, .. } => because.clone().into(),
    });
    engine.register_get("refusal", |r: &mut ReadingValue| shown(&r.0.refusal()));
    engine.register_get("cube", |r: &mut ReadingValue| -> Fallible<CubeValue> {
        match &r.0.outcome {
            Outcome::Read(state) => Ok(CubeValue(*state)),
            Outcome::Unreadable { because, .. } => {
                fault(format!("this reading has no cube: unreadable, because {because}"))
            }
        }
    });
    engine.register_get("net", |r: &mut ReadingValue| {
        net::draw(|f| r.0.colour(f).map_or('?', |face| face.letter()))
    });
    engine.register_get("probability", |r: &mut ReadingValue| -> Dynamic {
        r.0.probability.map_or(Dynamic::UNIT, Into::into)
    });
    engine.register_get("inferred", |r: &mut ReadingValue| {
        int(r.0.facelets.iter().filter(|f| f.source == Source::Inferred).count())
    });
    engine.register_fn("colour", |r: &mut ReadingValue, name: &str| -> Fallible<Dynamic> {
        let colour = r.0.colour(facelet(name)?);
        Ok(colour.map_or(Dynamic::UNIT, |face| face.to_string().into()))
    });

    engine.register_get("right", |s: &mut ScoreValue| s.0.right());
    engine.register_get("mistakes", |s: &mut ScoreValue| int(s.0.mistakes.len()));

    engine.register_get("notation", |p: &mut PlanValue| p.0.notation());
    engine.register_get("turns", |p: &mut PlanValue| int(p.0.turns().len()));
    engine.register_get("beats", |p: &mut PlanValue| int(p.0.beats.len()));

    register_pass(engine);
    register_drill(engine);
}

fn register_pass(engine: &mut Engine) {
    engine.register_get("verdict", |p: &mut PassValue| p.0.verdict.word().to_owned());
    engine.register_get("solved", |p: &mut PassValue| p.0.verdict == Verdict::Solved);
    engine.register_get("read_right", |p: &mut PassValue| p.0.score.right());
    engine.register_get("mistakes", |p: &mut PassValue| int(p.0.score.mistakes.len()));
    engine.register_get("scan", |p: &mut PassValue| {
        drop(stop::room(scan_bytes(&p.0.scan)));
        ScanValue(Arc::new(p.0.scan.clone()))
    });
    engine.register_get("reading", |p: &mut PassValue| ReadingValue(Arc::new(p.0.reading.clone())));
    engine.register_get("cube", |p: &mut PassValue| CubeValue(p.0.truth));
    engine.register_get("plan", |p: &mut PassValue| {
        p.0.plan.clone().map_or(Dynamic::UNIT, |plan| Dynamic::from(PlanValue(Arc::new(plan))))
    });
    engine.register_get("run", |p: &mut PassValue| -> Dynamic {
        let (Some(plan), Some(run)) = (&p.0.plan, &p.0.run) else { return Dynamic::UNIT };
        let (plan, run) = (Arc::new(plan.clone()), Arc::new(run.clone()));
        Dynamic::from(RunValue(Arc::new(Executed { scene: p.0.scene.clone(), plan, run })))
    });
    engine.register_get("time_ms", |p: &mut PassValue| {
        float_or_unit(p.0.run.as_ref().map(|run| run.total_s * 1e3))
    });
}

fn register_drill(engine: &mut Engine) {
    engine.register_get("trials", |d: &mut DrillValue| int(d.0.trials.len()));
    engine.register_get("read_right", |d: &mut DrillValue| int(d.0.right_reads()));
    let verdicts = [
        ("solved", Verdict::Solved),
        ("unreadable", Verdict::Unreadable),
        ("jammed", Verdict::Jammed),
        ("stopped", Verdict::Stopped),
        ("misread", Verdict::Misread),
        ("lost", Verdict::Lost),
    ];
    for (name, verdict) in verdicts {
        engine.register_get(name, move |d: &mut DrillValue| int(d.0.ended(verdict)));
    }
    engine.register_get("wrong_facelets", |d: &mut DrillValue| {
        int(d.0.trials.iter().map(|trial| trial.score.mistakes.len()).sum())
    });
    engine.register_get("plans", |d: &mut DrillValue| {
        int(d.0.count(|t| t.plan_solves_reading.is_some()))
    });
    engine.register_get("plans_that_solve", |d: &mut DrillValue| {
        int(d.0.count(|t| t.plan_solves_reading == Some(true)))
    });
    engine.register_fn("time_ms", |d: &mut DrillValue, part: Dynamic| -> Fallible<Dynamic> {
        Ok(float_or_unit(d.0.time_ms(share(&part)?)))
    });
    engine.register_fn(
        "cubes_confusing",
        |d: &mut DrillValue, one: &str, other: &str| -> Fallible<i64> {
            let (one, other) =
                (face_of_colour(&d.0.scene, one)?, face_of_colour(&d.0.scene, other)?);
            Ok(int(d.0.cubes_confusing(one, other)))
        },
    );
    engine.register_get("summary", |d: &mut DrillValue| summary(&d.0));
}

/// The drill's figures in a few lines of text.
fn summary(drill: &Drill) -> String {
    use dryturn_statistics::share_in_words;
    let share = |what: &str, count: usize| share_in_words(what, count, drill.trials.len(), 1);
    let time = |share: f64| {
        drill.time_ms(share).map_or_else(|| "none".to_owned(), |ms| format!("{ms:.0} ms"))
    };
    [
        share("read right", drill.right_reads()),
        share("solved", drill.ended(Verdict::Solved)),
        share("jammed", drill.ended(Verdict::Jammed)),
        share("stopped", drill.ended(Verdict::Stopped)),
        share("unreadable", drill.ended(Verdict::Unreadable)),
        format!(
            "execution time of completed runs: 5 % {}, median {}, 95 % {}, longest {}",
            time(0.05),
            time(0.5),
            time(0.95),
            time(1.0)
        ),
    ]
    .join("\n")
}
