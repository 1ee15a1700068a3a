//! Drills of the axes alone.

use std::sync::Arc;

use dryturn_handoff::Plan;
use dryturn_record::ledger::{Line, TurningLine};
use dryturn_record::{Exhibit, Sweep};
use dryturn_statistics as statistics;
use dryturn_studies::{DRILL_NODES, DRILL_PLANS, TurningDrill, random_plans};
use rhai::plugin::export_module;
use rhai::{Array, Dynamic, Map, NativeCallContext};

use super::{begin, session};
use crate::answers::{float_or_unit, int, shown};
use crate::arguments::{number, plans_of, share, within};
use crate::handles::{PlanValue, SceneValue, TurningValue};
use crate::session::{Fallible, Session, fault};
use crate::texts::text_of;

/// Most trials of one drill of the axes.
const MAX_TRIALS: i64 = 100_000;
/// Most points of a sweep.
const MAX_POINTS: usize = 100;

fn drilled(
    s: &Session,
    scene: &SceneValue,
    count: i64,
    plans: Vec<Plan>,
) -> Fallible<TurningValue> {
    let count = within("the number of trials", count, 1..=MAX_TRIALS)? as usize;
    let progress = s.watched("drill of the axes", count);
    let plans = Arc::new(plans);
    let Some(drill) = TurningDrill::of(&s.rehearser, &scene.0, &plans, count, &progress) else {
        return fault("stopped");
    };
    let drill = s.made(drill);
    s.log(Line::DrillAxes(Box::new(TurningLine::of(&drill))));
    s.show(Exhibit::Turning(drill.clone()));
    Ok(TurningValue(drill))
}

/// An end of the interval of a time's quantile, ms.
fn time_end(drill: &TurningDrill, part: &Dynamic, end: fn((f64, f64)) -> f64) -> Fallible<Dynamic> {
    let time = drill.time_s(share(part)?);
    Ok(float_or_unit(time.map(|(_, interval)| end(interval) * 1e3)))
}

#[export_module]
pub(crate) mod verbs {
    use super::*;

    /// Executes trials 0 to count − 1 on the axes alone, each with errors of its own, on plans for
    /// 24 random cubes in turn. Trials of one number meet the same luck under every setting: give
    /// compared drills the same plans. The report shows it.
    ///
    /// * `scene` - the scene with the drive
    /// * `count` - whole number of trials, 1 to 100,000
    ///
    /// Gives the drill.
    ///
    /// ```rhai
    /// let turning = drill_axes(foyer, 20, plan);
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn drill_axes(
        context: NativeCallContext,
        scene: SceneValue,
        count: i64,
    ) -> Fallible<TurningValue> {
        let s = begin(&context, None)?;
        let plans = random_plans(&s.rehearser, &scene.0, DRILL_PLANS, DRILL_NODES);
        drilled(&s, &scene, count, plans)
    }

    /// As above with plans of your own, in turn.
    ///
    /// * `scene` - the scene with the drive
    /// * `count` - whole number of trials, 1 to 100,000
    /// * `plans` - list of 1 to 1000 plans
    ///
    /// Gives the drill.
    #[rhai_fn(name = "drill_axes", return_raw)]
    pub(crate) fn drill_axes_plans(
        context: NativeCallContext,
        scene: SceneValue,
        count: i64,
        plans: Array,
    ) -> Fallible<TurningValue> {
        drilled(&*begin(&context, None)?, &scene, count, plans_of(plans)?)
    }

    /// As above with one plan.
    ///
    /// * `scene` - the scene with the drive
    /// * `count` - whole number of trials, 1 to 100,000
    /// * `plan` - the plan of all trials
    ///
    /// Gives the drill.
    #[rhai_fn(name = "drill_axes", return_raw)]
    pub(crate) fn drill_axes_plan(
        context: NativeCallContext,
        scene: SceneValue,
        count: i64,
        plan: PlanValue,
    ) -> Fallible<TurningValue> {
        drilled(&*begin(&context, None)?, &scene, count, vec![(*plan.0).clone()])
    }

    /// How many more trials without a failure would support, at 95 %, that fewer than this share
    /// fail. Where a larger share has failed, no such number is to be hoped for.
    ///
    /// * `turning` - the drill
    /// * `rate` - number, the share, above 0 and below 1
    ///
    /// Gives a whole number of trials; 0 where that is supported already.
    ///
    /// ```rhai
    /// let more = further_trials(turning, 0.001);
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn further_trials(turning: TurningValue, rate: Dynamic) -> Fallible<i64> {
        let rate = number(&rate)?;
        match turning.0.failures().further_trials(rate) {
            Some(trials) => Ok(int(trials)),
            None => fault(format!("the rate is {rate}: must be above 0 and below 1")),
        }
    }

    /// Quantile of the completed runs' times.
    ///
    /// * `turning` - the drill
    /// * `share` - number, 0 (the shortest) to 1 (the longest)
    ///
    /// Gives a time in ms; `()` where none was completed.
    ///
    /// ```rhai
    /// let median = turning.time_ms(0.5);
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn time_ms(turning: TurningValue, share: Dynamic) -> Fallible<Dynamic> {
        let part = super::share(&share)?;
        let time = statistics::quantile(&turning.0.times_s(), part);
        Ok(float_or_unit(time.map(|s| s * 1e3)))
    }

    /// Lower end of the 95 % bootstrap interval of a quantile of the completed runs' times.
    ///
    /// * `turning` - the drill
    /// * `share` - number, 0 to 1
    ///
    /// Gives a time in ms; `()` where none was completed.
    ///
    /// ```rhai
    /// let at_least = turning.time_low_ms(0.5);
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn time_low_ms(turning: TurningValue, share: Dynamic) -> Fallible<Dynamic> {
        time_end(&turning.0, &share, |(low, _)| low)
    }

    /// Upper end of the 95 % bootstrap interval of a quantile of the completed runs' times.
    ///
    /// * `turning` - the drill
    /// * `share` - number, 0 to 1
    ///
    /// Gives a time in ms; `()` where none was completed.
    ///
    /// ```rhai
    /// let at_most = turning.time_high_ms(0.5);
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn time_high_ms(turning: TurningValue, share: Dynamic) -> Fallible<Dynamic> {
        time_end(&turning.0, &share, |(_, high)| high)
    }

    /// Quantile of the runs' least safety factors.
    ///
    /// * `turning` - the drill
    /// * `share` - number, 0 (the least of all) to 1
    ///
    /// Gives a number; `()` where there is none.
    ///
    /// ```rhai
    /// let least = turning.safety_factor(0);
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn safety_factor(turning: TurningValue, share: Dynamic) -> Fallible<Dynamic> {
        let part = super::share(&share)?;
        Ok(float_or_unit(turning.0.quantile(part, |execution| execution.safety_factor_ratio)))
    }

    /// Shows drills over a setting in the report: the share of all that failed with its interval,
    /// split by kind, and the median time.
    ///
    /// * `title` - text, the section's title
    /// * `setting` - text, what is varied, with its unit
    /// * `points` - list of 1 to 100 points `[value, drill_axes(…)]`; a value is a number or text
    ///
    /// ```rhai
    /// show_sweep("one cube", "bus voltage, V", [[36, turning]]);
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn show_sweep(
        context: NativeCallContext,
        title: &str,
        setting: &str,
        points: Array,
    ) -> Fallible<()> {
        let s = session(&context)?;
        if points.is_empty() || points.len() > MAX_POINTS {
            let count = points.len();
            return fault(format!("a sweep of {count} points: must be 1 to {MAX_POINTS}"));
        }
        let point = |point: Dynamic| -> Fallible<_> {
            let pair =
                point.try_cast::<Array>().and_then(|pair| <[Dynamic; 2]>::try_from(pair).ok());
            let drill =
                pair.and_then(|[value, drill]| Some((value, drill.try_cast::<TurningValue>()?)));
            match drill {
                Some((value, drill)) => Ok((value, drill.0)),
                None => fault("a point of a sweep is a list [value, drill_axes(…)]"),
            }
        };
        let points = points.into_iter().map(point).collect::<Fallible<Vec<_>>>()?;
        let named = points.iter().any(|(value, _)| value.is_string());
        let names = points.iter().filter(|_| named).map(|(value, _)| text_of(value));
        let names: Vec<String> = names.collect::<Fallible<_>>()?;
        let value = |(place, (value, drill)): (usize, (Dynamic, _))| -> Fallible<_> {
            Ok((if named { place as f64 } else { number(&value)? }, drill))
        };
        let mut points = points.into_iter().enumerate().map(value).collect::<Fallible<Vec<_>>>()?;
        points.sort_by(|one, other| one.0.total_cmp(&other.0));
        for name in &names {
            s.count_text(name)?;
        }
        s.count_text(title)?;
        s.count_text(setting)?;
        let (title, setting) = (title.to_owned(), setting.to_owned());
        // The sweep shows its drills; they need no sections of their own.
        s.hide(|exhibit| match exhibit {
            Exhibit::Turning(drill) => points.iter().any(|(_, point)| Arc::ptr_eq(point, drill)),
            _ => false,
        });
        s.show(Exhibit::Sweep(Arc::new(Sweep { title, setting, points, names })));
        Ok(())
    }

    /// How many trials.
    #[rhai_fn(get = "trials", pure)]
    pub(crate) fn trials(turning: &mut TurningValue) -> i64 {
        int(turning.0.trials())
    }

    /// How many failed, whatever the cause: jams, broken shafts, stops of drives and all others.
    #[rhai_fn(get = "failed", pure)]
    pub(crate) fn failed(turning: &mut TurningValue) -> i64 {
        int(turning.0.failures().count())
    }

    /// Of those that failed how many by each kind, where there are any: map of `jam`,
    /// `jam_broke_shaft`, `shaft_broke` (without a jam), `drive_stop`, `link_lost`, `watchdog`,
    /// `supply`, `no_shaft`, `emergency_stop`, `simulation_limit`. They add up to
    /// `turning.failed`.
    #[rhai_fn(get = "kinds", pure)]
    pub(crate) fn kinds(turning: &mut TurningValue) -> Map {
        let split = turning.0.failures().split().into_iter();
        split.map(|(kind, count)| (kind.key().into(), Dynamic::from(int(count)))).collect()
    }

    /// Share that failed.
    #[rhai_fn(get = "failure_rate", pure)]
    pub(crate) fn failure_rate(turning: &mut TurningValue) -> f64 {
        turning.0.failures().share()
    }

    /// Lower end of Wilson's two-sided 95 % interval of the share that fails.
    #[rhai_fn(get = "failure_low", pure)]
    pub(crate) fn failure_low(turning: &mut TurningValue) -> f64 {
        turning.0.failures().interval().0
    }

    /// Upper end of Wilson's two-sided 95 % interval of the share that fails.
    #[rhai_fn(get = "failure_high", pure)]
    pub(crate) fn failure_high(turning: &mut TurningValue) -> f64 {
        turning.0.failures().interval().1
    }

    /// With 95 % confidence no more fail than this share: the exact one-sided bound.
    #[rhai_fn(get = "failures_at_most", pure)]
    pub(crate) fn failures_at_most(turning: &mut TurningValue) -> f64 {
        turning.0.failures().at_most()
    }

    /// How many turned every beat.
    #[rhai_fn(get = "completed", pure)]
    pub(crate) fn completed(turning: &mut TurningValue) -> i64 {
        int(turning.0.completed())
    }

    /// How many jammed; they are among those that failed.
    #[rhai_fn(get = "jammed", pure)]
    pub(crate) fn jammed(turning: &mut TurningValue) -> i64 {
        int(turning.0.jams())
    }

    /// How many something else ended; they are among those that failed.
    #[rhai_fn(get = "stopped", pure)]
    pub(crate) fn stopped(turning: &mut TurningValue) -> i64 {
        int(turning.0.stops())
    }

    /// In how many a face was stuck and got through.
    #[rhai_fn(get = "pushed", pure)]
    pub(crate) fn pushed(turning: &mut TurningValue) -> i64 {
        int(turning.0.pushed())
    }

    /// In how many a shaft broke, in a jam or without; they are among those that failed.
    #[rhai_fn(get = "broken", pure)]
    pub(crate) fn broken(turning: &mut TurningValue) -> i64 {
        int(turning.0.broken())
    }

    /// Share that jammed; what failed otherwise is not in it.
    #[rhai_fn(get = "jam_rate", pure)]
    pub(crate) fn jam_rate(turning: &mut TurningValue) -> f64 {
        turning.0.jams() as f64 / turning.0.trials().max(1) as f64
    }

    /// Lower end of Wilson's two-sided 95 % interval of the share that jams.
    #[rhai_fn(get = "jam_low", pure)]
    pub(crate) fn jam_low(turning: &mut TurningValue) -> f64 {
        turning.0.jam_interval().0
    }

    /// Upper end of Wilson's two-sided 95 % interval of the share that jams.
    #[rhai_fn(get = "jam_high", pure)]
    pub(crate) fn jam_high(turning: &mut TurningValue) -> f64 {
        turning.0.jam_interval().1
    }

    /// With 95 % confidence no more jam than this share: the exact one-sided bound.
    #[rhai_fn(get = "jams_at_most", pure)]
    pub(crate) fn jams_at_most(turning: &mut TurningValue) -> f64 {
        turning.0.jams_at_most()
    }

    /// Mean over the trials of what no run of their plans can beat, ms.
    #[rhai_fn(get = "bound_ms", pure)]
    pub(crate) fn bound_ms(turning: &mut TurningValue) -> f64 {
        turning.0.mean_bound_s() * 1e3
    }

    /// Who blocked whom, the most frequent first: list of `late`, `blocked` (faces), `against`
    /// (whether the late face was off against the other's way, so that corners met), `jams`,
    /// `pushed`, `late_deg` (mean).
    #[rhai_fn(get = "blame", pure)]
    pub(crate) fn blame(turning: &mut TurningValue) -> Dynamic {
        shown(&turning.0.blame())
    }

    /// The figures as text.
    #[rhai_fn(get = "summary", pure)]
    pub(crate) fn summary(turning: &mut TurningValue) -> String {
        turning.0.summary()
    }
}
