//! How many of a drill of the axes fail, of what, and what that says of those to come.

use rhai::plugin::export_module;
use rhai::{Dynamic, Map};

use crate::session::{Fallible, fault};
use crate::values::answers::int;
use crate::values::arguments::number;
use crate::values::handles::TurningValue;

#[export_module]
pub(crate) mod verbs {
    use super::*;

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

    /// How many failed, whatever the cause: jams, broken shafts, stops of drives and all others.
    #[rhai_fn(get = "failed", pure)]
    pub(crate) fn failed(turning: &mut TurningValue) -> i64 {
        int(turning.0.failures().count())
    }

    /// Of those that failed how many by each kind, where there are any: map of `jam`,
    /// `jam_broke_shaft`, `shaft_broke` (without a jam), `drive_stop`, `link_lost`, `watchdog`,
    /// `supply`, `no_shaft`, `emergency_stop`, `simulation_limit`, `host_stop`, `guest`. They add up to
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
}
