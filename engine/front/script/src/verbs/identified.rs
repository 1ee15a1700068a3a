//! What logs of an axis tell: its figures.

use std::sync::Arc;

use dryturn_record::ledger::{IdentifyLine, Line};
use dryturn_record::{Exhibit, ShownIdentification};
use dryturn_studies::motor::{self, Identified, Limit, LimitKind, Parameter};
use dryturn_studies::{identified_words, logs_title, measured_block};
use rhai::plugin::export_module;
use rhai::{Array, Dynamic, NativeCallContext};

use super::{begin, scenes};
use crate::session::{Fallible, Session, fault};
use crate::values::answers::{float_or_unit, text_or_unit};
use crate::values::arguments::ok;
use crate::values::handles::{AxisLogValue, IdentifiedValue, SceneValue};

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
}
