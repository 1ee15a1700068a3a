//! Executions on the page.

use super::*;

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
