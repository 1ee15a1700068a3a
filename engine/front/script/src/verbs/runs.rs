//! What can be asked of runs, and of what squaring came to.

use dryturn_handoff::Jam;
use dryturn_record::ledger::EnergyRecord;
use rhai::plugin::export_module;
use rhai::{Array, Dynamic, Map};

use crate::session::Fallible;
use crate::values::answers::{degrees, float_or_unit, int, letters, map, shown, text_or_unit};
use crate::values::arguments::face;
use crate::values::handles::{CubeValue, RunValue, SquaredValue};

/// A face that got through ends no run, but was stuck.
fn stuck(run: &RunValue) -> Option<&Jam> {
    run.0.run.jam().or_else(|| run.0.run.pushed.first())
}

#[export_module]
pub(crate) mod verbs {
    use super::*;

    /// What may put a face off its stop though its encoder says that it is there.
    ///
    /// * `run` - the run
    /// * `face` - text, the letter of the face: U, R, F, D, L or B
    ///
    /// Gives a map in degrees: `encoder`, `homing`, `backlash`, `wind_up`, `window`, their `sum`;
    /// `free` is what pieces let pass without touching, `jam` what they let pass at all.
    ///
    /// ```rhai
    /// let spare = run.budget("R").free - run.budget("R").sum;
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn budget(run: RunValue, face: &str) -> Fallible<Map> {
        let budget = &run.0.run.axes[super::face(face)?.index()].budget;
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

    /// From the first command to the last stop, or until it was broken off, ms.
    #[rhai_fn(get = "time_ms", pure)]
    pub(crate) fn time_ms(run: &mut RunValue) -> f64 {
        run.0.run.total_s * 1e3
    }

    /// No run of this plan on this drive can be faster, ms.
    #[rhai_fn(get = "bound_ms", pure)]
    pub(crate) fn bound_ms(run: &mut RunValue) -> f64 {
        run.0.run.bound_s * 1e3
    }

    /// Whether every beat was turned.
    #[rhai_fn(get = "completed", pure)]
    pub(crate) fn completed(run: &mut RunValue) -> bool {
        run.0.run.failure().is_none()
    }

    /// Why not every beat was turned, as text; `()` where each was.
    #[rhai_fn(get = "failure", pure)]
    pub(crate) fn failure(run: &mut RunValue) -> Dynamic {
        text_or_unit(run.0.run.failure())
    }

    /// Whether a jam ended it.
    #[rhai_fn(get = "jammed", pure)]
    pub(crate) fn jammed(run: &mut RunValue) -> bool {
        run.0.run.jam().is_some()
    }

    /// What happened at the jam; `()` without one.
    #[rhai_fn(get = "jam", pure)]
    pub(crate) fn jam(run: &mut RunValue) -> Dynamic {
        text_or_unit(run.0.run.jam().map(ToString::to_string))
    }

    /// `pushed through`, `stalled` or `shaft broken`; `()` where no face was stuck.
    #[rhai_fn(get = "jam_verdict", pure)]
    pub(crate) fn jam_verdict(run: &mut RunValue) -> Dynamic {
        text_or_unit(stuck(run).map(|jam| jam.verdict.words().to_owned()))
    }

    /// When the drives noticed the jam, ms; `()` where they did not, or without one.
    #[rhai_fn(get = "noticed_ms", pure)]
    pub(crate) fn noticed_ms(run: &mut RunValue) -> Dynamic {
        float_or_unit(stuck(run).and_then(|jam| jam.noticed_s).map(|s| s * 1e3))
    }

    /// What else than a jam ended it, as text: emergency stop, watchdog, voltage and so on; `()` where
    /// nothing did.
    #[rhai_fn(get = "stopped", pure)]
    pub(crate) fn stopped(run: &mut RunValue) -> Dynamic {
        text_or_unit(run.0.run.stop().map(ToString::to_string))
    }

    /// How many times a face was stuck and got through.
    #[rhai_fn(get = "pushed", pure)]
    pub(crate) fn pushed(run: &mut RunValue) -> i64 {
        int(run.0.run.pushed.len())
    }

    /// The cube as it really ends up: a face left on its way counts at its nearest stop.
    #[rhai_fn(get = "cube", pure)]
    pub(crate) fn run_cube(run: &mut RunValue) -> CubeValue {
        CubeValue(run.0.run.final_state)
    }

    /// List of how far each face is off its nearest stop at the end, degrees, U R F D L B.
    #[rhai_fn(get = "rest_deg", pure)]
    pub(crate) fn run_rest_deg(run: &mut RunValue) -> Array {
        degrees(&run.0.run.rest_deg)
    }

    /// Largest torque in any shaft, N·m.
    #[rhai_fn(get = "peak_torque_n_m", pure)]
    pub(crate) fn peak_torque_n_m(run: &mut RunValue) -> f64 {
        run.0.run.peak_torque_n_m()
    }

    /// Strength of a shaft over its largest torque, least of all shafts.
    #[rhai_fn(get = "safety_factor", pure)]
    pub(crate) fn safety_factor(run: &mut RunValue) -> f64 {
        run.0.run.safety_factor_ratio()
    }

    /// Where the energy went, J: map of `supply_j`, `source_j`, `copper_j`, `friction_j`,
    /// `brake_j`, `jam_j`, `detent_j`, `kinetic_j`, `stored_j`; `unaccounted_share` is what is
    /// missing, of the supply's.
    #[rhai_fn(get = "energy", pure)]
    pub(crate) fn energy(run: &mut RunValue) -> Dynamic {
        shown(&EnergyRecord::of(&run.0.run.energy))
    }

    /// Highest bus voltage, V.
    #[rhai_fn(get = "highest_v", pure)]
    pub(crate) fn highest_v(run: &mut RunValue) -> f64 {
        run.0.run.power.highest_v
    }

    /// Lowest bus voltage, V.
    #[rhai_fn(get = "lowest_v", pure)]
    pub(crate) fn lowest_v(run: &mut RunValue) -> f64 {
        run.0.run.power.lowest_v
    }

    /// Brake resistor at its hottest, °C.
    #[rhai_fn(get = "resistor_c", pure)]
    pub(crate) fn resistor_c(run: &mut RunValue) -> f64 {
        run.0.run.power.resistor_c
    }

    /// The hottest winding, °C.
    #[rhai_fn(get = "winding_c", pure)]
    pub(crate) fn winding_c(run: &mut RunValue) -> f64 {
        run.0.run.winding_c()
    }

    /// How many commands were sent again.
    #[rhai_fn(get = "resent", pure)]
    pub(crate) fn resent(run: &mut RunValue) -> i64 {
        int(run.0.run.resent)
    }

    /// Whether all faces came to their stops.
    #[rhai_fn(get = "ok", pure)]
    pub(crate) fn squared_ok(squared: &mut SquaredValue) -> bool {
        squared.0.stuck.is_empty()
    }

    /// List of the faces that did not come to their stops.
    #[rhai_fn(get = "stuck", pure)]
    pub(crate) fn squared_stuck(squared: &mut SquaredValue) -> Array {
        letters(&squared.0.stuck)
    }

    /// How long it took, ms.
    #[rhai_fn(get = "total_ms", pure)]
    pub(crate) fn total_ms(squared: &mut SquaredValue) -> f64 {
        squared.0.total_s * 1e3
    }

    /// List of how far each face is off afterwards, degrees, U R F D L B.
    #[rhai_fn(get = "rest_deg", pure)]
    pub(crate) fn squared_rest_deg(squared: &mut SquaredValue) -> Array {
        degrees(&squared.0.rest_deg)
    }
}
