//! Verbs about logs of real axes: making them in simulation, measuring an axis, laying a
//! run's log over the simulated run.

use std::sync::Arc;

use dryturn_handoff::Content;
use dryturn_record::ledger::{IdentifyLine, Line, OverlayLine, SceneLine};
use dryturn_record::{Exhibit, ShownIdentification, ShownOverlay};
use dryturn_studies::overlay::Overlay;
use dryturn_studies::{
    Bench, BenchMove, LogNoise, logs_title, measured_block, motor, simulated_log, with_measured,
};
use rhai::{Array, Dynamic, Engine, Map, NativeCallContext};

use crate::expectations::number;
use crate::handles::{PlanValue, RigValue, RunValue, SceneValue};
use crate::log_handles::{AxisLogValue, IdentifiedValue, OverlayValue, RunLogValue};
use crate::optics_verbs::face;
use crate::session::{Fallible, Session, fault};
use crate::verbs::ok;

/// Most moves of one log, and most logs of one axis.
const MAX_MOVES: usize = 100;
const MAX_LOGS: usize = 100;
/// Moves unless others are given: quarter turns there, half turns back, at four speeds.
const SPEED_SHARES: [f64; 4] = [1.0, 0.7, 0.45, 0.25];
/// Share of the torque limit that they are planned with.
const TORQUE_SHARE: f64 = 0.7;
/// Noise unless other is given.
const NOISE: LogNoise =
    LogNoise { angle_sigma_deg: 0.02, speed_sigma_rad_s: 0.3, current_sigma_a: 0.03 };

fn usual_moves() -> Vec<BenchMove> {
    let to =
        |quarters, speed_share| BenchMove { quarters, speed_share, torque_share: TORQUE_SHARE };
    let pairs = SPEED_SHARES.into_iter().flat_map(|share| [to(1.0, share), to(-2.0, share)]);
    pairs.chain([to(1.0, 0.6)]).collect()
}

/// `[quarters, speed_share, torque_share]`; the last may be missing.
fn one_move(value: Dynamic) -> Fallible<BenchMove> {
    const SHAPE: &str = "a move is a list [quarters, speed_share] or [quarters, speed_share, \
                         torque_share]: 1, 2, -1 or -2 quarters, shares above 0 to 1";
    let list = value.try_cast::<Array>().unwrap_or_default();
    let numbers = list.iter().map(number).collect::<Fallible<Vec<f64>>>();
    let numbers = numbers.or_else(|_| fault(SHAPE))?;
    let (quarters, speed_share, torque_share) = match numbers[..] {
        [quarters, speed] => (quarters, speed, TORQUE_SHARE),
        [quarters, speed, torque] => (quarters, speed, torque),
        _ => return fault(SHAPE),
    };
    let share = |share: f64| share > 0.0 && share <= 1.0;
    if ![1.0, 2.0].contains(&quarters.abs()) || !share(speed_share) || !share(torque_share) {
        return fault(format!("{SHAPE}; not {numbers:?}"));
    }
    Ok(BenchMove { quarters, speed_share, torque_share })
}

fn moves(list: Array) -> Fallible<Vec<BenchMove>> {
    if list.is_empty() || list.len() > MAX_MOVES {
        return fault(format!("a log of {} moves: must be 1 to {MAX_MOVES}", list.len()));
    }
    list.into_iter().map(one_move).collect()
}

/// `#{ angle_deg, speed_rad_s, current_a }`, any of them.
fn noise(fields: &Map) -> Fallible<LogNoise> {
    let mut noise = LogNoise::default();
    for (name, value) in fields {
        let sigma = number(value)?;
        if !(0.0..=1e3).contains(&sigma) {
            return fault(format!("the noise {name} is {sigma}: must be 0 to 1000"));
        }
        *match name.as_str() {
            "angle_deg" => &mut noise.angle_sigma_deg,
            "speed_rad_s" => &mut noise.speed_sigma_rad_s,
            "current_a" => &mut noise.current_sigma_a,
            _ => {
                return fault(format!(
                    "{name:?} is no noise of a log: must be angle_deg, speed_rad_s or current_a"
                ));
            }
        } = sigma;
    }
    Ok(noise)
}

impl Session {
    fn bench(&self, rig: &RigValue, name: &str) -> Fallible<Bench> {
        Ok(Bench::of(rig.0.scene(), self.rehearser.seed().trial(rig.0.trial()), face(name)?))
    }

    fn bench_log(
        &self,
        rig: &RigValue,
        name: &str,
        moves: &[BenchMove],
        noise: LogNoise,
    ) -> Fallible<AxisLogValue> {
        Ok(AxisLogValue(self.made(ok(self.bench(rig, name)?.moves(moves, noise))?)))
    }

    fn coast_log(
        &self,
        rig: &RigValue,
        name: &str,
        spin_up: Dynamic,
        noise: LogNoise,
    ) -> Fallible<AxisLogValue> {
        let spin_up = one_move(spin_up)?;
        Ok(AxisLogValue(self.made(ok(self.bench(rig, name)?.coasting(&spin_up, noise))?)))
    }

    fn run_log(&self, rig: &RigValue, run: &RunValue, noise: LogNoise) -> RunLogValue {
        let names = self.rehearser.seed().trial(rig.0.trial());
        RunLogValue(self.made(simulated_log(&run.0.run, noise, names)))
    }

    fn identify(
        &self,
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
        let found = self.made(ok(motor::identify(&logs, scene.0.file(), held_out))?);
        self.log(Line::Identify(Box::new(IdentifyLine::of(&found))));
        let title = logs_title(logs.len(), &scene.0);
        let shown = ShownIdentification { title, found: found.clone() };
        self.show(Exhibit::Identified(Arc::new(shown)));
        let block = measured_block(&found, &found.warnings);
        Ok(IdentifiedValue(Arc::new((found, block))))
    }

    fn overlay(
        &self,
        scene: &SceneValue,
        plan: &PlanValue,
        log: &RunLogValue,
    ) -> Fallible<OverlayValue> {
        let log = ok(motor::run_log(&log.0.csv(), &plan.0))?;
        let overlay = self.made(ok(Overlay::of(&scene.0, &plan.0, &Arc::new(log)))?);
        self.log(Line::Overlay(Box::new(OverlayLine::of(&overlay))));
        let title = scene.0.file().name.clone();
        let shown = ShownOverlay { title, overlay: overlay.clone() };
        self.show(Exhibit::Overlay(Arc::new(shown)));
        Ok(OverlayValue(overlay))
    }

    /// A scene with the figures that were measured.
    fn with_measured(&self, scene: &SceneValue, found: &IdentifiedValue) -> Fallible<SceneValue> {
        let scene = ok(with_measured(&scene.0, &found.0.0))?;
        self.log(Line::Scene(SceneLine::of(&scene)));
        Ok(SceneValue(Arc::new(scene)))
    }
}

/// Registers the verbs.
pub(crate) fn register(engine: &mut Engine, session: &Arc<Session>) {
    let s = session.clone();
    engine.register_fn(
        "bench_log",
        move |context: NativeCallContext, rig: RigValue, name: &str| {
            s.begin(&context, Some(rig.0.trial()));
            s.bench_log(&rig, name, &usual_moves(), NOISE)
        },
    );
    let s = session.clone();
    engine.register_fn(
        "bench_log",
        move |context: NativeCallContext, rig: RigValue, name: &str, list: Array| {
            s.begin(&context, Some(rig.0.trial()));
            s.bench_log(&rig, name, &moves(list)?, NOISE)
        },
    );
    let s = session.clone();
    engine.register_fn(
        "bench_log",
        move |context: NativeCallContext, rig: RigValue, name: &str, list: Array, own: Map| {
            s.begin(&context, Some(rig.0.trial()));
            s.bench_log(&rig, name, &moves(list)?, noise(&own)?)
        },
    );
    let s = session.clone();
    engine.register_fn(
        "coast_log",
        move |context: NativeCallContext, rig: RigValue, name: &str, spin_up: Array| {
            s.begin(&context, Some(rig.0.trial()));
            s.coast_log(&rig, name, spin_up.into(), NOISE)
        },
    );
    let s = session.clone();
    engine.register_fn(
        "coast_log",
        move |context: NativeCallContext, rig: RigValue, name: &str, spin_up: Array, own: Map| {
            s.begin(&context, Some(rig.0.trial()));
            s.coast_log(&rig, name, spin_up.into(), noise(&own)?)
        },
    );
    let s = session.clone();
    engine.register_fn(
        "run_log",
        move |context: NativeCallContext, rig: RigValue, run: RunValue| {
            s.begin(&context, Some(rig.0.trial()));
            s.run_log(&rig, &run, NOISE)
        },
    );
    let s = session.clone();
    engine.register_fn(
        "run_log",
        move |context: NativeCallContext, rig: RigValue, run: RunValue, own: Map| {
            s.begin(&context, Some(rig.0.trial()));
            Ok::<_, Box<rhai::EvalAltResult>>(s.run_log(&rig, &run, noise(&own)?))
        },
    );
    let s = session.clone();
    engine.register_fn(
        "save_log",
        move |context: NativeCallContext, log: AxisLogValue, name: &str| {
            s.begin(&context, None);
            s.save(&format!("{name}.csv"), Content::Text(log.0.log.csv()))
        },
    );
    let s = session.clone();
    engine.register_fn(
        "save_log",
        move |context: NativeCallContext, log: RunLogValue, name: &str| {
            s.begin(&context, None);
            s.save(&format!("{name}.csv"), Content::Text(log.0.csv()))
        },
    );
    let s = session.clone();
    engine.register_fn(
        "identify",
        move |context: NativeCallContext, scene: SceneValue, logs: Array| {
            s.begin(&context, None);
            s.identify(&scene, logs, None)
        },
    );
    let s = session.clone();
    engine.register_fn(
        "identify",
        move |context: NativeCallContext, scene: SceneValue, logs: Array, held_out: i64| {
            s.begin(&context, None);
            s.identify(&scene, logs, Some(held_out))
        },
    );
    let s = session.clone();
    engine.register_fn(
        "overlay",
        move |context: NativeCallContext, scene: SceneValue, plan: PlanValue, log: RunLogValue| {
            s.begin(&context, None);
            s.overlay(&scene, &plan, &log)
        },
    );
    let s = session.clone();
    engine.register_fn(
        "with_measured",
        move |context: NativeCallContext, scene: SceneValue, found: IdentifiedValue| {
            s.begin(&context, None);
            s.with_measured(&scene, &found)
        },
    );
}
