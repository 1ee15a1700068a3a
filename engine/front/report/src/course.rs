//! The course of a run as charts: angle, speed and current of each shaft, clearance of
//! neighbours, voltage and heat. Only what the trace has is drawn.

use dryturn_cube::Face;
use dryturn_handoff::{Run, neighbours};
use dryturn_scene::Scene;

use crate::html::figure;
use crate::lanes::{self, Lane, Level, Line};
use crate::plot;

/// Points that all the lines of a run may have together.
const POINTS: usize = 22_000;
/// Pairs of neighbours that are drawn.
const PAIRS: usize = 6;
/// Columns of a thinned line: no fewer, no more.
const COLUMNS: (usize, usize) = (100, 500);

/// All charts of a run.
pub(crate) fn charts(run: &Run, scene: &Scene) -> String {
    let trace = &run.trace;
    let close = close_pairs(run, scene);
    let shown = close.len().min(PAIRS);
    let lists = [&trace.angles_deg, &trace.speeds_rad_s, &trace.currents_a];
    let by_shaft: usize = lists.iter().map(|list| if list.is_empty() { 0 } else { 6 }).sum();
    let columns = (POINTS / 2 / (by_shaft + shown + 3)).clamp(COLUMNS.0, COLUMNS.1);
    if trace.angles_deg.is_empty() {
        return String::new();
    }
    let mut out = String::from("<p class=\"aside\">");
    if lanes::has_bands(run) {
        out.push_str("Bands: every other beat.");
    }
    if run.failure().is_some() {
        out.push_str(" Thick line: where it was broken off.");
    }
    if run.jam().is_some_and(|jam| jam.noticed_s.is_some()) {
        out.push_str(" Dashed line: when the drives noticed.");
    }
    if !run.pushed.is_empty() {
        out.push_str(" Thin lines: faces that were brought to a stand and got through.");
    }
    out.push_str("</p>");
    let (low, high) = ends(&trace.angles_deg);
    let range = ((low / 90.0).floor() * 90.0, ((high / 90.0).ceil() * 90.0).max(90.0));
    let heading = "Angle that each face has turned since the start, ° (clockwise positive)";
    out.push_str(&by_face(run, heading, "°", &trace.angles_deg, range, 48.0, columns));
    for (heading, unit, values) in [
        ("Speed of each motor, rad/s", "rad/s", &trace.speeds_rad_s),
        ("Current of each motor, A (direct-current equivalent)", "A", &trace.currents_a),
    ] {
        let (low, high) = ends(values);
        let most = plot::round_up(high.max(-low));
        out.push_str(&by_face(run, heading, unit, values, (-most, most), 36.0, columns));
    }
    clearance(&mut out, run, scene, &close, columns);
    supply(&mut out, run, scene, columns);
    out
}

/// The lowest and the highest of some values and 0.
fn ends<const N: usize>(values: &[[f64; N]]) -> (f64, f64) {
    let finite = || values.iter().flatten().copied().filter(|value| value.is_finite());
    (finite().fold(0.0, f64::min), finite().fold(0.0, f64::max))
}

fn by_face(
    run: &Run,
    heading: &str,
    unit: &str,
    values: &[[f64; 6]],
    range: (f64, f64),
    height: f64,
    columns: usize,
) -> String {
    if values.is_empty() {
        return String::new();
    }
    let step = plot::round_step(range.1 - range.0, 4);
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

fn clearance(out: &mut String, run: &Run, scene: &Scene, close: &[(usize, f64)], columns: usize) {
    let (gaps, play_mm) = (&run.trace.gaps_mm, scene.file().cube.clearance_mm);
    if gaps.is_empty() {
        return;
    }
    let Some(&(_, least)) = close.first() else {
        out.push_str(&format!(
            "<p>No pair of neighbouring faces came nearer than the cube's play, {} mm.</p>",
            figure(play_mm, 2)
        ));
        return;
    };
    let most = ends(gaps).1.max(play_mm);
    // Some room below zero even where nothing gets there.
    let range = (least.min(-0.2 * most), most);
    let lane = |&(pair, least): &(usize, f64)| {
        let (one, other) = neighbours()[pair];
        Lane {
            name: format!("{one}–{other}"),
            height: 36.0,
            range,
            ticks: (vec![0.0, range.1, range.0], plot::round_step(range.1 - range.0, 8)),
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
    out.push_str(&lanes::chart(run, heading, &drawn, columns));
    let more = close.len().saturating_sub(PAIRS);
    out.push_str(&format!(
        "<p class=\"aside\">Pairs that came nearer than the cube's play of {} mm (dashed), the nearest \
         first{}. Capped at play and lift; below zero, tinted, the rounded edges meet.</p>",
        figure(play_mm, 2),
        if more > 0 { format!("; {more} more are not drawn") } else { String::new() }
    ));
}

fn supply(out: &mut String, run: &Run, scene: &Scene, columns: usize) {
    let (trace, file) = (&run.trace, scene.file());
    let finite = |values: &[f64], pick: fn(f64, f64) -> f64, from: f64| {
        values.iter().copied().filter(|v| v.is_finite()).fold(from, pick)
    };
    if !trace.bus_v.is_empty() {
        let nominal = file.drive.bus_voltage_v;
        let chopper = nominal + file.supply.chopper_above_v;
        let level = |value: f64, name: &str| Level {
            value,
            name: format!("{name} {} V", figure(value, 1)),
        };
        let range = (
            (finite(&trace.bus_v, f64::min, nominal) - 1.0).floor(),
            (finite(&trace.bus_v, f64::max, chopper) + 0.5).ceil(),
        );
        let lane = Lane {
            name: String::new(),
            height: 110.0,
            range,
            ticks: linear_ticks(range, 6),
            levels: vec![level(nominal, "supply"), level(chopper, "brake resistor on above")],
            negative_is_bad: false,
            lines: vec![Line {
                class: "first",
                title: "bus voltage".to_owned(),
                values: trace.bus_v.clone(),
            }],
        };
        out.push_str(&lanes::chart(run, "Bus voltage, V", &[lane], columns));
    }
    let hot = [
        ("first", "brake resistor", &trace.resistor_c),
        ("second", "hottest winding", &trace.winding_c),
    ];
    let all: Vec<f64> = hot.iter().flat_map(|(_, _, values)| values.iter().copied()).collect();
    let low = finite(&all, f64::min, f64::INFINITY);
    if low.is_finite() {
        let high = finite(&all, f64::max, low);
        // Room for at least 2 K, so that noise is not blown up.
        let range = (low.floor(), high.ceil().max(low.floor() + 2.0));
        let lines = hot.iter().filter(|(_, _, values)| !values.is_empty());
        let lane = Lane {
            name: String::new(),
            height: 90.0,
            range,
            ticks: linear_ticks(range, 5),
            levels: Vec::new(),
            negative_is_bad: false,
            lines: lines
                .map(|&(class, title, values)| Line {
                    class,
                    title: title.to_owned(),
                    values: values.clone(),
                })
                .collect(),
        };
        let heading = "Temperature, °C: brake resistor (solid), hottest winding (dashed)";
        out.push_str(&lanes::chart(run, heading, &[lane], columns));
    }
}

fn linear_ticks(range: (f64, f64), most: usize) -> (Vec<f64>, f64) {
    plot::Scale::linear(range, (0.0, 1.0)).ticks(most)
}
