//! Logs of runs: making them in simulation, writing them.

use dryturn_handoff::Content;
use dryturn_studies::{LogNoise, simulated_log};
use rhai::plugin::export_module;
use rhai::{Map, NativeCallContext};

use super::axis_logs::{NOISE, given_noise};
use super::{begin, begin_on};
use crate::session::{Fallible, Session};
use crate::values::answers::int;
use crate::values::handles::{RigValue, RunLogValue, RunValue};

fn run_logged(s: &Session, rig: &RigValue, run: &RunValue, noise: LogNoise) -> RunLogValue {
    let draw = s.rehearser.seed().trial(rig.0.trial());
    RunLogValue(s.made(simulated_log(&run.0.run, noise, draw)))
}

#[export_module]
pub(crate) mod verbs {
    use super::*;

    /// What the six axes' encoders read, and their currents, in a run, every half millisecond, with
    /// the usual noise.
    ///
    /// * `rig` - the rig
    /// * `run` - what it turned
    ///
    /// Gives the log.
    ///
    /// ```rhai
    /// let recording = run_log(rig, run);
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn run_log(
        context: NativeCallContext,
        rig: RigValue,
        run: RunValue,
    ) -> Fallible<RunLogValue> {
        Ok(run_logged(&*begin_on(&context, &rig)?, &rig, &run, NOISE))
    }

    /// As above with noise of your own.
    ///
    /// * `rig` - the rig
    /// * `run` - what it turned
    /// * `noise` - map of standard deviations, as `bench_log` takes it
    ///
    /// Gives the log.
    #[rhai_fn(name = "run_log", return_raw)]
    pub(crate) fn run_log_with(
        context: NativeCallContext,
        rig: RigValue,
        run: RunValue,
        noise: Map,
    ) -> Fallible<RunLogValue> {
        Ok(run_logged(&*begin_on(&context, &rig)?, &rig, &run, given_noise(&noise)?))
    }

    /// Writes `name.csv`, for `dryturn overlay`.
    ///
    /// * `recording` - the log of a run
    /// * `name` - text, what the file is called without its ending
    #[rhai_fn(name = "save_log", return_raw)]
    pub(crate) fn save_run_log(
        context: NativeCallContext,
        recording: RunLogValue,
        name: &str,
    ) -> Fallible<()> {
        begin(&context, None)?.save(&format!("{name}.csv"), Content::Text(recording.0.csv()))
    }

    /// How many samples the log of a run has.
    #[rhai_fn(get = "samples", pure)]
    pub(crate) fn run_samples(recording: &mut RunLogValue) -> i64 {
        int(recording.0.time_s.len())
    }
}
