//! The verbs: what a script can do.

use std::sync::Arc;

use dryturn_cube::{CubeState, Stickering, net, notation};
use dryturn_handoff::{Content, PixelMap};
use dryturn_planning::{DEFAULT_NODE_BUDGET, Objective};
use dryturn_record::Exhibit;
use dryturn_record::ledger::{
    CalibrateLine, DrillLine, ExecuteLine, JudgeLine, Line, PlanLine, ReadLine, ScanLine,
    SceneLine, ScoreLine, TrialLine,
};
use dryturn_rehearsal::{Pass, Score};
use dryturn_scene::{Files, Scene};
use dryturn_studies::Drill;
use dryturn_units::stop;
use rhai::{Dynamic, Engine, NativeCallContext};
use serde_json::Value as Json;

use crate::expectations::number;
use crate::handles::{
    CalibrationValue, CubeValue, DrillValue, PassValue, PlanValue, ReadingValue, RigValue,
    ScanValue, SceneValue, ScoreValue, scan_bytes,
};
use crate::session::{Fallible, Host, Session, fault};
use crate::texts::text_of;

/// Most trials of one drill.
const MAX_TRIALS: i64 = 10_000;
/// Memory of a saved scan's pixel: picture, label and depth.
const SAVED_BYTES: usize = 6;
/// What a pass holds besides its scan: a run's trace above all; and what a calibration does.
const PASS_BYTES: usize = 2 << 20;
pub(crate) const CALIBRATION_BYTES: usize = 1 << 20;
/// Most nodes of one plan's search.
pub(crate) const MAX_NODES: i64 = 1_000_000_000;

pub(crate) fn ok<T, E: ToString>(result: Result<T, E>) -> Fallible<T> {
    result.or_else(fault)
}

pub(crate) fn within(
    what: &str,
    value: i64,
    range: std::ops::RangeInclusive<i64>,
) -> Fallible<u64> {
    if range.contains(&value) {
        return Ok(value as u64);
    }
    fault(format!("{what} is {value}: must be {} to {}", range.start(), range.end()))
}

fn trial_number(value: i64) -> Fallible<u64> {
    within("the trial's number", value, 0..=i64::MAX)
}

/// A script's value as JSON, for a field of a scene.
fn to_json(value: &Dynamic) -> Fallible<Json> {
    if let Ok(int) = value.as_int() {
        Ok(Json::from(int))
    } else if let Ok(float) = value.as_float() {
        serde_json::Number::from_f64(float).map_or_else(
            || fault(format!("{float} is no number that a field can hold")),
            |n| Ok(Json::Number(n)),
        )
    } else if let Ok(flag) = value.as_bool() {
        Ok(Json::Bool(flag))
    } else if value.is_string() {
        Ok(Json::String(value.to_string()))
    } else if let Some(list) = value.read_lock::<rhai::Array>() {
        list.iter().map(to_json).collect::<Fallible<Vec<Json>>>().map(Json::Array)
    } else {
        fault(format!(
            "a field holds a number, text, true, false or a list, not {}",
            value.type_name()
        ))
    }
}

/// The files that a scene names, relative to its own folder.
struct BesideScene {
    host: Arc<dyn Host>,
    scene: String,
}

impl Files for BesideScene {
    fn text(&self, path: &str) -> Result<String, String> {
        if path.starts_with(['/', '\\']) {
            return Err(format!("{path}: an absolute path: must be relative to the scene"));
        }
        let folder = self.scene.rsplit_once('/').map_or("", |(folder, _)| folder);
        let path = if folder.is_empty() { path.to_owned() } else { format!("{folder}/{path}") };
        self.host.read_text(&path)
    }
}

impl Session {
    fn load_scene(&self, path: &str) -> Fallible<SceneValue> {
        let text = ok(self.host.read_text(path))?;
        let files = BesideScene { host: self.host.clone(), scene: path.to_owned() };
        let scene = ok(Scene::load(&text, path, Arc::new(files)).map_err(|e| e.discreet()))?;
        self.log(Line::Scene(SceneLine::of(&scene)));
        Ok(SceneValue(Arc::new(scene)))
    }

    fn change(&self, scene: &SceneValue, path: &str, value: &Dynamic) -> Fallible<SceneValue> {
        // No field holds more than a text can.
        text_of(value)?;
        let scene = ok(scene.0.with(path, to_json(value)?))?;
        self.log(Line::Scene(SceneLine::of(&scene)));
        Ok(SceneValue(Arc::new(scene)))
    }

    /// The scene with other pixels on the same sensors.
    fn resize(&self, scene: &SceneValue, width: i64, height: i64) -> Fallible<SceneValue> {
        let side = |what, value| within(what, value, 64..=4096).map(|side| side as u32);
        let size = [side("the width", width)?, side("the height", height)?];
        let mut file = scene.0.file().clone();
        file.cameras.iter_mut().for_each(|camera| *camera = camera.with_pixels(size));
        let scene = ok(scene.0.with_file(file))?;
        self.log(Line::Scene(SceneLine::of(&scene)));
        Ok(SceneValue(Arc::new(scene)))
    }

    fn build(&self, scene: &SceneValue, trial: i64) -> Fallible<RigValue> {
        Ok(RigValue(self.made(self.rehearser.build(&scene.0, trial_number(trial)?))))
    }

    fn calibrate(&self, rig: &RigValue) -> Fallible<CalibrationValue> {
        let in_scene = |error| format!("{}: {error}", rig.0.scene().source_name());
        let calibration = ok(rig.0.calibrate().map_err(in_scene))?;
        let scans = dryturn_cube::MOUNTINGS.len();
        self.log(Line::Calibrate(CalibrateLine::of(&calibration, rig.0.trial(), scans)));
        Ok(CalibrationValue(self.made_on(rig, calibration, CALIBRATION_BYTES)))
    }

    fn scan(&self, rig: &RigValue, cube: &CubeValue) -> Fallible<ScanValue> {
        self.count_scan()?;
        let scan = rig.0.scan(&Stickering::from(&cube.0));
        let own = scan_bytes(&scan);
        let scan = self.made_on(rig, scan, own);
        self.log(Line::Scan(ScanLine::of(&scan, rig.0.trial())));
        Ok(ScanValue(scan))
    }

    fn read(
        &self,
        rig: &RigValue,
        calibration: &CalibrationValue,
        scan: &ScanValue,
    ) -> Fallible<ReadingValue> {
        let reading = ok(self.rehearser.read(&rig.0, &calibration.0, &scan.0.frames))?;
        self.log(Line::Read(Box::new(ReadLine::of(&reading))));
        Ok(ReadingValue(Arc::new(reading)))
    }

    fn score(&self, reading: &ReadingValue, cube: &CubeValue) -> ScoreValue {
        let score = Score::of(&reading.0, &cube.0);
        self.log(Line::Score(ScoreLine::of(&score, &cube.0)));
        ScoreValue(Arc::new(score))
    }

    fn plan(&self, cube: &CubeValue, nodes: i64) -> Fallible<PlanValue> {
        let nodes = within("the node budget", nodes, 1..=MAX_NODES)?;
        self.plan_for(Objective::FewestTurns, cube, nodes)
    }

    fn plan_time(&self, rig: &RigValue, cube: &CubeValue, nodes: i64) -> Fallible<PlanValue> {
        let nodes = within("the node budget", nodes, 1..=MAX_NODES)?;
        self.plan_for(self.rehearser.least_time(rig.0.scene()), cube, nodes)
    }

    fn plan_for(&self, objective: Objective, cube: &CubeValue, nodes: u64) -> Fallible<PlanValue> {
        let planned = self.rehearser.planner().plan(&cube.0, objective, nodes);
        self.log(Line::Plan(PlanLine::of(&planned.plan, &cube.0)));
        Ok(PlanValue(Arc::new(planned.plan)))
    }

    fn textbook_plan(&self, cube: &CubeValue) -> PlanValue {
        let plan = self.rehearser.planner().textbook(&cube.0);
        self.log(Line::Plan(PlanLine::of(&plan, &cube.0)));
        PlanValue(Arc::new(plan))
    }

    fn rehearse(
        &self,
        rig: &RigValue,
        calibration: &CalibrationValue,
        cube: &CubeValue,
    ) -> Fallible<PassValue> {
        self.count_scan()?;
        let pass = ok(self.rehearser.rehearse(&rig.0, &calibration.0, &cube.0))?;
        let own = scan_bytes(&pass.scan) + PASS_BYTES;
        let pass = self.made_on(rig, pass, own);
        self.log_pass(&pass);
        self.show(Exhibit::Pass(pass.clone()));
        Ok(PassValue(pass))
    }

    /// One ledger line for each stage of a pass.
    fn log_pass(&self, pass: &Pass) {
        self.log(Line::Scan(ScanLine::of(&pass.scan, pass.trial)));
        self.log(Line::Read(Box::new(ReadLine::of(&pass.reading))));
        self.log(Line::Score(ScoreLine::of(&pass.score, &pass.truth)));
        if let (Some(plan), Some(state)) = (&pass.plan, pass.reading.state()) {
            self.log(Line::Plan(PlanLine::of(plan, state)));
        }
        if let Some(run) = &pass.run {
            self.log(Line::Execute(Box::new(ExecuteLine::of(run, &pass.scene, pass.trial))));
        }
        self.log(Line::Judge(JudgeLine { trial: pass.trial, verdict: pass.verdict }));
    }

    fn whole_pass(&self, scene: &SceneValue, trial: i64) -> Fallible<PassValue> {
        let rig = self.build(scene, trial)?;
        let calibration = self.calibrate(&rig)?;
        let cube = CubeValue(self.rehearser.random_cube(rig.0.trial()));
        self.rehearse(&rig, &calibration, &cube)
    }

    fn drill(
        &self,
        scene: &SceneValue,
        count: i64,
        calibrated_in: &SceneValue,
    ) -> Fallible<DrillValue> {
        let count = within("the number of trials", count, 1..=MAX_TRIALS)? as usize;
        let progress = self.watched("drill", count);
        let drill = Drill::of(&self.rehearser, &scene.0, &calibrated_in.0, count, &progress);
        let drill = match drill {
            Ok(Some(drill)) => drill,
            Ok(None) => return fault("stopped"),
            Err(error) => {
                return fault(format!("{}: {error}", calibrated_in.0.source_name()));
            }
        };
        let drill = self.made(drill);
        for trial in &drill.trials {
            self.log(Line::Trial(Box::new(TrialLine::of(trial))));
        }
        self.log(Line::Drill(Box::new(DrillLine::of(&drill))));
        self.budget.keeps();
        self.show(Exhibit::Drill(drill.clone()));
        Ok(DrillValue(drill))
    }

    /// A setting of the default's kind, or the default.
    fn given(&self, name: &str, default: Dynamic) -> Fallible<Dynamic> {
        let Some(text) = self.setting(name) else { return Ok(default) };
        let (value, wanted) = if default.is_int() {
            (text.parse().ok().map(Dynamic::from_int), "a whole number")
        } else if default.is_float() {
            let number = text.parse().ok().filter(|v: &f64| v.is_finite());
            (number.map(Dynamic::from_float), "a number")
        } else if default.is_bool() {
            (text.parse().ok().map(Dynamic::from_bool), "true or false")
        } else if default.is_string() {
            (Some(text.to_owned().into()), "text")
        } else {
            return fault(format!("the default of setting {name} must be a number, flag or text"));
        };
        match value {
            Some(value) => Ok(value),
            None => fault(format!("setting {name} is {text:?}: must be {wanted}")),
        }
    }

    fn save_scan(&self, scan: &ScanValue, name: &str) -> Fallible<()> {
        for (frame, labels) in scan.0.frames.iter().zip(&scan.0.labels) {
            drop(stop::room(SAVED_BYTES * labels.codes.len()));
            let base = format!("{name}-{}", frame.camera);
            self.save(&format!("{base}.png"), Content::Frame(frame.clone()))?;
            self.save(&format!("{base}-labels.png"), Content::Map(PixelMap::codes(labels)))?;
            self.save(&format!("{base}-depth.png"), Content::Map(PixelMap::depth(labels)))?;
        }
        Ok(())
    }
}

/// Registers every verb.
pub(crate) fn register(engine: &mut Engine, session: &Arc<Session>) {
    register_cube(engine, session);
    register_stages(engine, session);
    let s = session.clone();
    engine.register_fn("scene", move |context: NativeCallContext, path: &str| {
        s.begin(&context, None);
        s.load_scene(path)
    });
    let s = session.clone();
    engine.register_fn(
        "changed",
        move |context: NativeCallContext, scene: SceneValue, path: &str, value: Dynamic| {
            s.begin(&context, None);
            s.change(&scene, path, &value)
        },
    );
    let s = session.clone();
    engine.register_fn(
        "resized",
        move |context: NativeCallContext, scene: SceneValue, width: i64, height: i64| {
            s.begin(&context, None);
            s.resize(&scene, width, height)
        },
    );
    let s = session.clone();
    engine.register_fn("rehearse", move |context: NativeCallContext, scene: SceneValue| {
        s.begin(&context, None);
        s.whole_pass(&scene, 0)
    });
    let s = session.clone();
    engine.register_fn(
        "rehearse",
        move |context: NativeCallContext, scene: SceneValue, trial: i64| {
            s.begin(&context, u64::try_from(trial).ok());
            s.whole_pass(&scene, trial)
        },
    );
    let s = session.clone();
    engine.register_fn(
        "drill",
        move |context: NativeCallContext, scene: SceneValue, count: i64| {
            s.begin(&context, None);
            s.drill(&scene, count, &scene)
        },
    );
    let s = session.clone();
    engine.register_fn(
        "drill",
        move |context: NativeCallContext, scene: SceneValue, count: i64, light: SceneValue| {
            s.begin(&context, None);
            s.drill(&scene, count, &light)
        },
    );
    let s = session.clone();
    engine.register_fn("setting", move |name: &str, default: Dynamic| s.given(name, default));
    let s = session.clone();
    engine.register_fn("note", move |value: Dynamic| s.note(&text_of(&value)?));
    // The root is exact on every machine, unlike the language's own set of maths.
    engine.register_fn("sqrt", |value: Dynamic| -> Fallible<f64> {
        match number(&value)? {
            root if root >= 0.0 => Ok(root.sqrt()),
            below => fault(format!("sqrt of {below}: it must not be below 0")),
        }
    });
    engine.register_fn("rounded", |value: Dynamic, decimals: i64| -> Fallible<String> {
        let decimals = within("the number of decimals", decimals, 0..=9)? as usize;
        Ok(format!("{:.decimals$}", number(&value)?))
    });
    let s = session.clone();
    engine.register_fn(
        "save_scan",
        move |context: NativeCallContext, scan: ScanValue, name: &str| {
            s.begin(&context, None);
            s.save_scan(&scan, name)
        },
    );
    let s = session.clone();
    engine.register_fn("save_text", move |name: &str, text: &str| {
        s.save(name, Content::Text(text.to_owned()))
    });
    let s = session.clone();
    engine.register_fn(
        "save_calibration",
        move |calibration: CalibrationValue, name: &str| -> Fallible<()> {
            let text = ok(ron::ser::to_string(&*calibration.0))?;
            s.save(name, Content::Text(text))
        },
    );
}

fn register_cube(engine: &mut Engine, session: &Arc<Session>) {
    engine.register_fn("solved", || CubeValue(CubeState::SOLVED));
    let s = session.clone();
    engine.register_fn("random_cube", move |trial: i64| -> Fallible<CubeValue> {
        Ok(CubeValue(s.rehearser.random_cube(trial_number(trial)?)))
    });
    engine.register_fn("cube_after", |turns: &str| -> Fallible<CubeValue> {
        Ok(CubeValue(CubeState::SOLVED.turned_by(&ok(notation::parse(turns))?)))
    });
    engine.register_fn("cube_of", |faces: &str| -> Fallible<CubeValue> {
        let colours = ok(net::parse_faces(faces))?;
        Ok(CubeValue(ok(CubeState::from_colours(&colours))?))
    });
    engine.register_fn("turned", |cube: CubeValue, turns: &str| -> Fallible<CubeValue> {
        Ok(CubeValue(cube.0.turned_by(&ok(notation::parse(turns))?)))
    });
}

fn register_stages(engine: &mut Engine, session: &Arc<Session>) {
    let s = session.clone();
    engine.register_fn("build", move |context: NativeCallContext, scene: SceneValue| {
        s.begin(&context, None);
        s.build(&scene, 0)
    });
    let s = session.clone();
    engine.register_fn(
        "build",
        move |context: NativeCallContext, scene: SceneValue, trial: i64| {
            s.begin(&context, u64::try_from(trial).ok());
            s.build(&scene, trial)
        },
    );
    engine.register_fn("moved_to", |rig: RigValue, scene: SceneValue| {
        RigValue(Arc::new(rig.0.moved_to(&scene.0)))
    });
    let s = session.clone();
    engine.register_fn("calibrate", move |context: NativeCallContext, rig: RigValue| {
        s.begin(&context, Some(rig.0.trial()));
        s.calibrate(&rig)
    });
    let s = session.clone();
    engine.register_fn(
        "scan",
        move |context: NativeCallContext, rig: RigValue, cube: CubeValue| {
            s.begin(&context, Some(rig.0.trial()));
            s.scan(&rig, &cube)
        },
    );
    let s = session.clone();
    engine.register_fn(
        "read",
        move |context: NativeCallContext,
              rig: RigValue,
              calibration: CalibrationValue,
              scan: ScanValue| {
            s.begin(&context, Some(rig.0.trial()));
            s.read(&rig, &calibration, &scan)
        },
    );
    let s = session.clone();
    engine.register_fn("score", move |reading: ReadingValue, cube: CubeValue| {
        s.score(&reading, &cube)
    });
    let s = session.clone();
    engine.register_fn("plan", move |context: NativeCallContext, cube: CubeValue| {
        s.begin(&context, None);
        s.plan(&cube, DEFAULT_NODE_BUDGET as i64)
    });
    let s = session.clone();
    engine.register_fn("plan", move |context: NativeCallContext, cube: CubeValue, nodes: i64| {
        s.begin(&context, None);
        s.plan(&cube, nodes)
    });
    let s = session.clone();
    engine.register_fn(
        "plan",
        move |context: NativeCallContext, rig: RigValue, cube: CubeValue| {
            s.begin(&context, Some(rig.0.trial()));
            s.plan_time(&rig, &cube, DEFAULT_NODE_BUDGET as i64)
        },
    );
    let s = session.clone();
    engine.register_fn(
        "plan",
        move |context: NativeCallContext, rig: RigValue, cube: CubeValue, nodes: i64| {
            s.begin(&context, Some(rig.0.trial()));
            s.plan_time(&rig, &cube, nodes)
        },
    );
    let s = session.clone();
    engine.register_fn("textbook_plan", move |context: NativeCallContext, cube: CubeValue| {
        s.begin(&context, None);
        s.textbook_plan(&cube)
    });
    let s = session.clone();
    engine.register_fn(
        "rehearse",
        move |context: NativeCallContext,
              rig: RigValue,
              calibration: CalibrationValue,
              cube: CubeValue| {
            s.begin(&context, Some(rig.0.trial()));
            s.rehearse(&rig, &calibration, &cube)
        },
    );
}
