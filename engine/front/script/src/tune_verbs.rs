//! Verbs about tuning the axes, and about when turns begin.

use std::sync::Arc;

use dryturn_record::Exhibit;
use dryturn_record::ledger::{Line, TuneLine};
use dryturn_studies::sets::variation;
use dryturn_studies::{Lead, Setting, TuneRequest, Tuned, Tuning, lead_sentence, leads};
use rhai::{Array, Dynamic, Engine, Map, NativeCallContext};

use crate::handles::{SceneValue, TuningValue, TurningValue, float_or_unit};
use crate::optics_verbs::option;
use crate::session::{Fallible, Session, fault};
use crate::verbs::ok;

const OPTIONS: [&str; 6] = ["jam_rate", "safety_factor", "candidates", "proof", "allow", "keep"];

/// A list of texts among the options; empty where there is none.
fn texts(options: &Map, key: &str) -> Fallible<Vec<String>> {
    match options.get(key).map(|list| list.clone().into_typed_array::<String>()) {
        None => Ok(Vec::new()),
        Some(Ok(list)) => Ok(list),
        Some(Err(_)) => fault(format!("{key} must be a list of texts")),
    }
}

fn request(scene: &SceneValue, options: &Map) -> Fallible<TuneRequest> {
    if let Some(key) = options.keys().find(|key| !OPTIONS.contains(&key.as_str())) {
        return fault(format!("{key:?} is no option of tuning: {}", OPTIONS.join(", ")));
    }
    let mut request = TuneRequest::of(scene.0.clone());
    if let Some(rate) = option(options, "jam_rate", 0.0..=1.0)? {
        request.target.jam_rate = rate;
    }
    if let Some(factor) = option(options, "safety_factor", 1.0..=100.0)? {
        request.target.static_safety_ratio = factor;
    }
    if let Some(count) = option(options, "candidates", 8.0..=1000.0)? {
        request.candidates = count as usize;
    }
    if let Some(count) = option(options, "proof", 1.0..=1e5)? {
        request.proof = count as usize;
    }
    let allow = texts(options, "allow")?;
    request.allow = ok(allow.iter().map(|text| variation(text)).collect::<Result<_, _>>())?;
    request.keep = texts(options, "keep")?;
    Ok(request)
}

impl Session {
    fn tune(&self, scene: &SceneValue, options: &Map) -> Fallible<TuningValue> {
        let request = request(scene, options)?;
        let progress = self.watched("executions of tuning", 0);
        let Some(tuning) = ok(Tuning::of(&self.rehearser, &request, &progress))? else {
            return fault("stopped");
        };
        let tuning = self.made(tuning);
        self.log(Line::Tune(Box::new(TuneLine::of(&tuning))));
        self.show(Exhibit::Tuning(tuning.clone()));
        Ok(TuningValue(tuning))
    }
}

fn lead(lead: &Lead) -> Dynamic {
    let kind = |half: bool| Dynamic::from(if half { "half" } else { "quarter" });
    let mut map = Map::new();
    map.insert("late".into(), kind(lead.late_half));
    map.insert("next".into(), kind(lead.next_half));
    map.insert("same_sense".into(), lead.same_sense.into());
    map.insert("lead_ms".into(), (lead.lead_s * 1e3).into());
    map.insert("to_go_deg".into(), lead.to_go_deg.into());
    map.insert("nearest_mm".into(), lead.nearest_mm.into());
    map.insert("nearest_late_deg".into(), lead.nearest_late_deg.into());
    map.insert("nearest_turned_deg".into(), lead.nearest_turned_deg.into());
    map.insert("says".into(), lead_sentence(lead).into());
    map.into()
}

fn settings(tuned: &Tuned) -> Array {
    let setting = |setting: &Setting| {
        let Setting { field, before, after } = setting.clone();
        let fields =
            [("field", field), ("before", before), ("after", after), ("says", setting.says())];
        let map: Map = fields.into_iter().map(|(key, text)| (key.into(), text.into())).collect();
        Dynamic::from(map)
    };
    tuned.settings.iter().map(setting).collect()
}

/// What a clearance margin below zero would buy; `()` where it was not asked.
fn below_zero(tuned: &Tuned) -> Dynamic {
    let Some(asked) = &tuned.below_zero else { return Dynamic::UNIT };
    let mut map = Map::new();
    map.insert("says".into(), asked.sentence().into());
    if let Some(bought) = &asked.best {
        map.insert("margin_deg".into(), bought.margin_deg.into());
        map.insert("saves_ms".into(), (bought.saves_s * 1e3).into());
        map.insert("low_ms".into(), (bought.interval_s.0 * 1e3).into());
        map.insert("high_ms".into(), (bought.interval_s.1 * 1e3).into());
        map.insert("failed".into(), (bought.failures.0 as i64).into());
        map.insert("overlap_mm".into(), bought.overlap_mm.into());
    }
    map.into()
}

fn found(tuning: &TuningValue) -> Fallible<&Tuned> {
    match &tuning.0.found {
        Ok(tuned) => Ok(tuned),
        Err(why) => fault(format!("tuning has found no settings: {why}")),
    }
}

/// Registers the verbs.
pub(crate) fn register(engine: &mut Engine, session: &Arc<Session>) {
    let s = session.clone();
    engine.register_fn("leads", move |context: NativeCallContext, scene: SceneValue| -> Array {
        s.begin(&context, None);
        leads(&scene.0).iter().map(lead).collect()
    });
    let s = session.clone();
    engine.register_fn("tune", move |context: NativeCallContext, scene: SceneValue| {
        s.begin(&context, None);
        s.tune(&scene, &Map::new())
    });
    let s = session.clone();
    engine.register_fn(
        "tune",
        move |context: NativeCallContext, scene: SceneValue, options: Map| {
            s.begin(&context, None);
            s.tune(&scene, &options)
        },
    );

    engine.register_get("found", |t: &mut TuningValue| t.0.found.is_ok());
    engine.register_get("because", |t: &mut TuningValue| -> Dynamic {
        t.0.found.as_ref().err().map_or(Dynamic::UNIT, |why| why.to_string().into())
    });
    engine.register_get("summary", |t: &mut TuningValue| t.0.summary());
    engine.register_get("scene", |t: &mut TuningValue| -> Fallible<SceneValue> {
        Ok(SceneValue(found(t)?.scene.clone()))
    });
    engine.register_get("settings", |t: &mut TuningValue| -> Fallible<Array> {
        Ok(settings(found(t)?))
    });
    engine.register_get("limits", |t: &mut TuningValue| -> Fallible<Array> {
        Ok(found(t)?.what_limits().into_iter().map(Dynamic::from).collect())
    });
    engine.register_get("below_zero", |t: &mut TuningValue| -> Fallible<Dynamic> {
        Ok(below_zero(found(t)?))
    });
    type Proof = fn(&Tuned) -> &Arc<dryturn_studies::TurningDrill>;
    let drills: [(&str, Proof); 3] =
        [("proof", |t| &t.drill), ("before", |t| &t.before), ("waiting", |t| &t.waiting)];
    for (name, of) in drills {
        engine.register_get(name, move |t: &mut TuningValue| -> Fallible<TurningValue> {
            Ok(TurningValue(of(found(t)?).clone()))
        });
    }
    engine.register_get("gap_closed", |t: &mut TuningValue| -> Fallible<Dynamic> {
        Ok(float_or_unit(found(t)?.gap_closed()))
    });
    engine.register_get("fail_high", |t: &mut TuningValue| -> Fallible<f64> {
        Ok(found(t)?.failure_interval().1)
    });
    engine.register_get("safety_factor", |t: &mut TuningValue| -> Fallible<f64> {
        Ok(found(t)?.static_safety_ratio())
    });
}
