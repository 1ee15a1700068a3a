//! What can be asked of runs, drills of the axes and what squaring came to.

use dryturn_cube::Face;
use dryturn_record::ledger::{BlameRow, ClockMs, EnergyRecord};
use dryturn_statistics as statistics;
use dryturn_studies::TurningDrill;
use rhai::{Array, Dynamic, Engine, Map};

use crate::expectations::number;
use crate::handles::{
    CubeValue, PassValue, RunValue, SquaredValue, TurningValue, float_or_unit, int,
};
use crate::optics_verbs::{face, shown};
use crate::session::{Fallible, fault};

/// What is called so, and how it is found.
type Named<Of, Found> = (&'static str, fn(&Of) -> Found);

fn text_or_unit(text: Option<String>) -> Dynamic {
    text.map_or(Dynamic::UNIT, Into::into)
}

/// The quantile's share that a script gives.
pub(crate) fn share(value: &Dynamic) -> Fallible<f64> {
    let share = number(value)?;
    if (0.0..=1.0).contains(&share) {
        return Ok(share);
    }
    fault(format!("the quantile's share is {share}: must be 0 to 1"))
}

fn map<const N: usize>(fields: [(&str, f64); N]) -> Map {
    fields.into_iter().map(|(key, value)| (key.into(), Dynamic::from_float(value))).collect()
}

fn degrees(of: &[f64; 6]) -> Array {
    of.iter().map(|deg| Dynamic::from_float(*deg)).collect()
}

fn letters(faces: &[Face]) -> Array {
    faces.iter().map(|face| face.to_string().into()).collect()
}

/// What puts one axis off its stop, degrees.
fn budget(run: &RunValue, name: &str) -> Fallible<Map> {
    let budget = &run.0.run.axes[face(name)?.index()].budget;
    Ok(map([
        ("encoder", budget.encoder_deg),
        ("homing", budget.homing_deg),
        ("backlash", budget.backlash_deg),
        ("wind_up", budget.wind_up_deg),
        ("window", budget.window_deg),
        ("sum", budget.sum_deg()),
        ("free", budget.free_deg),
        ("jam", budget.jam_deg),
    ]))
}

/// Registers it.
pub(crate) fn register(engine: &mut Engine) {
    register_run(engine);
    register_drill(engine);
    engine.register_get("start_to_stop", |p: &mut PassValue| -> Dynamic {
        let budget = p.0.start_to_stop();
        budget.map_or(Dynamic::UNIT, |budget| shown(&ClockMs::of(&budget)))
    });
    engine.register_get("ok", |s: &mut SquaredValue| s.0.stuck.is_empty());
    engine.register_get("stuck", |s: &mut SquaredValue| letters(&s.0.stuck));
    engine.register_get("total_ms", |s: &mut SquaredValue| s.0.total_s * 1e3);
    engine.register_get("rest_deg", |s: &mut SquaredValue| degrees(&s.0.rest_deg));
}

fn register_run(engine: &mut Engine) {
    let numbers: [Named<RunValue, f64>; 8] = [
        ("time_ms", |r| r.0.run.total_s * 1e3),
        ("bound_ms", |r| r.0.run.bound_s * 1e3),
        ("peak_torque_n_m", |r| r.0.run.peak_torque_n_m()),
        ("safety_factor", |r| r.0.run.safety_factor_ratio()),
        ("highest_v", |r| r.0.run.power.highest_v),
        ("lowest_v", |r| r.0.run.power.lowest_v),
        ("resistor_c", |r| r.0.run.power.resistor_c),
        ("winding_c", |r| r.0.run.winding_c()),
    ];
    for (name, of) in numbers {
        engine.register_get(name, move |r: &mut RunValue| of(r));
    }
    engine.register_get("jam", |r: &mut RunValue| {
        text_or_unit(r.0.run.jam().map(ToString::to_string))
    });
    // A face that got through ends no run, but was stuck.
    let stuck = |r: &RunValue| r.0.run.jam().or_else(|| r.0.run.pushed.first()).cloned();
    engine.register_get("jam_verdict", move |r: &mut RunValue| {
        text_or_unit(stuck(r).map(|jam| jam.verdict.words().to_owned()))
    });
    engine.register_get("noticed_ms", move |r: &mut RunValue| {
        float_or_unit(stuck(r).and_then(|jam| jam.noticed_s).map(|s| s * 1e3))
    });
    engine.register_get("jammed", |r: &mut RunValue| r.0.run.jam().is_some());
    engine.register_get("completed", |r: &mut RunValue| r.0.run.failure().is_none());
    engine.register_get("stopped", |r: &mut RunValue| {
        text_or_unit(r.0.run.stop().map(ToString::to_string))
    });
    engine.register_get("failure", |r: &mut RunValue| text_or_unit(r.0.run.failure()));
    engine.register_get("cube", |r: &mut RunValue| CubeValue(r.0.run.final_state));
    engine.register_get("pushed", |r: &mut RunValue| int(r.0.run.pushed.len()));
    engine.register_get("resent", |r: &mut RunValue| int(r.0.run.resent));
    engine.register_get("rest_deg", |r: &mut RunValue| degrees(&r.0.run.rest_deg));
    engine.register_get("energy", |r: &mut RunValue| shown(&EnergyRecord::of(&r.0.run.energy)));
    engine.register_fn("budget", |run: RunValue, name: &str| budget(&run, name));
}

fn register_drill(engine: &mut Engine) {
    let counts: [Named<TurningDrill, usize>; 7] = [
        ("trials", TurningDrill::trials),
        ("failed", |d| d.failures().count()),
        ("jammed", TurningDrill::jams),
        ("stopped", TurningDrill::stops),
        ("pushed", TurningDrill::pushed),
        ("completed", TurningDrill::completed),
        ("broken", TurningDrill::broken),
    ];
    for (name, of) in counts {
        engine.register_get(name, move |d: &mut TurningValue| int(of(&d.0)));
    }
    let numbers: [Named<TurningDrill, f64>; 9] = [
        ("failure_rate", |d| d.failures().share()),
        ("failure_low", |d| d.failures().interval().0),
        ("failure_high", |d| d.failures().interval().1),
        ("failures_at_most", |d| d.failures().at_most()),
        ("jam_rate", |d| d.jams() as f64 / d.trials().max(1) as f64),
        ("jam_low", |d| d.jam_interval().0),
        ("jam_high", |d| d.jam_interval().1),
        ("jams_at_most", TurningDrill::jams_at_most),
        ("bound_ms", |d| d.mean_bound_s() * 1e3),
    ];
    for (name, of) in numbers {
        engine.register_get(name, move |d: &mut TurningValue| of(&d.0));
    }
    engine.register_fn("time_ms", |d: TurningValue, part: Dynamic| -> Fallible<Dynamic> {
        let part = share(&part)?;
        Ok(float_or_unit(statistics::quantile(&d.0.times_s(), part).map(|s| s * 1e3)))
    });
    let ends: [Named<(f64, f64), f64>; 2] =
        [("time_low_ms", |ends| ends.0), ("time_high_ms", |ends| ends.1)];
    for (verb, end) in ends {
        engine.register_fn(verb, move |d: TurningValue, part: Dynamic| -> Fallible<Dynamic> {
            let time = d.0.time_s(share(&part)?);
            Ok(float_or_unit(time.map(|(_, interval)| end(&interval) * 1e3)))
        });
    }
    engine.register_fn("safety_factor", |d: TurningValue, part: Dynamic| -> Fallible<Dynamic> {
        let part = share(&part)?;
        Ok(float_or_unit(d.0.quantile(part, |execution| execution.safety_factor_ratio)))
    });
    engine.register_fn("further_trials", |d: TurningValue, rate: Dynamic| -> Fallible<i64> {
        let rate = number(&rate)?;
        match d.0.failures().further_trials(rate) {
            Some(trials) => Ok(int(trials)),
            None => fault(format!("the rate is {rate}: must be above 0 and below 1")),
        }
    });
    engine.register_get("blame", |d: &mut TurningValue| {
        shown(&d.0.blame().iter().map(BlameRow::of).collect::<Vec<_>>())
    });
    engine.register_get("kinds", |d: &mut TurningValue| {
        let split = d.0.failures().split().into_iter();
        split.map(|(kind, count)| (kind.key().into(), Dynamic::from(int(count)))).collect::<Map>()
    });
    engine.register_get("summary", |d: &mut TurningValue| d.0.summary());
}
