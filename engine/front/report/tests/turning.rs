//! Executions, drills of the axes and sweeps on the page.

use std::ops::ControlFlow;
use std::sync::Arc;

use dryturn_cube::{CubeState, Face, notation};
use dryturn_driving::{Detail, Machine, simulate};
use dryturn_handoff::{
    Blame, Cause, End, Energy, Jam, JamVerdict, LateReason, NEIGHBOURS, Plan, Power, Run, Stop,
    Trace,
};
use dryturn_record::{Exhibit, Record, ShownRun, Sweep};
use dryturn_rehearsal::Rehearser;
use dryturn_report::page;
use dryturn_scene::Scene;
use dryturn_studies::TurningDrill;
use dryturn_units::noise::Seed;
use serde_json::json;

fn scene() -> Arc<Scene> {
    let text = include_str!("../../../../scenes/workbench.ron");
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
        late_face: Face::U,
        late_angle_deg: -1.75,
        allowed_deg: 1.25,
        blocked_face: Face::R,
        blocked_angle_deg: 4.5,
        strained_face: Face::R,
        peak_torque_n_m: 0.875,
        safety_factor_ratio: 1.5,
        verdict,
        noticed_s: (verdict == JamVerdict::Stalled).then_some(time_s + 0.01),
        blame: Blame { reason: LateReason::EncoderOff, off_deg: 2.0 },
    }
}

#[test]
fn an_execution_shows_its_figures() {
    let run = run();
    let page = shown_run(run.clone());
    contains(
        &page,
        &[
            "Execution: eight &lt;turns&gt; &amp; &quot;more&quot;",
            "Completed.",
            "8 turns in 7 beats",
            &format!("{:.1} ms from the first command", run.total_s * 1e3),
            &format!("faster than {:.1} ms", run.bound_s * 1e3),
            &format!("The supply gave {:.1} J", run.energy.supply_j),
            &format!("<td>{:.3}</td>", run.energy.copper_j),
            &format!("<td>{:.2}</td>", run.axes[2].peak_torque_n_m),
            &format!("jams from {:.2}°", run.jam_deg),
            &format!("<td>{:.3}</td>", run.axes[0].budget.sum_deg()),
            "the shaft alone carries it",
            "unaccounted for",
            "see the cautions at the end",
            "Before you go near the hardware",
        ],
    );
    assert!(!page.contains("brought to a stand"));
    // Angle, speed, current, clearance or a sentence, voltage, heat; each names its unit.
    contains(&page, &["since the start, °", "rad/s", "motor, A", "voltage, V", "Temperature, °C"]);
    assert!((5..=6).contains(&count(&page, "<svg class=\"course\"")));
    assert_eq!(count(&page, "time from the start, ms"), count(&page, "class=\"course\"") + 1);
}

#[test]
fn a_jam_and_what_was_pushed_through_are_told() {
    let ended = jam(JamVerdict::Stalled, 0.2);
    let pushed = vec![jam(JamVerdict::PushedThrough, 0.1)];
    let page = shown_run(Run { end: End::Jammed(ended), pushed, ..run() });
    contains(
        &page,
        &[
            "verdict jammed",
            "Jammed in beat 4 at 200.0 ms: R could not turn, U was 1.75° off its stop (about 1.25° pass)",
            "One face was brought to a stand and got through.",
            "<td>R after 4.5°</td><td>U by −1.75°</td><td>1.25</td><td>0.88</td>",
            "1.50 ▼ under 2",
            "<td>pushed through</td><td>not noticed</td>",
            "<td>stalled</td><td>210.0</td>",
            "its encoder sits off its face (2.00°)",
            "jam: R blocked by U",
        ],
    );
    assert!(page.find("<td>100.0</td>").unwrap() < page.find("<td>200.0</td>").unwrap());
}

#[test]
fn another_stop_is_told() {
    let stop = Stop { time_s: 0.15, beat: 2, cause: Cause::OverVoltage };
    let page = shown_run(Run { end: End::Stopped(stop), ..run() });
    contains(
        &page,
        &[
            "verdict stopped",
            "Stopped in beat 3 at 150.0 ms: the bus voltage rose too far.",
            "stop: the bus voltage rose too far",
            "until it was broken off",
        ],
    );
}

#[test]
fn without_a_trace_there_are_no_charts() {
    let machine = Machine::of(&scene());
    let run = machine.run(&CubeState::SOLVED, &plan(), Seed::new(1).trial(0), Detail::Figures);
    let page = shown_run(run);
    assert_eq!(count(&page, "<svg class=\"course\""), 0);
    assert_eq!(count(&page, "<svg class=\"timing\""), 1);
}

/// Only the lists that are not empty are drawn.
#[test]
fn a_trace_of_angles_alone_is_one_chart() {
    let run = run();
    let Trace { step_s, angles_deg, .. } = run.trace.clone();
    let page = shown_run(Run { trace: Trace { step_s, angles_deg, ..Trace::default() }, ..run });
    assert_eq!(count(&page, "<svg class=\"course\""), 1);
}

/// Figures that are no numbers are dashes, never text for them.
#[test]
fn broken_figures_stay_off_the_page() {
    let nan = f64::NAN;
    let mut run = run();
    run.trace.bus_v.fill(nan);
    run.trace.winding_c[3] = f64::INFINITY;
    run.trace.angles_deg.iter_mut().for_each(|angles| angles[1] = nan);
    run.trace.gaps_mm[5] = [f64::NEG_INFINITY; NEIGHBOURS];
    let axes = run.axes.map(|axis| dryturn_handoff::AxisLoad { peak_torque_n_m: nan, ..axis });
    let page = shown_run(Run {
        total_s: nan,
        bound_s: 0.0,
        energy: Energy::default(),
        power: Power { lowest_v: f64::INFINITY, ..Power::default() },
        axes,
        ..run
    });
    assert!(!page.contains("NaN") && !page.contains(">inf"), "{page}");
    contains(&page, &["<td>–</td>"]);
}

/// A quarter of a megabyte is enough for two hundred turns.
#[test]
fn a_long_run_stays_small() {
    let turns = notation::parse(&"R U2 F' D L B2 U D' ".repeat(25)).unwrap();
    let long = Plan::of_turns(&turns);
    let run = simulate(&scene(), &CubeState::SOLVED, &long, Seed::new(1).trial(0));
    assert!(run.trace.angles_deg.len() > 10_000 && run.beats.len() > 150);
    let page = shown_run(run);
    assert!(page.len() < 250_000, "{} bytes", page.len());
}

/// And for half a minute of noise in all lists.
#[test]
fn noise_stays_small() {
    let samples = 60_000;
    let noise = |k: usize| ((k * 7919) % 2003) as f64 - 1001.0;
    let lanes = |scale: f64| -> Vec<[f64; 6]> {
        (0..samples).map(|k| core::array::from_fn(|i| scale * noise(k + 31 * i))).collect()
    };
    let list = |from: f64| (0..samples).map(|k| from + noise(k) / 500.0).collect();
    let gaps = (0..samples).map(|k| core::array::from_fn(|i| noise(k + i) / 5000.0)).collect();
    let trace = Trace {
        step_s: 5e-4,
        angles_deg: lanes(1.0),
        encoders_deg: lanes(1.0),
        speeds_rad_s: lanes(0.2),
        currents_a: lanes(0.01),
        gaps_mm: gaps,
        bus_v: list(48.0),
        resistor_c: list(60.0),
        winding_c: list(40.0),
    };
    let page = shown_run(Run { trace, total_s: 30.0, ..run() });
    assert!(page.len() < 250_000, "{} bytes", page.len());
    assert_eq!(count(&page, "<svg class=\"course\""), 6);
}

fn drill(executions: usize) -> TurningDrill {
    let plans = Arc::new(vec![plan().as_ref().clone()]);
    let go = |_| ControlFlow::Continue(());
    TurningDrill::of(&Rehearser::new(Seed::new(1)), &scene(), &plans, executions, &go).unwrap()
}

/// Twenty executions without a jam: Wilson's interval ends at z²/(n + z²) = 16.11 %, the
/// exact bound is 1 − 0.05^(1/20) = 13.91 %; 299 without a failure support "under 1 %" and
/// 2995 "under 0.1 %" (B. D. Jovanovic and P. S. Levy, Am. Stat. 51, 1997).
#[test]
fn a_drill_without_jams_shows_what_that_says() {
    let drill = drill(20);
    assert_eq!((drill.jams(), drill.stops(), drill.pushed()), (0, 0, 0));
    let (median, (low, high)) = drill.time_s(0.5).unwrap();
    let page = shown(Exhibit::Turning(Arc::new(drill)));
    contains(
        &page,
        &[
            "<td>failed, all causes</td><td>0</td><td>0.0</td><td>0.00 to 16.11</td>",
            "At most 13.91 % of executions fail",
            "“fewer than 1 % fail” takes 279 further executions without a failure",
            "“fewer than 0.1 % fail” takes 2975 further executions",
            &format!(
                "<td>median</td><td>{:.1}</td><td>{:.1} to {:.1}</td>",
                median * 1e3,
                low * 1e3,
                high * 1e3
            ),
            "Histogram of execution times",
            "least safety factor",
            "see the cautions at the end",
        ],
    );
    assert!(!page.contains("Who blocked whom") && !page.contains("did not complete"));
}

#[test]
fn a_drill_with_jams_names_them() {
    let mut drill = drill(30);
    for execution in &mut drill.executions[..25] {
        execution.jam = Some(jam(JamVerdict::Stalled, 0.1));
    }
    drill.executions[28].pushed = vec![jam(JamVerdict::PushedThrough, 0.1)];
    drill.executions[29].stop =
        Some(Stop { time_s: 0.1, beat: 1, cause: Cause::FollowingError(Face::B) });
    drill.executions[29].safety_factor_ratio = 1.25;
    let page = shown(Exhibit::Turning(Arc::new(drill)));
    contains(
        &page,
        &[
            "<td>completed</td><td>4</td>",
            "<td>failed, all causes</td><td>26</td><td>86.7</td>",
            "<td>of them: jam</td><td>25</td>",
            "<td>of them: drive stop</td><td>1</td>",
            "<td>B was too far from its set-point</td><td>drive stop</td><td>1</td>",
            "is not what these executions show: 26 of 30 failed",
            "<td>U</td><td>R</td><td>against</td><td>25</td><td>1</td><td>1.75</td>",
            "<td>B</td><td>0</td><td>0</td><td>0</td><td>1</td>",
            "1.25 ▼ under 2",
            "26 in all; the first 20.",
            // Beat 4 of the plan turns no R: only the late face's turn is known.
            "<td>0</td><td>1</td><td>jam</td><td>beat 4 at 100.0 ms: R could not turn",
            "<td>U2 late</td>",
            "its encoder sits off its face (2.00°)",
        ],
    );
    assert!(!page.contains("further executions"));
}

/// Shafts that break without a jam are failures like any other: in the table, in the bound,
/// in the advice, and at the shafts that broke.
#[test]
fn broken_shafts_are_failures() {
    let mut drill = drill(12);
    for (execution, face) in drill.executions.iter_mut().zip([Face::U, Face::R].into_iter().cycle())
    {
        let cause = Cause::ShaftBroken(face);
        execution.stop = Some(Stop { time_s: 0.05, beat: 0, cause });
    }
    drill.executions[11].stop = None;
    drill.executions[11].jam = Some(jam(JamVerdict::ShaftBroken, 0.1));
    let page = shown(Exhibit::Turning(Arc::new(drill)));
    contains(
        &page,
        &[
            "<td>failed, all causes</td><td>12</td><td>100.0</td>",
            "<td>of them: broken shaft, no jam</td><td>11</td>",
            "<td>of them: jam that broke a shaft</td><td>1</td>",
            "At most 100.00 % of executions fail",
            "is not what these executions show: 12 of 12 failed",
            "A shaft broke under the torque of turning, with nothing in its way.",
            "<td>the shaft of U broke</td><td>broken shaft, no jam</td><td>6</td>",
            // U was late in the jam that broke the shaft of R.
            "<td>U</td><td>1</td><td>0</td><td>6</td><td>6</td>",
            "<td>R</td><td>0</td><td>1</td><td>6</td><td>5</td>",
            "No execution was completed.",
        ],
    );
    assert!(!page.contains("further executions"));
}

#[test]
fn a_drill_of_nothing_says_so() {
    contains(&shown(Exhibit::Turning(Arc::new(drill(0)))), &["Nothing was executed."]);
}

fn sweep(points: Vec<(f64, Arc<TurningDrill>)>) -> String {
    let (title, setting) = ("over <it>".to_owned(), "angle <a>, °".to_owned());
    shown(Exhibit::Sweep(Arc::new(Sweep { title, setting, points, names: Vec::new() })))
}

/// Where all failures stand in a page's first picture of marks.
fn places(page: &str) -> Vec<f64> {
    let svg = page.split("<svg class=\"marks\"").nth(1).unwrap().split("</svg>").next().unwrap();
    let spots = svg.split("class=\"spot total\" transform=\"translate(").skip(1);
    spots.map(|spot| spot.split(' ').next().unwrap()).map(|x| x.parse().unwrap()).collect()
}

#[test]
fn a_sweep_is_drawn_over_its_setting() {
    let (few, many) = (Arc::new(drill(4)), drill(8));
    let mut many = many;
    many.executions[0].jam = Some(jam(JamVerdict::Stalled, 0.1));
    let many = Arc::new(many);
    let page = sweep(vec![(1.0, few.clone()), (10.0, few.clone()), (100.0, many.clone())]);
    let at = places(&page);
    assert!((at[1] - at[0] - (at[2] - at[1])).abs() < 0.2, "by ratio: {at:?}");
    contains(
        &page,
        &[
            "over &lt;it&gt;",
            "angle &lt;a&gt;, °",
            // Wilson for 1 of 8, by his formula, reckoned apart from this program.
            "<td>100</td><td>8</td><td>1</td><td>12.50</td><td>2.24 to 47.09</td>",
            "see the cautions at the end",
        ],
    );
    assert_eq!(count(&page, "<svg class=\"marks\""), 2);
    // Causes are drawn where they occur.
    assert!(
        page.contains("class=\"series kind-jam\"") && !page.contains("class=\"series kind-broke\"")
    );
    let at = places(&sweep(vec![(1.0, few.clone()), (2.0, few.clone()), (4.0, many.clone())]));
    assert!((2.0 * (at[1] - at[0]) - (at[2] - at[1])).abs() < 0.3, "by difference: {at:?}");
    let at = places(&sweep(vec![(0.0, few.clone()), (50.0, few), (100.0, many)]));
    assert!((at[1] - at[0] - (at[2] - at[1])).abs() < 0.2, "0 has no ratio: {at:?}");
}

/// No point shows nothing where something broke, and causes are told apart.
#[test]
fn a_sweep_shows_all_failures_split_by_cause() {
    let mut weak = drill(8);
    for execution in &mut weak.executions {
        let cause = Cause::ShaftBroken(Face::L);
        execution.stop = Some(Stop { time_s: 0.05, beat: 0, cause });
    }
    let mut mixed = drill(8);
    mixed.executions[0].jam = Some(jam(JamVerdict::Stalled, 0.1));
    let cause = Cause::Watchdog;
    mixed.executions[1].stop = Some(Stop { time_s: 0.05, beat: 0, cause });
    let page = sweep(vec![(3.0, Arc::new(weak)), (8.0, Arc::new(mixed))]);
    contains(
        &page,
        &[
            "Share of executions that fail, %",
            "3: 8 of 8 fail (broken shaft, no jam 8)",
            "8: 2 of 8 fail (jam 1; watchdog 1)",
            "<li><svg",
            "all failures</li>",
            "<th>jam</th><th>broken shaft, no jam</th><th>watchdog</th>",
            "<td>3</td><td>8</td><td>8</td><td>100.00</td><td>67.56 to 100.00</td><td>0</td><td>8</td><td>0</td>",
        ],
    );
    for class in ["total", "kind-jam", "kind-broke", "kind-watchdog"] {
        // In the picture and in its key.
        assert!(count(&page, &format!("class=\"series {class}\"")) >= 2, "{class}");
    }
}

#[test]
fn sweeps_of_one_point_or_none_are_pages_too() {
    let page = sweep(vec![(0.5, Arc::new(drill(3)))]);
    assert_eq!(places(&page).len(), 1);
    contains(&sweep(Vec::new()), &["Nothing was executed."]);
    let page = sweep(vec![(0.5, Arc::new(drill(0)))]);
    assert!(places(&page).is_empty());
    contains(&page, &["No execution was completed."]);
}

/// The first six passes are shown in full, the others with the timing chart alone; a stop
/// is told in the verdict.
#[test]
fn passes_show_their_execution() {
    let stopped = scene().with("faults.emergency_stop_at_ms", json!(200.0)).unwrap();
    let (scene, rehearser) = (Arc::new(stopped), Rehearser::new(Seed::new(1)));
    let rig = rehearser.build(&scene, 0);
    let calibration = rig.calibrate().unwrap();
    let pass = rehearser.rehearse(&rig, &calibration, &rehearser.random_cube(0)).unwrap();
    let budget = pass.start_to_stop().unwrap();
    let pass = Exhibit::Pass(Arc::new(pass));
    let page = page("t.rhai", 1, &Record { exhibits: vec![pass; 8], ..Record::default() });
    assert_eq!(count(&page, "<svg class=\"timing\""), 8);
    assert_eq!(count(&page, "<summary>Angle budget of each axis"), 6);
    // The budget of angles and that of time.
    assert_eq!(count(&page, "<svg class=\"stacked\""), 12);
    contains(
        &page,
        &[
            "verdict stopped",
            "200.0 ms: emergency stop.",
            &format!("<td>whole</td><td>{:.1}</td><td>100.0</td>", budget.total_s() * 1e3),
            &format!("search {:.1} ms", budget.search_s * 1e3),
        ],
    );
}
