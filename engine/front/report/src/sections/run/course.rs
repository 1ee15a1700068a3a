//! The course of a run as charts: angle, speed and current of each shaft, clearance of
//! neighbours, voltage and heat. Only what the trace has is drawn.

use dryturn_cube::Face;
use dryturn_handoff::{Run, neighbours};
use dryturn_scene::Scene;
use maud::{Markup, html};

use crate::charts::lanes::{self, Lane, Level, Line};
use crate::charts::scale::{Scale, round_step, round_up};
use crate::html::figures::figure;

/// Points that all the lines of a run may have together.
const POINTS: usize = 22_000;
/// Pairs of neighbours that are drawn.
const PAIRS: usize = 6;
/// Columns of a thinned line: no fewer, no more.
const COLUMNS: (usize, usize) = (100, 500);

/// All charts of a run; none without a trace.
pub(in crate::sections) fn charts(run: &Run, scene: &Scene) -> Option<Markup> {
    let trace = &run.trace;
    if trace.angles_deg.is_empty() {
        return None;
    }
    let close = close_pairs(run, scene);
    let shown = close.len().min(PAIRS);
    let lists = [&trace.angles_deg, &trace.speeds_rad_s, &trace.currents_a];
    let by_shaft: usize = lists.iter().map(|list| if list.is_empty() { 0 } else { 6 }).sum();
    let columns = (POINTS / 2 / (by_shaft + shown + 3)).clamp(COLUMNS.0, COLUMNS.1);
    let (low, high) = ends(&trace.angles_deg);
    let range = ((low / 90.0).floor() * 90.0, ((high / 90.0).ceil() * 90.0).max(90.0));
    let heading = "Angle that each face has turned since the start, ° (clockwise positive)";
    let signed = |heading: &str, unit: &str, values: &[[f64; 6]]| {
        let (low, high) = ends(values);
        let most = round_up(high.max(-low));
        by_face(run, (heading, unit), values, ((-most, most), 36.0), columns)
    };
    Some(html! {
        (remarks(run))
        (by_face(run, (heading, "°"), &trace.angles_deg, (range, 48.0), columns))
        (signed("Speed of each motor, rad/s", "rad/s", &trace.speeds_rad_s))
        (signed("Current of each motor, A (direct-current equivalent)", "A", &trace.currents_a))
        (clearance(run, scene, &close, columns))
        (voltage(run, scene, columns))
        (heat(run, columns))
    })
}

/// What bands and upright lines are.
fn remarks(run: &Run) -> Markup {
    html! {
        p.aside {
            @if lanes::has_bands(run) { "Bands: every other beat." }
            @if run.failure().is_some() { " Thick line: where it was broken off." }
            @if run.jam().is_some_and(|jam| jam.noticed_s.is_some()) {
                " Dashed line: when the drives noticed."
            }
            @if !run.pushed.is_empty() {
                " Thin lines: faces that were brought to a stand and got through."
            }
        }
    }
}

/// The lowest and the highest of some values and 0.
fn ends<const N: usize>(values: &[[f64; N]]) -> (f64, f64) {
    let finite = || values.iter().flatten().copied().filter(|value| value.is_finite());
    (finite().fold(0.0, f64::min), finite().fold(0.0, f64::max))
}

/// A lane for each face: heading and unit, values, range and height of a lane.
fn by_face(
    run: &Run,
    (heading, unit): (&str, &str),
    values: &[[f64; 6]],
    (range, height): ((f64, f64), f64),
    columns: usize,
) -> Markup {
    if values.is_empty() {
        return html! {};
    }
    let step = round_step(range.1 - range.0, 4);
    // Nothing first: where figures do not fit, the ends' are left out.
    let ticks = vec![0.0, range.1, range.0];
    let lane = |face: Face| {
        let own: Vec<f64> = values.iter().map(|all| all[face.index()]).collect();
        let (low, high) =
            own.iter().fold((0.0, 0.0), |(l, h): (f64, f64), v| (l.min(*v), h.max(*v)));
        Lane {
            name: face.to_string(),
            height,
            range,
            ticks: (ticks.clone(), step),
            levels: vec![Level { value: 0.0, name: String::new() }],
            negative_is_bad: false,
            lines: vec![Line {
                class: "first",
                title: format!("{face}: {} to {} {unit}", figure(low, 1), figure(high, 1)),
                values: own,
            }],
        }
    };
    lanes::chart(run, heading, &Face::ALL.map(lane), columns)
}

/// Pairs that come nearer than the cube's play, the nearest first, with how near.
fn close_pairs(run: &Run, scene: &Scene) -> Vec<(usize, f64)> {
    let play_mm = scene.file().cube.clearance_mm;
    let least = |pair: usize| {
        let gaps = run.trace.gaps_mm.iter().map(|gaps| gaps[pair]);
        gaps.filter(|gap| gap.is_finite()).fold(f64::INFINITY, f64::min)
    };
    let mut close: Vec<(usize, f64)> = (0..neighbours().len())
        .map(|pair| (pair, least(pair)))
        .filter(|(_, gap)| *gap < play_mm)
        .collect();
    close.sort_by(|a, b| a.1.total_cmp(&b.1).then(a.0.cmp(&b.0)));
    close
}

fn clearance(run: &Run, scene: &Scene, close: &[(usize, f64)], columns: usize) -> Markup {
    let (gaps, play_mm) = (&run.trace.gaps_mm, scene.file().cube.clearance_mm);
    if gaps.is_empty() {
        return html! {};
    }
    let most = ends(gaps).1.max(play_mm);
    let play = figure(play_mm, 2);
    let Some(&(_, least)) = close.first() else {
        return html! {
            p { "No pair of neighbouring faces came nearer than the cube's play, " (play) " mm." }
        };
    };
    // Some room below zero even where nothing gets there.
    let range = (least.min(-0.2 * most), most);
    let lane = |&(pair, least): &(usize, f64)| {
        let (one, other) = neighbours()[pair];
        Lane {
            name: format!("{one}–{other}"),
            height: 36.0,
            range,
            ticks: (vec![0.0, range.1, range.0], round_step(range.1 - range.0, 8)),
            levels: vec![Level { value: play_mm, name: String::new() }],
            negative_is_bad: true,
            lines: vec![Line {
                class: "first",
                title: format!("{one} and {other}: {} mm at the nearest", figure(least, 3)),
                values: gaps.iter().map(|gaps| gaps[pair]).collect(),
            }],
        }
    };
    let drawn: Vec<Lane> = close.iter().take(PAIRS).map(lane).collect();
    let heading = "Clearance between the pieces of neighbouring faces, mm";
    let more = close.len().saturating_sub(PAIRS);
    html! {
        (lanes::chart(run, heading, &drawn, columns))
        p.aside {
            "Pairs that came nearer than the cube's play of " (play) " mm (dashed), the nearest \
             first"
            @if more > 0 { "; " (more) " more are not drawn" }
            ". Capped at play and lift; below zero, tinted, the rounded edges meet."
        }
    }
}

fn pick(values: &[f64], pick: fn(f64, f64) -> f64, from: f64) -> f64 {
    values.iter().copied().filter(|v| v.is_finite()).fold(from, pick)
}

/// A chart of one lane with its figures.
fn one_lane(
    run: &Run,
    heading: &str,
    (range, height, most): ((f64, f64), f64, usize),
    levels: Vec<Level>,
    lines: Vec<Line>,
    columns: usize,
) -> Markup {
    let lane = Lane {
        name: String::new(),
        height,
        range,
        ticks: Scale::linear(range, (0.0, 1.0)).ticks(most),
        levels,
        negative_is_bad: false,
        lines,
    };
    lanes::chart(run, heading, &[lane], columns)
}

fn line(class: &'static str, title: &str, values: &[f64]) -> Line {
    Line { class, title: title.to_owned(), values: values.to_vec() }
}

fn voltage(run: &Run, scene: &Scene, columns: usize) -> Markup {
    let (bus_v, file) = (&run.trace.bus_v, scene.file());
    if bus_v.is_empty() {
        return html! {};
    }
    let nominal = file.drive.bus_voltage_v;
    let chopper = nominal + file.supply.chopper_above_v;
    let level =
        |value: f64, name: &str| Level { value, name: format!("{name} {} V", figure(value, 1)) };
    let range = (
        (pick(bus_v, f64::min, nominal) - 1.0).floor(),
        (pick(bus_v, f64::max, chopper) + 0.5).ceil(),
    );
    let levels = vec![level(nominal, "supply"), level(chopper, "brake resistor on above")];
    let lines = vec![line("first", "bus voltage", bus_v)];
    one_lane(run, "Bus voltage, V", (range, 110.0, 6), levels, lines, columns)
}

fn heat(run: &Run, columns: usize) -> Markup {
    let hot = [
        ("first", "brake resistor", &run.trace.resistor_c),
        ("second", "hottest winding", &run.trace.winding_c),
    ];
    let all: Vec<f64> = hot.iter().flat_map(|(_, _, values)| values.iter().copied()).collect();
    let low = pick(&all, f64::min, f64::INFINITY);
    if !low.is_finite() {
        return html! {};
    }
    let high = pick(&all, f64::max, low);
    // Room for at least 2 K, so that noise is not blown up.
    let range = (low.floor(), high.ceil().max(low.floor() + 2.0));
    let lines = hot.iter().filter(|(_, _, values)| !values.is_empty());
    let lines = lines.map(|&(class, title, values)| line(class, title, values)).collect();
    let heading = "Temperature, °C: brake resistor (solid), hottest winding (dashed)";
    one_lane(run, heading, (range, 90.0, 5), Vec::new(), lines, columns)
}
