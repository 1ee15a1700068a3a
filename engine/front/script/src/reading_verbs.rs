//! Verbs about calibrating and reading, and comparing ways to read.

use std::sync::Arc;

use dryturn_cube::CubeState;
use dryturn_handoff::{Content, Frame};
use dryturn_reading::{Calibration, LEFT_OUT_WAYS};
use dryturn_record::ledger::{CalibrateLine, Line, ReadLine, ReadersLine, centres_of};
use dryturn_record::{ClassesDocument, Exhibit};
use dryturn_scene::file::Method;
use dryturn_statistics::{Z_95, wilson};
use dryturn_studies::{ReaderTable, ReaderTally};
use dryturn_units::stop;
use rhai::{Array, Dynamic, Engine, Map, NativeCallContext};

use crate::handles::{
    CalibrationValue, CubeValue, ReadersValue, ReadingValue, RigValue, ScanValue, SceneValue,
};
use crate::optics_verbs::{face, shown};
use crate::session::{Fallible, Session, fault};
use crate::verbs::{CALIBRATION_BYTES, ok, within};

/// Most scans of one comparison.
const MAX_COMPARED: i64 = 10_000;
/// Most scans that are read together, or calibrated on.
const MAX_TOGETHER: usize = 100;

/// The items of a list that must all be of one kind.
fn list<T: Clone + Send + Sync + 'static>(items: Array, what: &str) -> Fallible<Vec<T>> {
    if items.is_empty() || items.len() > MAX_TOGETHER {
        let count = items.len();
        return fault(format!("a list of {count}: must be 1 to {MAX_TOGETHER} {what}"));
    }
    let own = |item: Dynamic| item.try_cast::<T>();
    match items.into_iter().map(own).collect() {
        Some(found) => Ok(found),
        None => fault(format!("this list must hold {what} only")),
    }
}

impl Session {
    fn calibrate_known(&self, rig: &RigValue, cubes: Array) -> Fallible<CalibrationValue> {
        let cubes: Vec<CubeValue> = list(cubes, "cubes")?;
        let cubes: Vec<CubeState> = cubes.into_iter().map(|cube| cube.0).collect();
        cubes.iter().try_for_each(|_| self.count_scan())?;
        let scans = rig.0.scan_known(&cubes);
        let learnt = Calibration::learn(rig.0.patches(), &scans, false);
        let in_scene = |error| format!("{}: {error}", rig.0.scene().source_name());
        let calibration = ok(learnt.map_err(in_scene))?;
        self.log(Line::Calibrate(CalibrateLine::of(&calibration, rig.0.trial(), scans.len())));
        Ok(CalibrationValue(self.made_on(rig, calibration, CALIBRATION_BYTES)))
    }

    fn read_together(
        &self,
        rig: &RigValue,
        calibration: &CalibrationValue,
        scans: Array,
    ) -> Fallible<ReadingValue> {
        let scans: Vec<ScanValue> = list(scans, "scans")?;
        let all = || scans.iter().flat_map(|scan| &scan.0.frames);
        drop(stop::room(all().map(|frame| frame.pixels.len()).sum()));
        let frames: Vec<Frame> = all().cloned().collect();
        let reading = ok(self.rehearser.read(&rig.0, &calibration.0, &frames))?;
        self.log(Line::Read(Box::new(ReadLine::of(&reading))));
        Ok(ReadingValue(Arc::new(reading)))
    }

    fn save_classes(
        &self,
        rig: &RigValue,
        calibration: &CalibrationValue,
        name: &str,
    ) -> Fallible<()> {
        let classes = calibration.0.pooled_classes(rig.0.patches());
        self.save(&format!("{name}.json"), Content::Text(ClassesDocument::of(&classes).text()))?;
        self.save(&format!("{name}.h"), Content::Text(classes.c_header()))
    }

    fn compare_readers(
        &self,
        name: &str,
        light: &SceneValue,
        scene: &SceneValue,
        scans: i64,
    ) -> Fallible<ReadersValue> {
        let scans = within("the number of scans", scans, 1..=MAX_COMPARED)? as usize;
        let progress = self.watched("readers", scans);
        let scenes = (&light.0, &scene.0);
        let table =
            match ReaderTable::of(&self.rehearser, name, scenes, &Method::ALL, scans, &progress) {
                Ok(Some(table)) => table,
                Ok(None) => return fault("stopped"),
                Err(error) => return fault(format!("{}: {error}", light.0.source_name())),
            };
        self.log(Line::Readers(ReadersLine::of(&table)));
        Ok(ReadersValue(Arc::new(table)))
    }

    fn show_readers(&self, title: &str, tables: Array) -> Fallible<()> {
        let tables: Vec<ReadersValue> = list(tables, "comparisons of readers")?;
        self.count_text(title)?;
        let tables = tables.into_iter().map(|table| table.0).collect();
        self.show(Exhibit::Readers(Arc::new((title.to_owned(), tables))));
        Ok(())
    }
}

/// The way of this name.
fn method(name: &str) -> Fallible<Method> {
    let named = |method: &Method| format!("{method:?}") == name;
    match Method::ALL.into_iter().find(named) {
        Some(method) => Ok(method),
        None => {
            let all: Vec<String> = Method::ALL.iter().map(|m| format!("{m:?}")).collect();
            fault(format!("{name:?} is no way to read: must be {}", all.join(", ")))
        }
    }
}

/// The place among the ways that cross-validation compares of the one of this name.
pub(crate) fn left_out_way(name: &str) -> Fallible<usize> {
    let wanted = method(name)?;
    match LEFT_OUT_WAYS.iter().position(|way| *way == wanted) {
        Some(way) => Ok(way),
        None => fault(format!("{name} is not cross-validated: it looks at whole cubes")),
    }
}

/// How many sightings of two colours, given as the letters of their faces, a way took for
/// the other one.
fn confused(
    calibration: &CalibrationValue,
    name: &str,
    (one, other): (&str, &str),
) -> Fallible<i64> {
    let checked = calibration.0.cross_validation();
    let table = match method(name)? {
        Method::Nearest => &checked.nearest_confusion,
        Method::Gaussian => &checked.confusion,
        _ => return fault(format!("{name:?} keeps no pairs: must be Nearest or Gaussian")),
    };
    let (a, b) = (face(one)?.index(), face(other)?.index());
    if a == b {
        return fault(format!("{one:?} twice: must be two faces"));
    }
    Ok((table[a][b] + table[b][a]) as i64)
}

fn tally_of<'a>(table: &'a ReaderTable, name: &str) -> Fallible<&'a ReaderTally> {
    let wanted = method(name)?;
    match table.readers.iter().find(|tally| tally.method == wanted) {
        Some(tally) => Ok(tally),
        None => fault(format!("{name} was not compared")),
    }
}

/// The figures of a tally.
fn tally_map(tally: &ReaderTally) -> Map {
    let (wilson_upper, exact_upper) = tally.wrong_at_most();
    let (claims, claims_right) = tally.claiming(0.99);
    let int = |value: usize| Dynamic::from_int(value as i64);
    [
        ("right", int(tally.right)),
        ("wrong", int(tally.wrong)),
        ("refused", int(tally.refused)),
        ("facelets", int(tally.facelets)),
        ("facelets_right", int(tally.facelets_right)),
        ("wrong_high", Dynamic::from_float(wilson_upper)),
        ("wrong_upper", Dynamic::from_float(exact_upper)),
        ("brier", tally.brier().map_or(Dynamic::UNIT, Dynamic::from_float)),
        ("claims_99", int(claims)),
        ("claims_99_right", int(claims_right)),
    ]
    .into_iter()
    .map(|(key, value)| (key.into(), value))
    .collect()
}

/// Sums over several tables.
fn over(tables: Array, name: &str) -> Fallible<Map> {
    let tables: Vec<ReadersValue> = list(tables, "comparisons of readers")?;
    let tallies =
        tables.iter().map(|t| tally_of(&t.0, name)).collect::<Fallible<Vec<&ReaderTally>>>()?;
    Ok(ReaderTally::sum(tallies.into_iter()).map(|sum| tally_map(&sum)).unwrap_or_default())
}

/// Registers the verbs.
pub(crate) fn register(engine: &mut Engine, session: &Arc<Session>) {
    let s = session.clone();
    engine.register_fn(
        "calibrate",
        move |context: NativeCallContext, rig: RigValue, cubes: Array| {
            s.begin(&context, Some(rig.0.trial()));
            s.calibrate_known(&rig, cubes)
        },
    );
    let s = session.clone();
    engine.register_fn(
        "read",
        move |context: NativeCallContext,
              rig: RigValue,
              calibration: CalibrationValue,
              scans: Array| {
            s.begin(&context, Some(rig.0.trial()));
            s.read_together(&rig, &calibration, scans)
        },
    );
    let s = session.clone();
    engine.register_fn(
        "save_classes",
        move |context: NativeCallContext,
              rig: RigValue,
              calibration: CalibrationValue,
              name: &str| {
            s.begin(&context, Some(rig.0.trial()));
            s.save_classes(&rig, &calibration, name)
        },
    );
    let s = session.clone();
    engine.register_fn(
        "compare_readers",
        move |context: NativeCallContext,
              name: &str,
              light: SceneValue,
              scene: SceneValue,
              scans: i64| {
            s.begin(&context, None);
            s.compare_readers(name, &light, &scene, scans)
        },
    );
    let s = session.clone();
    engine.register_fn("show_readers", move |title: &str, tables: Array| {
        s.show_readers(title, tables)
    });
    engine.register_fn("tally", |table: ReadersValue, name: &str| -> Fallible<Map> {
        Ok(tally_map(tally_of(&table.0, name)?))
    });
    engine.register_fn("tally", |tables: Array, name: &str| over(tables, name));
    engine.register_get("odds", |r: &mut ReadingValue| -> Dynamic {
        r.0.runner_up.map_or(Dynamic::UNIT, |next| Dynamic::from_float(next.log_odds))
    });
    engine.register_get("without_calibration", |r: &mut ReadingValue| r.0.without_calibration);
    engine.register_get("steps", |r: &mut ReadingValue| r.0.steps as i64);
    engine.register_get("centres", |r: &mut ReadingValue| shown(&centres_of(&r.0)));
    engine.register_fn("found", |r: ReadingValue, camera: i64| -> Fallible<Dynamic> {
        let count = r.0.cameras.len() as i64;
        let camera = within("the camera's number", camera, 0..=count - 1)? as usize;
        Ok(shown(&r.0.cameras[camera]))
    });
    engine.register_get("shrinkage", |c: &mut CalibrationValue| c.0.shrinkage_share());
    engine.register_get("left_out", |c: &mut CalibrationValue| {
        c.0.cross_validation().sightings as i64
    });
    engine.register_fn("wrong_left_out", |c: CalibrationValue, name: &str| -> Fallible<i64> {
        Ok(c.0.cross_validation().wrong[left_out_way(name)?] as i64)
    });
    engine.register_fn("left_out_interval", |c: CalibrationValue, name: &str| -> Fallible<Array> {
        let checked = c.0.cross_validation();
        let (low, high) = wilson(checked.wrong[left_out_way(name)?], checked.sightings, Z_95);
        Ok(vec![low.into(), high.into()])
    });
    engine.register_fn(
        "confused_left_out",
        |c: CalibrationValue, name: &str, one: &str, other: &str| -> Fallible<i64> {
            confused(&c, name, (one, other))
        },
    );
}
