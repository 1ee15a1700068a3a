//! Tuning the axes, and when turns begin.

use std::sync::Arc;

use dryturn_record::Exhibit;
use dryturn_record::ledger::{Line, TuneLine};
use dryturn_studies::sets::variation;
use dryturn_studies::{
    Lead, Setting, TuneRequest, Tuned, Tuning, TurningDrill, lead_sentence, leads,
};
use rhai::plugin::export_module;
use rhai::{Array, Dynamic, Map, NativeCallContext};

use super::begin;
use crate::session::{Fallible, Session, fault};
use crate::values::answers::{float_or_unit, text_or_unit};
use crate::values::arguments::{ok, option};
use crate::values::handles::{SceneValue, TuningValue, TurningValue};

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

fn tuned(s: &Session, scene: &SceneValue, options: &Map) -> Fallible<TuningValue> {
    let request = request(scene, options)?;
    let progress = s.watched("executions of tuning", 0);
    let Some(tuning) = ok(Tuning::of(&s.rehearser, &request, &progress))? else {
        return fault("stopped");
    };
    let tuning = s.made(tuning);
    s.log(Line::Tune(Box::new(TuneLine::of(&tuning))));
    s.show(Exhibit::Tuning(tuning.clone()));
    Ok(TuningValue(tuning))
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

fn changes(tuned: &Tuned) -> Array {
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
fn bought_below_zero(tuned: &Tuned) -> Dynamic {
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

fn settled(tuning: &TuningValue) -> Fallible<&Tuned> {
    match &tuning.0.found {
        Ok(tuned) => Ok(tuned),
        Err(why) => fault(format!("tuning has found no settings: {why}")),
    }
}

fn drill(of: &Arc<TurningDrill>) -> TurningValue {
    TurningValue(of.clone())
}

#[export_module]
pub(crate) mod verbs {
    use super::*;

    /// The clearance table of the policy `Predict`.
    ///
    /// * `scene` - the scene with drive and cube
    ///
    /// Gives a list of maps: `late` and `next` (`quarter` or `half`), `same_sense` (whether both
    /// turn the same way about), `lead_ms` (how long before the late turn's set-point stops the
    /// next may begin), `to_go_deg` (how far it is from its stop then), `nearest_mm` (how near the
    /// pieces of both come by their set-points; below zero they overlap and push each other aside),
    /// `nearest_late_deg` and `nearest_turned_deg` (where: how far the late one is from its stop,
    /// and the next one from where it began), `says` (all that as a sentence).
    ///
    /// ```rhai
    /// let sentence = leads(foyer)[0].says;
    /// ```
    #[rhai_fn(name = "leads", return_raw)]
    pub(crate) fn lead_table(context: NativeCallContext, scene: SceneValue) -> Fallible<Array> {
        begin(&context, None)?;
        Ok(leads(&scene.0).iter().map(lead).collect())
    }

    /// The fastest settings of policy, margin, gains, speed and torque that hardly ever fail, proved
    /// on fresh trials and cubes. A clearance margin below zero, at which pieces push each other
    /// aside, is used only where `allow` has it. The report shows it.
    ///
    /// * `scene` - the scene as it is
    ///
    /// Gives the tuning.
    ///
    /// ```rhai
    /// let tuning = tune(foyer, #{ candidates: 16, proof: 1000 });
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn tune(context: NativeCallContext, scene: SceneValue) -> Fallible<TuningValue> {
        tuned(&*begin(&context, None)?, &scene, &Map::new())
    }

    /// As above with options, any of `#{ jam_rate: 0.01, safety_factor: 2.0, candidates: 64,
    /// proof: 2000, allow: ["drive.bus_voltage_v=30,36,48", "shafts.*.width_mm=6..10"], keep:
    /// ["drive.speed_limit_rad_s"] }`: the share that fails stays below `jam_rate` at 95 %
    /// confidence (jams and other stops), the weakest shaft is `safety_factor` times as strong as
    /// the torque limit, `candidates` settings race, `proof` trials prove what is found, `allow`
    /// frees more fields, each within a range or a list of values, `keep` leaves fields as they are.
    ///
    /// * `scene` - the scene as it is
    /// * `options` - map: `jam_rate` 0 to 1, `safety_factor` 1 to 100, `candidates` 8 to 1000,
    ///   `proof` 1 to 100,000 trials, and enough to prove `jam_rate` if none fails (381 for the usual
    ///   one), `allow` and `keep` lists of texts
    ///
    /// Gives the tuning.
    #[rhai_fn(name = "tune", return_raw)]
    pub(crate) fn tune_with(
        context: NativeCallContext,
        scene: SceneValue,
        options: Map,
    ) -> Fallible<TuningValue> {
        tuned(&*begin(&context, None)?, &scene, &options)
    }

    /// Whether there are settings that keep the target.
    #[rhai_fn(get = "found", pure)]
    pub(crate) fn found(tuning: &mut TuningValue) -> bool {
        tuning.0.found.is_ok()
    }

    /// Why no settings keep the target, as text; `()` where some do.
    #[rhai_fn(get = "because", pure)]
    pub(crate) fn because(tuning: &mut TuningValue) -> Dynamic {
        text_or_unit(tuning.0.found.as_ref().err().map(ToString::to_string))
    }

    /// The scene with the settings; an error where there are none.
    #[rhai_fn(get = "scene", pure, return_raw)]
    pub(crate) fn scene(tuning: &mut TuningValue) -> Fallible<SceneValue> {
        Ok(SceneValue(settled(tuning)?.scene.clone()))
    }

    /// List of what has changed: `field`, `before`, `after`, `says` (what it does to the rig), all
    /// texts; an error where there are no settings.
    #[rhai_fn(get = "settings", pure, return_raw)]
    pub(crate) fn settings(tuning: &mut TuningValue) -> Fallible<Array> {
        Ok(changes(settled(tuning)?))
    }

    /// The executions of the proof, as `drill_axes` gives them; an error where there are no
    /// settings.
    #[rhai_fn(get = "proof", pure, return_raw)]
    pub(crate) fn proof(tuning: &mut TuningValue) -> Fallible<TurningValue> {
        Ok(drill(&settled(tuning)?.drill))
    }

    /// The scene as it was, on the trials and plans of the proof; an error where there are no settings.
    #[rhai_fn(get = "before", pure, return_raw)]
    pub(crate) fn before(tuning: &mut TuningValue) -> Fallible<TurningValue> {
        Ok(drill(&settled(tuning)?.before))
    }

    /// The tuned limits with the plainest timing (each beat waits for the settle window, no
    /// dwell), on the trials and plans of the proof; an error where there are no settings.
    #[rhai_fn(get = "waiting", pure, return_raw)]
    pub(crate) fn waiting(tuning: &mut TuningValue) -> Fallible<TurningValue> {
        Ok(drill(&settled(tuning)?.waiting))
    }

    /// Share of the way from `tuning.waiting` to the bound that the settings go, by medians and the
    /// mean bound; `()` where there is no such way, an error where there are no settings.
    #[rhai_fn(get = "gap_closed", pure, return_raw)]
    pub(crate) fn gap_closed(tuning: &mut TuningValue) -> Fallible<Dynamic> {
        Ok(float_or_unit(settled(tuning)?.gap_closed()))
    }

    /// Upper end of Wilson's 95 % interval of the share that fails; an error where there are no
    /// settings.
    #[rhai_fn(get = "fail_high", pure, return_raw)]
    pub(crate) fn fail_high(tuning: &mut TuningValue) -> Fallible<f64> {
        Ok(settled(tuning)?.failure_interval().1)
    }

    /// Strength of the weakest shaft over the torque limit; an error where there are no settings.
    #[rhai_fn(get = "safety_factor", pure, return_raw)]
    pub(crate) fn safety_factor(tuning: &mut TuningValue) -> Fallible<f64> {
        Ok(settled(tuning)?.static_safety_ratio())
    }

    /// List of texts: what keeps the settings from being faster; what binds first comes first, then
    /// what would come after it. An error where there are no settings.
    #[rhai_fn(get = "limits", pure, return_raw)]
    pub(crate) fn limits(tuning: &mut TuningValue) -> Fallible<Array> {
        Ok(settled(tuning)?.what_limits().into_iter().map(Dynamic::from).collect())
    }

    /// What a clearance margin below zero would buy with the other settings as found: `says`, and
    /// where one is faster and keeps the target `margin_deg`, `saves_ms` with its 95 % interval
    /// `low_ms` to `high_ms` (same trials), `failed` of the proof's trials, `overlap_mm` of the
    /// pieces at the most; `()` where `allow` had it, or where the margin does not matter. An error
    /// where there are no settings.
    #[rhai_fn(get = "below_zero", pure, return_raw)]
    pub(crate) fn below_zero(tuning: &mut TuningValue) -> Fallible<Dynamic> {
        Ok(bought_below_zero(settled(tuning)?))
    }

    /// What tuning came to, as text.
    #[rhai_fn(get = "summary", pure)]
    pub(crate) fn summary(tuning: &mut TuningValue) -> String {
        tuning.0.summary()
    }
}
