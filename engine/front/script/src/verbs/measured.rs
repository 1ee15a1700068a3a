//! What logs tell: an axis's figures, and what explains the log of a run.

use std::sync::Arc;

use dryturn_record::ledger::{
    BeatOffRecord, CauseRecord, IdentifyLine, JointRecord, Line, OutcomeWord, OverlayLine,
    ToldRecord,
};
use dryturn_record::{Exhibit, ShownIdentification, ShownOverlay};
use dryturn_studies::motor::{self, Identified, Limit, LimitKind, Parameter};
use dryturn_studies::overlay::Overlay;
use dryturn_studies::{identified_words, logs_title, measured_block, overlay_words};
use rhai::plugin::export_module;
use rhai::{Array, Dynamic, NativeCallContext};

use super::{begin, scenes};
use crate::answers::{float_or_unit, shown, text_or_unit};
use crate::arguments::ok;
use crate::handles::{
    AxisLogValue, IdentifiedValue, OverlayValue, PlanValue, RunLogValue, SceneValue,
};
use crate::session::{Fallible, Session, fault};

/// Most logs of one axis.
const MAX_LOGS: usize = 100;
const LIMITS: [LimitKind; 3] = [LimitKind::Torque, LimitKind::Speed, LimitKind::Acceleration];

/// A parameter or a limit by its name with its unit.
enum Asked {
    Parameter(Parameter),
    Limit(LimitKind),
}

fn asked(found: &Identified, key: &str) -> Fallible<Asked> {
    let over = found.over_inertia;
    let parameter = Parameter::ALL.into_iter().find(|p| p.key(over) == key);
    let limit = LIMITS.into_iter().find(|kind| kind.key() == key);
    match (parameter, limit) {
        (Some(parameter), _) => Ok(Asked::Parameter(parameter)),
        (_, Some(kind)) => Ok(Asked::Limit(kind)),
        _ => {
            let names = Parameter::ALL.map(|p| p.key(over)).join(", ");
            let limits = LIMITS.map(LimitKind::key).join(", ");
            fault(format!("{key:?} is not measured: must be {names}, {limits}"))
        }
    }
}

fn fitted(
    s: &Session,
    scene: &SceneValue,
    logs: Array,
    held_out: Option<i64>,
) -> Fallible<IdentifiedValue> {
    if logs.is_empty() || logs.len() > MAX_LOGS {
        return fault(format!("a list of {} logs: must be 1 to {MAX_LOGS}", logs.len()));
    }
    let drive = &scene.0.file().drive;
    // What is fitted is what a file would hold.
    let read = |value: Dynamic| match value.try_cast::<AxisLogValue>() {
        Some(log) => ok(motor::axis_log(&log.0.log.csv(), drive)),
        None => fault("this list must hold logs of axes only"),
    };
    let logs = logs.into_iter().map(read).collect::<Fallible<Vec<_>>>()?;
    let held_out = match held_out {
        Some(number) if number < 1 => {
            return fault(format!("move {number} shall be kept out: must be 1 or more"));
        }
        number => number.map(|number| number as usize),
    };
    let found = s.made(ok(motor::identify(&logs, scene.0.file(), held_out))?);
    s.log(Line::Identify(Box::new(IdentifyLine::of(&found))));
    let title = logs_title(logs.len(), &scene.0);
    let shown = ShownIdentification { title, found: found.clone() };
    s.show(Exhibit::Identified(Arc::new(shown)));
    let block = measured_block(&found, &found.warnings);
    Ok(IdentifiedValue(Arc::new((found, block))))
}

#[export_module]
pub(crate) mod verbs {
    use super::*;

    /// Fits an axis's inertia, friction and limits from its logs; the last move is kept out and
    /// predicted. The report shows it. Logs with samples more than 1 and up to 10 ms apart are
    /// fitted by simulation.
    ///
    /// * `scene` - the scene with the drive as drawn
    /// * `logs` - list of 1 to 100 logs of one axis
    ///
    /// Gives what was identified.
    ///
    /// ```rhai
    /// let identified = identify(foyer, [log]);
    /// let other = identify(foyer, [log], 2);
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn identify(
        context: NativeCallContext,
        scene: SceneValue,
        logs: Array,
    ) -> Fallible<IdentifiedValue> {
        fitted(&*begin(&context, None)?, &scene, logs, None)
    }

    /// As above with another move kept out.
    ///
    /// * `scene` - the scene with the drive as drawn
    /// * `logs` - list of 1 to 100 logs of one axis
    /// * `held_out` - whole number of the move, from 1
    ///
    /// Gives what was identified.
    #[rhai_fn(name = "identify", return_raw)]
    pub(crate) fn identify_without(
        context: NativeCallContext,
        scene: SceneValue,
        logs: Array,
        held_out: i64,
    ) -> Fallible<IdentifiedValue> {
        fitted(&*begin(&context, None)?, &scene, logs, Some(held_out))
    }

    /// The scene with what logs have determined.
    ///
    /// * `scene` - the scene as it is; it stays as it is
    /// * `identified` - what was identified
    ///
    /// Gives another scene.
    ///
    /// ```rhai
    /// let measured = foyer.with_measured(identified);
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn with_measured(
        context: NativeCallContext,
        scene: SceneValue,
        identified: IdentifiedValue,
    ) -> Fallible<SceneValue> {
        let s = begin(&context, None)?;
        let scene = ok(dryturn_studies::with_measured(&scene.0, &identified.0.0))?;
        Ok(scenes::kept(&s, scene))
    }

    /// A figure that was identified. Of `speed_limit_rad_s` and `acceleration_limit_rad_s2` there is
    /// never one: `because` tells the fastest level seen.
    ///
    /// * `identified` - what was identified
    /// * `name` - text: `inertia_kg_m2`, `coulomb_n_m`, `viscous_n_m_s`, `detent_n_m`,
    ///   `torque_limit_n_m`; from coasting logs `coulomb_over_inertia_rad_s2`,
    ///   `viscous_over_inertia_per_s`, `detent_over_inertia_rad_s2`
    ///
    /// Gives a number in the unit of its name; `()` where the logs do not determine it.
    ///
    /// ```rhai
    /// let inertia = identified.value("inertia_kg_m2");
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn value(identified: IdentifiedValue, name: &str) -> Fallible<Dynamic> {
        let found = &identified.0.0;
        Ok(float_or_unit(match asked(found, name)? {
            Asked::Parameter(parameter) => found.value(parameter),
            Asked::Limit(kind) => found.limit(kind).and_then(|limit| limit.reached),
        }))
    }

    /// The standard error of a figure.
    ///
    /// * `identified` - what was identified
    /// * `name` - text, as `value` takes it
    ///
    /// Gives a number in the unit of its name; `()` where there is none.
    ///
    /// ```rhai
    /// let sigma = identified.error("inertia_kg_m2");
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn error(identified: IdentifiedValue, name: &str) -> Fallible<Dynamic> {
        let found = &identified.0.0;
        Ok(float_or_unit(match asked(found, name)? {
            Asked::Parameter(parameter) => found.estimate(parameter).and_then(|own| own.error),
            Asked::Limit(_) => None,
        }))
    }

    /// Why a figure cannot be determined.
    ///
    /// * `identified` - what was identified
    /// * `name` - text, as `value` takes it
    ///
    /// Gives a text; `()` where the figure is determined.
    ///
    /// ```rhai
    /// let why = identified.because("speed_limit_rad_s");
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn because(identified: IdentifiedValue, name: &str) -> Fallible<Dynamic> {
        let found = &identified.0.0;
        Ok(text_or_unit(match asked(found, name)? {
            Asked::Parameter(parameter) => {
                found.estimate(parameter).and_then(|own| own.open.clone())
            }
            Asked::Limit(kind) => {
                let open = |limit: &&Limit| limit.reached.is_none();
                found.limit(kind).filter(open).map(|limit| limit.because.clone())
            }
        }))
    }

    /// Lays the log of a run over the simulated run of the same plan on the scene's rig without
    /// errors, and fits the figures that might explain the difference: each by itself, and all sets
    /// of two and three jointly. The report shows it.
    ///
    /// * `scene` - the scene as drawn
    /// * `plan` - the plan that was turned
    /// * `log` - the log of the run
    ///
    /// Gives the overlay.
    ///
    /// ```rhai
    /// let overlay = overlay(foyer, plan, recording);
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn overlay(
        context: NativeCallContext,
        scene: SceneValue,
        plan: PlanValue,
        log: RunLogValue,
    ) -> Fallible<OverlayValue> {
        let s = begin(&context, None)?;
        let log = ok(motor::run_log(&log.0.csv(), &plan.0))?;
        let overlay = s.made(ok(Overlay::of(&scene.0, &plan.0, &Arc::new(log)))?);
        s.log(Line::Overlay(Box::new(OverlayLine::of(&overlay))));
        let title = scene.0.file().name.clone();
        let shown = ShownOverlay { title, overlay: overlay.clone() };
        s.show(Exhibit::Overlay(Arc::new(shown)));
        Ok(OverlayValue(overlay))
    }

    /// Whether the move that was kept out is predicted well enough.
    #[rhai_fn(get = "accepted", pure)]
    pub(crate) fn accepted(identified: &mut IdentifiedValue) -> bool {
        identified.0.0.held_out.accepted()
    }

    /// How far the torque of the move that was kept out is off, root mean square over its own.
    #[rhai_fn(get = "torque_off_share", pure)]
    pub(crate) fn torque_off_share(identified: &mut IdentifiedValue) -> f64 {
        identified.0.0.held_out.torque_off_share
    }

    /// How far the angle of the move that was kept out, computed from the current, is off.
    #[rhai_fn(get = "angle_off_share", pure)]
    pub(crate) fn angle_off_share(identified: &mut IdentifiedValue) -> f64 {
        identified.0.0.held_out.angle_off_share
    }

    /// The drawn torque constant that torques stand on, N·m/A.
    #[rhai_fn(get = "constant_n_m_per_a", pure)]
    pub(crate) fn constant_n_m_per_a(identified: &mut IdentifiedValue) -> f64 {
        identified.0.0.constant_n_m_per_a
    }

    /// The lines for the scene's drive block, as text.
    #[rhai_fn(get = "block", pure)]
    pub(crate) fn block(identified: &mut IdentifiedValue) -> String {
        identified.0.1.clone()
    }

    /// The figures as text.
    #[rhai_fn(get = "summary", pure)]
    pub(crate) fn identified_summary(identified: &mut IdentifiedValue) -> String {
        identified_words(&identified.0.0).join("\n")
    }

    /// How far times of turns and hand-overs are off, root mean square, ms.
    #[rhai_fn(get = "rms_ms", pure)]
    pub(crate) fn rms_ms(overlay: &mut OverlayValue) -> f64 {
        overlay.0.rms_ms
    }

    /// Whether the log ends before the plan.
    #[rhai_fn(get = "ends_early", pure)]
    pub(crate) fn ends_early(overlay: &mut OverlayValue) -> bool {
        overlay.0.ends_early
    }

    /// Whether some single figure explains at least half of the difference.
    #[rhai_fn(get = "explained", pure)]
    pub(crate) fn explained(overlay: &mut OverlayValue) -> bool {
        overlay.0.explained()
    }

    /// List of `beat` (from 1), `turns`, `late_ms`, `longer_ms`, `rms_deg`, each against the
    /// simulated run.
    #[rhai_fn(get = "beats_off", pure)]
    pub(crate) fn beats_off(overlay: &mut OverlayValue) -> Dynamic {
        shown(&BeatOffRecord::all(&overlay.0.beats))
    }

    /// List of `field`, `what`, `drawn`, `value` (where it explains most), `explained_share`,
    /// `rms_ms` (left), `as_good` (cannot be told from the best); the best first, with those that
    /// cannot be told from it, in no order; empty where log and drawing agree. A figure that comes
    /// first here is no cause for certain: see `overlay.outcome`.
    #[rhai_fn(get = "causes", pure)]
    pub(crate) fn causes(overlay: &mut OverlayValue) -> Dynamic {
        shown(&CauseRecord::all(&overlay.0))
    }

    /// `as_drawn` (rigs of this drawing differ as much by themselves), `certain` (one set of one to
    /// three figures explains the log, every other is rejected at 99.9 %), `several`, `unexplained`,
    /// or `not_fitted` where too few simulated rigs get through the plan.
    #[rhai_fn(get = "outcome", pure)]
    pub(crate) fn outcome(overlay: &mut OverlayValue) -> Dynamic {
        shown(&OutcomeWord::of(&overlay.0))
    }

    /// List of the sets of one to three figures that explain the log equally well, the likeliest
    /// first: `figures` (list of `field`, `what`, `drawn`, `value`, `interval_95`, `determined`),
    /// `chi_square_above` (that of all figures together), `correlations` (rows). A set is left out
    /// where the log rejects it at 99 %, or shows one of its figures to be as drawn within a tenth
    /// (times and angles: 0.3 ms, 0.3°).
    #[rhai_fn(get = "told", pure)]
    pub(crate) fn told(overlay: &mut OverlayValue) -> Dynamic {
        shown(&ToldRecord::all(&overlay.0))
    }

    /// All figures fitted together, each taken for as drawn within 30 % or 2 ms beforehand:
    /// `figures` as in `overlay.told`, `correlations` (rows), `tied` (pairs of `fields` whose `correlation` is
    /// above 0.9 in magnitude), `problem` (the fit near its solution, whitened: `at`, `left`,
    /// `columns`, `prior`), `chi_square_drawn`, `chi_square`, `measures`,
    /// `combinations_determined`.
    #[rhai_fn(get = "joint", pure)]
    pub(crate) fn joint(overlay: &mut OverlayValue) -> Dynamic {
        shown(&JointRecord::of(&overlay.0))
    }

    /// The figures as text.
    #[rhai_fn(get = "summary", pure)]
    pub(crate) fn overlay_summary(overlay: &mut OverlayValue) -> String {
        overlay_words(&overlay.0).join("\n")
    }
}
