//! Drills of the axes alone, and how long their runs took.

use std::sync::Arc;

use dryturn_handoff::Plan;
use dryturn_record::Exhibit;
use dryturn_record::ledger::{Line, TurningLine};
use dryturn_statistics as statistics;
use dryturn_studies::{DRILL_NODES, DRILL_PLANS, TurningDrill, random_plans};
use rhai::plugin::export_module;
use rhai::{Array, Dynamic, NativeCallContext};

use super::begin;
use crate::session::{Fallible, Session, fault};
use crate::values::answers::{float_or_unit, int, shown};
use crate::values::arguments::{plans_of, share, within};
use crate::values::handles::{PlanValue, SceneValue, TurningValue};

/// Most trials of one drill of the axes.
const MAX_TRIALS: i64 = 100_000;

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

    /// How many trials.
    #[rhai_fn(get = "trials", pure)]
    pub(crate) fn trials(turning: &mut TurningValue) -> i64 {
        int(turning.0.trials())
    }

    /// How many turned every beat.
    #[rhai_fn(get = "completed", pure)]
    pub(crate) fn completed(turning: &mut TurningValue) -> i64 {
        int(turning.0.completed())
    }

    /// In how many a face was stuck and got through.
    #[rhai_fn(get = "pushed", pure)]
    pub(crate) fn pushed(turning: &mut TurningValue) -> i64 {
        int(turning.0.pushed())
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
