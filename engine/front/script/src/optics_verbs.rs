//! Verbs about pictures: turned layers, labels, surveys, labelled sets, contact sheets.

use std::collections::BTreeMap;
use std::sync::Arc;

use dryturn_cube::{Face, Stickering};
use dryturn_handoff::Content;
use dryturn_record::ledger::{Line, ScanLine, SetMade};
use dryturn_record::{Exhibit, FaceletRecord, MarginRecord, SurveyRecord};
use dryturn_scene::{Course, Posture};
use dryturn_studies::sets::{
    SampleRecord, ScanRecord, SetRequest, SetScan, finished_files, variation,
};
use dryturn_studies::{Surveyed, small};
use rhai::{Array, Dynamic, Engine, Map, NativeCallContext};
use serde::Serialize;
use serde_json::Value as Json;

use crate::expectations::number;
use crate::handles::{
    CubeValue, RigValue, ScanValue, SceneValue, SurveyValue, face_of_colour, facelet, scan_bytes,
};
use crate::reading_verbs::left_out_way;
use crate::session::{Fallible, Session, fault};
use crate::verbs::{ok, within};

/// Most rigs that one survey builds.
const MAX_DRAWS: i64 = 100_000;
/// Most scans of one set; the command makes larger ones.
const MAX_SET_SCANS: i64 = 150;
/// They are kept until the script has ended: so many pixels take 600 MB.
const MAX_SET_PX: u64 = 100_000_000;
/// Most pictures on one contact sheet.
const MAX_SHEET: usize = 96;
/// Fastest that a face turns, degrees a second.
const MAX_SPEED_DEG_PER_S: f64 = 20_000.0;

/// JSON as a script's value.
pub(crate) fn from_json(json: &Json) -> Dynamic {
    match json {
        Json::Null => Dynamic::UNIT,
        Json::Bool(flag) => Dynamic::from_bool(*flag),
        Json::String(text) => text.clone().into(),
        Json::Number(n) => match n.as_i64() {
            Some(int) => Dynamic::from_int(int),
            None => Dynamic::from_float(n.as_f64().unwrap_or(f64::NAN)),
        },
        Json::Array(list) => list.iter().map(from_json).collect::<Array>().into(),
        Json::Object(fields) => fields
            .iter()
            .map(|(key, v)| (key.as_str().into(), from_json(v)))
            .collect::<Map>()
            .into(),
    }
}

/// A record as a value of the script.
pub(crate) fn shown(record: &impl Serialize) -> Dynamic {
    from_json(&dryturn_record::json(record))
}

pub(crate) fn face(letter: &str) -> Fallible<Face> {
    let mut letters = letter.chars();
    match (letters.next().and_then(Face::from_letter), letters.next()) {
        (Some(face), None) => Ok(face),
        _ => fault(format!("{letter:?} is no face: must be U, R, F, D, L or B")),
    }
}

fn limited(what: &str, value: &Dynamic, most: f64) -> Fallible<f64> {
    let value = number(value)?;
    if value.abs() <= most {
        return Ok(value);
    }
    fault(format!("{what} is {value}: must be −{most} to {most}"))
}

/// A number field of an options map, if it is there.
pub(crate) fn option(
    options: &Map,
    key: &str,
    range: core::ops::RangeInclusive<f64>,
) -> Fallible<Option<f64>> {
    let Some(value) = options.get(key) else { return Ok(None) };
    let value = number(value)?;
    if range.contains(&value) {
        return Ok(Some(value));
    }
    fault(format!("{key} is {value}: must be {} to {}", range.start(), range.end()))
}

impl Session {
    fn scan_turned(
        &self,
        rig: &RigValue,
        cube: &CubeValue,
        face: Face,
        course: Course,
    ) -> Fallible<ScanValue> {
        self.count_scan()?;
        let scan = rig.0.scan_turned(&Stickering::from(&cube.0), &Posture::of(face, course));
        let own = scan_bytes(&scan);
        let scan = self.made_on(rig, scan, own);
        self.log(Line::Scan(ScanLine::of(&scan, rig.0.trial())));
        Ok(ScanValue(scan))
    }

    fn survey(&self, scene: &SceneValue, draws: i64) -> Fallible<SurveyValue> {
        let draws = within("the number of rigs", draws, 0..=MAX_DRAWS)? as usize;
        let survey = self.made(Surveyed::of(&self.rehearser, &scene.0, draws));
        self.log(Line::Survey(Box::new(SurveyRecord::of(&survey))));
        self.show(Exhibit::Survey(survey.clone()));
        Ok(SurveyValue(survey))
    }

    fn labelled_set(
        &self,
        scene: &SceneValue,
        scans: i64,
        options: &Map,
        name: &str,
    ) -> Fallible<()> {
        const KNOWN: [&str; 4] = ["vary", "turned_share", "validation_share", "scrambles"];
        if let Some(key) = options.keys().find(|key| !KNOWN.contains(&key.as_str())) {
            return fault(format!("{key:?} is no option of a set: {}", KNOWN.join(", ")));
        }
        let scans = within("the number of scans", scans, 1..=MAX_SET_SCANS)? as usize;
        let vary = match options.get("vary").map(|v| v.clone().into_typed_array::<String>()) {
            None => Vec::new(),
            Some(Ok(list)) => {
                ok(list.iter().map(|text| variation(text)).collect::<Result<_, _>>())?
            }
            Some(Err(_)) => {
                return fault("vary must be a list of texts FIELD=LOW..HIGH or FIELD=A,B,…");
            }
        };
        let share = |key| option(options, key, 0.0..=1.0);
        let scrambles = option(options, "scrambles", 1.0..=1e5)?;
        let request = SetRequest {
            scene: scene.0.clone(),
            scans,
            scrambles: scrambles.map_or(scans as u64, |v| v as u64),
            vary,
            turned_share: share("turned_share")?.unwrap_or(0.0),
            validation_share: share("validation_share")?.unwrap_or(0.2),
        };
        ok(request.check(&self.rehearser))?;
        let pixels = scans as u64 * scene.0.file().scan_pixels();
        if pixels > MAX_SET_PX {
            return fault(format!(
                "{scans} scans have {pixels} pixels, and a script's set at most {MAX_SET_PX}: \
                 `dryturn frames` makes larger ones"
            ));
        }
        let mut records = Vec::new();
        for scan in 0..scans {
            self.count_scan()?;
            let made = ok(SetScan::of(&self.rehearser, &request, scan))?;
            for (file, content) in made.files() {
                self.save(&format!("{name}/{file}"), content)?;
            }
            // Digests of the encoded files are the command's: a script writes no bytes.
            records.push(ScanRecord::of(&made, &BTreeMap::new()));
            self.host.progress("labelled set", scan + 1, scans);
        }
        let seed = self.rehearser.seed().value();
        for (file, text) in finished_files(&request, seed, &records) {
            self.save(&format!("{name}/{file}"), Content::Text(text))?;
        }
        self.log(Line::LabelledSet(SetMade { name: name.to_owned(), asked: request.asked(seed) }));
        Ok(())
    }

    fn contact_sheet(&self, scans: &Array, title: &str) -> Fallible<()> {
        self.count_text(title)?;
        let mut frames = Vec::new();
        for scan in scans {
            match scan.clone().try_cast::<ScanValue>() {
                Some(scan) => frames.extend(scan.0.frames.iter().map(small)),
                None => {
                    return fault(format!("a contact sheet takes scans, not {}", scan.type_name()));
                }
            }
            if frames.len() > MAX_SHEET {
                return fault(format!(
                    "more than {MAX_SHEET} pictures on a contact sheet, the most allowed"
                ));
            }
        }
        self.show(Exhibit::Sheet(Arc::new((title.to_owned(), frames))));
        Ok(())
    }
}

/// What a scan's labels say of a facelet in a camera.
fn seen(scan: &ScanValue, camera: &str, name: &str) -> Fallible<Dynamic> {
    let facelet = facelet(name)?;
    let Some(number) = scan.0.frames.iter().position(|frame| frame.camera == camera) else {
        let names: Vec<&str> = scan.0.frames.iter().map(|f| f.camera.as_str()).collect();
        return fault(format!("{camera:?} is no camera of this scan: {}", names.join(", ")));
    };
    let Some(labels) = scan.0.labels.get(number) else {
        return fault("this scan has no labels");
    };
    let label = labels.facelets.iter().find(|label| label.facelet == facelet);
    Ok(label.map_or(Dynamic::UNIT, |label| shown(&SampleRecord::of(label, label.colour))))
}

fn surveyed(survey: &SurveyValue, camera: &str, name: &str) -> Fallible<Dynamic> {
    let facelet = facelet(name)?;
    let cameras = &survey.0.survey.cameras;
    if !cameras.iter().any(|known| known.name == camera) {
        let names: Vec<&str> = cameras.iter().map(|c| c.name.as_str()).collect();
        return fault(format!("{camera:?} is no camera of this survey: {}", names.join(", ")));
    }
    let found = survey.0.facelet(camera, facelet);
    Ok(found.map_or(Dynamic::UNIT, |f| shown(&FaceletRecord::of(&survey.0, f))))
}

/// The margin of two colours of a survey.
fn margin(survey: &SurveyValue, one: &str, other: &str) -> Fallible<Dynamic> {
    let [a, b] = [one, other].map(|name| face_of_colour(&survey.0.scene, name));
    let (a, b) = (a?, b?);
    if a == b {
        return fault(format!("{one:?} and {other:?} are one colour: a margin is between two"));
    }
    let found = survey.0.margin(a, b);
    Ok(found.map_or(Dynamic::UNIT, |margin| shown(&MarginRecord::of(&survey.0, margin))))
}

/// Share of left-out sightings that a way is expected to take for another colour.
fn expected_wrong(survey: &SurveyValue, way: &str) -> Fallible<Dynamic> {
    let way = left_out_way(way)?;
    let margins = survey.0.margins.as_ref();
    Ok(margins.map_or(Dynamic::UNIT, |margins| margins.expected[way].wrong_share.into()))
}

/// Registers the verbs.
pub(crate) fn register(engine: &mut Engine, session: &Arc<Session>) {
    let s = session.clone();
    engine.register_fn(
        "scan_turned",
        move |context: NativeCallContext,
              rig: RigValue,
              cube: CubeValue,
              turned: &str,
              angle_deg: Dynamic| {
            s.begin(&context, Some(rig.0.trial()));
            let angle_deg = limited("the angle", &angle_deg, 360.0)?;
            s.scan_turned(&rig, &cube, face(turned)?, Course::at(angle_deg))
        },
    );
    let s = session.clone();
    engine.register_fn(
        "scan_turning",
        move |context: NativeCallContext,
              rig: RigValue,
              cube: CubeValue,
              turned: &str,
              from_deg: Dynamic,
              speed: Dynamic| {
            s.begin(&context, Some(rig.0.trial()));
            let from_deg = limited("the angle", &from_deg, 360.0)?;
            let speed = limited("the speed", &speed, MAX_SPEED_DEG_PER_S)?;
            s.scan_turned(&rig, &cube, face(turned)?, Course::turning(from_deg, speed))
        },
    );
    engine
        .register_fn("seen", |scan: ScanValue, camera: &str, name: &str| seen(&scan, camera, name));
    let s = session.clone();
    engine.register_fn("survey", move |context: NativeCallContext, scene: SceneValue| {
        s.begin(&context, None);
        s.survey(&scene, 0)
    });
    let s = session.clone();
    engine.register_fn(
        "survey",
        move |context: NativeCallContext, scene: SceneValue, draws: i64| {
            s.begin(&context, None);
            s.survey(&scene, draws)
        },
    );
    engine.register_fn("surveyed", |survey: SurveyValue, camera: &str, name: &str| {
        surveyed(&survey, camera, name)
    });
    engine.register_fn("margin", |survey: SurveyValue, one: &str, other: &str| {
        margin(&survey, one, other)
    });
    engine.register_fn("expected_wrong", |survey: SurveyValue, way: &str| {
        expected_wrong(&survey, way)
    });
    engine.register_get("most_mistaken", |s: &mut SurveyValue| -> Array {
        let most = s.0.margins.as_ref().and_then(|margins| margins.most_mistaken());
        let names = most.map(|m| m.pair.map(|face| Dynamic::from(s.0.colour_name(face))));
        names.into_iter().flatten().collect()
    });
    engine.register_get("evidence", |s: &mut SurveyValue| {
        s.0.survey.visibility.evident().len() as i64
    });
    engine.register_get("without_evidence", |s: &mut SurveyValue| -> Array {
        s.0.survey.visibility.hidden().into_iter().map(|f| f.name().into()).collect()
    });
    engine.register_get("findings", |s: &mut SurveyValue| -> Array {
        s.0.findings().into_iter().map(Dynamic::from).collect()
    });
    let s = session.clone();
    engine.register_fn(
        "labelled_set",
        move |context: NativeCallContext, scene: SceneValue, scans: i64, name: &str| {
            s.begin(&context, None);
            s.labelled_set(&scene, scans, &Map::new(), name)
        },
    );
    let s = session.clone();
    engine.register_fn(
        "labelled_set",
        move |context: NativeCallContext,
              scene: SceneValue,
              scans: i64,
              options: Map,
              name: &str| {
            s.begin(&context, None);
            s.labelled_set(&scene, scans, &options, name)
        },
    );
    let s = session.clone();
    engine.register_fn(
        "contact_sheet",
        move |context: NativeCallContext, scans: Array, title: &str| {
            s.begin(&context, None);
            s.contact_sheet(&scans, title)
        },
    );
}
