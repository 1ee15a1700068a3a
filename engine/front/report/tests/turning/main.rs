//! Executions, drills of the axes and sweeps on the page.

mod drills;
mod runs;

use std::ops::ControlFlow;
use std::sync::Arc;

use dryturn_cube::{CubeState, Face, notation};
use dryturn_driving::{Detail, Machine, simulate};
use dryturn_handoff::{
    Blame, Cause, End, Energy, Jam, JamVerdict, LateReason, Meeting, NEIGHBOURS, Plan, Power, Run,
    Stop, Trace,
};
use dryturn_record::{Exhibit, Record, ShownRun, Sweep};
use dryturn_rehearsal::Rehearser;
use dryturn_report::page;
use dryturn_scene::Scene;
use dryturn_studies::TurningDrill;
use dryturn_units::noise::Seed;
use serde_json::json;

fn scene() -> Arc<Scene> {
    let text = include_str!("../../../../../scenes/workbench.ron");
    Arc::new(Scene::parse(text, "workbench.ron").unwrap())
}

fn plan() -> Arc<Plan> {
    Arc::new(Plan::of_turns(&notation::parse("R U2 F' D L B2 U D'").unwrap()))
}

fn run() -> Run {
    simulate(&scene(), &CubeState::SOLVED, &plan(), Seed::new(1).trial(0))
}

/// The page less its style.
fn shown(exhibit: Exhibit) -> String {
    let page = page("t.rhai", 1, &Record { exhibits: vec![exhibit], ..Record::default() });
    let body = page.split("</style>").nth(1).unwrap().to_owned();
    for svg in body.split("<svg").skip(1) {
        let svg = svg.split("</svg>").next().unwrap();
        assert!(!svg.contains("NaN") && !svg.contains("inf"), "{svg}");
    }
    body
}

fn shown_run(run: Run) -> String {
    let title = "eight <turns> & \"more\"".to_owned();
    let shown_run = ShownRun { title, scene: scene(), plan: plan(), run: Arc::new(run) };
    shown(Exhibit::Run(Arc::new(shown_run)))
}

/// How often something is on the page.
fn count(page: &str, what: &str) -> usize {
    page.matches(what).count()
}

fn contains(page: &str, wanted: &[&str]) {
    for text in wanted {
        assert!(page.contains(text), "no {text:?}");
    }
}

fn jam(verdict: JamVerdict, time_s: f64) -> Jam {
    Jam {
        time_s,
        beat: 3,
        met: Meeting {
            late_face: Face::U,
            late_angle_deg: -1.75,
            allowed_deg: 1.25,
            blocked_face: Face::R,
            blocked_angle_deg: 4.5,
        },
        strained_face: Face::R,
        peak_torque_n_m: 0.875,
        safety_factor_ratio: 1.5,
        verdict,
        noticed_s: (verdict == JamVerdict::Stalled).then_some(time_s + 0.01),
        blame: Blame { reason: LateReason::EncoderOff, off_deg: 2.0 },
    }
}

fn drill(executions: usize) -> TurningDrill {
    let plans = Arc::new(vec![plan().as_ref().clone()]);
    let go = |_| ControlFlow::Continue(());
    TurningDrill::of(&Rehearser::new(Seed::new(1)), &scene(), &plans, executions, &go).unwrap()
}
