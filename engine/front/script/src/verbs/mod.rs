//! The verbs: what a script can do, a file or several for each chapter of the page of verbs. A verb is one
//! function there: its name, its arguments, what is said of it and how it is registered.

use std::sync::Arc;

use rhai::plugin::combine_with_exported_module;
use rhai::{Dynamic, Engine, Module, NativeCallContext};

use crate::session::{Fallible, Session, fault};
use crate::values::handles::RigValue;

mod axes;
mod axis_logs;
mod cubes;
mod drills;
mod guests;
mod identified;
mod output;
mod overlays;
mod passes;
mod pictures;
mod planning;
mod readers;
mod readings;
mod rig_plans;
mod run_logs;
mod runs;
mod scenes;
mod stages;
mod sweeps;
mod tuning;
mod turning;
mod turning_failures;

macro_rules! chapters {
    ($($heading:literal: $($file:ident),+;)+) => {
        /// Headings with their verbs, in the order of the page.
        pub(crate) fn chapters() -> Vec<(&'static str, Module)> {
            vec![$({
                let mut verbs = Module::new();
                $(combine_with_exported_module!(&mut verbs, "", $file::verbs);)+
                verbs.build_index();
                ($heading, verbs)
            }),+]
        }
    };
}

chapters! {
    "Scenes": scenes;
    "Cubes": cubes;
    "Stages": stages, readings, planning;
    "Axes": axes, runs;
    "Drills of the axes": turning, turning_failures, sweeps;
    "Tuning": tuning;
    "Plans for a tuned rig": rig_plans;
    "Logs of axes": axis_logs, run_logs, identified, overlays;
    "Layouts and pictures": pictures;
    "Calibrations and readers": readers;
    "Whole passes": passes;
    "Drills": drills;
    "Expectations and output": output;
}

/// What the engine is tagged with, for verbs to find their session.
#[derive(Clone)]
struct Tag(Arc<Session>);

/// Registers every verb for a session.
pub(crate) fn register(engine: &mut Engine, session: &Arc<Session>) {
    engine.set_default_tag(Dynamic::from(Tag(session.clone())));
    for (_, verbs) in chapters() {
        engine.register_global_module(verbs.into());
    }
}

/// The session that a verb is called in.
fn session(context: &NativeCallContext) -> Fallible<Arc<Session>> {
    match context.tag().and_then(|tag| tag.clone().try_cast::<Tag>()) {
        Some(Tag(session)) => Ok(session),
        None => fault("this verb is called outside of a script"),
    }
}

/// The session, where a verb begins that may take long; `trial` where it is about one rig.
fn begin(context: &NativeCallContext, trial: Option<u64>) -> Fallible<Arc<Session>> {
    let session = session(context)?;
    session.begin(context, trial);
    Ok(session)
}

/// The same for a verb that works on a rig.
fn begin_on(context: &NativeCallContext, rig: &RigValue) -> Fallible<Arc<Session>> {
    begin(context, Some(rig.0.trial()))
}
