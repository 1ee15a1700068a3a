//! What can be asked of logs and of what they tell.

use std::sync::Arc;

use dryturn_handoff::RunLog;
use dryturn_record::ledger::{BeatOffRecord, CauseRecord, JointRecord, OutcomeWord, ToldRecord};
use dryturn_studies::motor::{Identified, Limit, LimitKind, Parameter};
use dryturn_studies::overlay::Overlay;
use dryturn_studies::{BenchLog, identified_words, overlay_words};
use rhai::{Dynamic, Engine, Map};

use crate::handles::{float_or_unit, int};
use crate::optics_verbs::shown;
use crate::session::{Fallible, fault};

/// A log of one axis.
#[derive(Clone)]
pub(crate) struct AxisLogValue(pub(crate) Arc<BenchLog>);
/// A log of a run.
#[derive(Clone)]
pub(crate) struct RunLogValue(pub(crate) Arc<RunLog>);
/// What logs tell, and the block for the scene.
#[derive(Clone)]
pub(crate) struct IdentifiedValue(pub(crate) Arc<(Arc<Identified>, String)>);
/// A log over a run.
#[derive(Clone)]
pub(crate) struct OverlayValue(pub(crate) Arc<Overlay>);

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

fn value(found: &Identified, key: &str) -> Fallible<Dynamic> {
    Ok(float_or_unit(match asked(found, key)? {
        Asked::Parameter(parameter) => found.value(parameter),
        Asked::Limit(kind) => found.limit(kind).and_then(|limit| limit.reached),
    }))
}

fn error(found: &Identified, key: &str) -> Fallible<Dynamic> {
    Ok(float_or_unit(match asked(found, key)? {
        Asked::Parameter(parameter) => found.estimate(parameter).and_then(|own| own.error),
        Asked::Limit(_) => None,
    }))
}

fn because(found: &Identified, key: &str) -> Fallible<Dynamic> {
    let why = match asked(found, key)? {
        Asked::Parameter(parameter) => found.estimate(parameter).and_then(|own| own.open.clone()),
        Asked::Limit(kind) => {
            let open = |limit: &&Limit| limit.reached.is_none();
            found.limit(kind).filter(open).map(|limit| limit.because.clone())
        }
    };
    Ok(why.map_or(Dynamic::UNIT, Into::into))
}

/// What the simulated axis really is.
fn truth(log: &BenchLog) -> Map {
    let mean = log.friction_n_m.iter().sum::<f64>() / log.friction_n_m.len().max(1) as f64;
    [
        ("inertia_kg_m2", log.inertia_kg_m2),
        ("friction_n_m", mean),
        ("constant_n_m_per_a", log.constant_n_m_per_a),
        ("limit_n_m", log.limit_n_m),
    ]
    .into_iter()
    .map(|(key, value)| (key.into(), Dynamic::from_float(value)))
    .collect()
}

/// Registers types and what can be asked of their values.
pub(crate) fn register(engine: &mut Engine) {
    engine.register_type_with_name::<AxisLogValue>("AxisLog");
    engine.register_type_with_name::<RunLogValue>("RunLog");
    engine.register_type_with_name::<IdentifiedValue>("Identified");
    engine.register_type_with_name::<OverlayValue>("Overlay");
    engine.register_get("samples", |log: &mut AxisLogValue| int(log.0.log.len()));
    engine.register_get("samples", |log: &mut RunLogValue| int(log.0.time_s.len()));
    engine.register_get("truth", |log: &mut AxisLogValue| truth(&log.0));
    engine.register_fn("value", |f: IdentifiedValue, key: &str| value(&f.0.0, key));
    engine.register_fn("error", |f: IdentifiedValue, key: &str| error(&f.0.0, key));
    engine.register_fn("because", |f: IdentifiedValue, key: &str| because(&f.0.0, key));
    engine.register_get("accepted", |f: &mut IdentifiedValue| f.0.0.held_out.accepted());
    engine.register_get("torque_off_share", |f: &mut IdentifiedValue| {
        f.0.0.held_out.torque_off_share
    });
    engine
        .register_get("angle_off_share", |f: &mut IdentifiedValue| f.0.0.held_out.angle_off_share);
    engine.register_get("constant_n_m_per_a", |f: &mut IdentifiedValue| f.0.0.constant_n_m_per_a);
    engine.register_get("block", |f: &mut IdentifiedValue| f.0.1.clone());
    engine.register_get("summary", |f: &mut IdentifiedValue| identified_words(&f.0.0).join("\n"));
    register_overlay(engine);
}

fn register_overlay(engine: &mut Engine) {
    engine.register_get("rms_ms", |o: &mut OverlayValue| o.0.rms_ms);
    engine.register_get("ends_early", |o: &mut OverlayValue| o.0.ends_early);
    engine.register_get("explained", |o: &mut OverlayValue| o.0.explained());
    engine.register_get("beats_off", |o: &mut OverlayValue| shown(&BeatOffRecord::all(&o.0.beats)));
    engine.register_get("causes", |o: &mut OverlayValue| shown(&CauseRecord::all(&o.0)));
    engine.register_get("outcome", |o: &mut OverlayValue| shown(&OutcomeWord::of(&o.0)));
    engine.register_get("told", |o: &mut OverlayValue| shown(&ToldRecord::all(&o.0)));
    engine.register_get("joint", |o: &mut OverlayValue| shown(&JointRecord::of(&o.0)));
    engine.register_get("summary", |o: &mut OverlayValue| overlay_words(&o.0).join("\n"));
}
