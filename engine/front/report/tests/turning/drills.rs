//! Drills of the axes and sweeps on the page.

use super::*;

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
