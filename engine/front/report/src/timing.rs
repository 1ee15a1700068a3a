//! The timing chart: one lane a shaft, bars for turns, the angle inside the bar.

use core::fmt::Write as _;

use dryturn_cube::{Face, Turn};
use dryturn_handoff::{Run, TurnRun};

const LEFT: f64 = 34.0;
const RIGHT: f64 = 16.0;
const TOP: f64 = 22.0;
const LANE: f64 = 40.0;
const WIDTH: f64 = 1080.0;

/// The chart as SVG.
pub(crate) fn chart(run: &Run) -> String {
    let end_s = run.trace.step_s * run.trace.angles_deg.len() as f64;
    let end_s = end_s.max(run.total_s).max(1e-3);
    let x = |t: f64| LEFT + (WIDTH - LEFT - RIGHT) * t / end_s;
    let lane_y = |face: Face| TOP + LANE * face.index() as f64;
    let height = TOP + 6.0 * LANE + 34.0;
    let mut svg = format!(
        "<svg class=\"timing\" viewBox=\"0 0 {WIDTH} {height}\" role=\"img\"><title>Six shafts \
         over time: bars are turns, the line in a bar is the shaft's angle</title>"
    );
    axis(&mut svg, end_s, height, &x);
    for face in Face::ALL {
        let y = lane_y(face);
        let _ = write!(
            svg,
            "<rect class=\"lane\" x=\"{LEFT}\" y=\"{:.1}\" width=\"{:.1}\" height=\"{:.1}\"/>\
             <text class=\"lane-name\" x=\"12\" y=\"{:.1}\">{face}</text>",
            y + 3.0,
            WIDTH - LEFT - RIGHT,
            LANE - 6.0,
            y + LANE / 2.0 + 5.0
        );
    }
    for beat in &run.beats {
        for &TurnRun { turn, start_s, stop_s } in &beat.turns {
            let shown_stop_s = stop_s.min(end_s);
            let y = lane_y(turn.face) + 3.0;
            let (from, to) = (x(start_s), x(shown_stop_s));
            let _ = write!(
                svg,
                "<g><title>beat {}: {turn}, {:.1} to {:.1} ms; a neighbour was at most {:.2}° \
                 off</title><rect class=\"turn {}\" x=\"{from:.2}\" y=\"{y:.1}\" \
                 width=\"{:.2}\" height=\"{:.1}\" rx=\"2\"/>",
                beat.beat + 1,
                start_s * 1e3,
                stop_s * 1e3,
                beat.worst_offset_deg,
                if beat.beat % 2 == 0 { "even" } else { "odd" },
                (to - from).max(0.0),
                LANE - 6.0,
            );
            let line = angle_line(run, turn, start_s, shown_stop_s, &x, y);
            let _ = write!(
                svg,
                "<polyline class=\"angle\" points=\"{line}\"/><text class=\"turn-name\" \
                 x=\"{:.1}\" y=\"{:.1}\">{turn}</text></g>",
                from + 0.36 * (to - from),
                y + 13.0
            );
        }
    }
    if let Some(jam) = run.jam() {
        let at = x(jam.time_s);
        let bottom = TOP + 6.0 * LANE;
        let anchor = if at > WIDTH / 2.0 { "end" } else { "start" };
        let _ = write!(
            svg,
            "<line class=\"jam\" x1=\"{at:.1}\" x2=\"{at:.1}\" y1=\"{TOP}\" y2=\"{bottom}\"/>\
             <text class=\"jam-name\" text-anchor=\"{anchor}\" x=\"{at:.1}\" y=\"15\">jam: {} \
             blocked by {}</text>",
            jam.blocked_face, jam.late_face
        );
    }
    svg.push_str("</svg>");
    svg
}

fn axis(svg: &mut String, end_s: f64, height: f64, x: &impl Fn(f64) -> f64) {
    let end_ms = end_s * 1e3;
    let step_ms = [1.0, 2.0, 5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0]
        .into_iter()
        .find(|step| end_ms / step <= 14.0)
        .unwrap_or(5000.0);
    let mut tick = 0.0;
    while tick <= end_ms {
        let at = x(tick / 1e3);
        let _ = write!(
            svg,
            "<line class=\"tick\" x1=\"{at:.1}\" x2=\"{at:.1}\" y1=\"{TOP}\" y2=\"{:.1}\"/>\
             <text class=\"tick-name\" x=\"{at:.1}\" y=\"{:.1}\">{tick}</text>",
            height - 30.0,
            height - 16.0
        );
        tick += step_ms;
    }
    let _ = write!(
        svg,
        "<text class=\"tick-name\" x=\"{:.1}\" y=\"{:.1}\">time from the start, ms</text>",
        WIDTH / 2.0,
        height - 2.0
    );
}

/// The share of the turn that is done, as a line from the bar's bottom to its top.
fn angle_line(
    run: &Run,
    turn: Turn,
    start_s: f64,
    stop_s: f64,
    x: &impl Fn(f64) -> f64,
    y: f64,
) -> String {
    let step = run.trace.step_s;
    let angle = |i: usize| run.trace.angles_deg.get(i).map(|a| a[turn.face.index()]);
    let first = (start_s / step).floor() as usize;
    let last = (stop_s / step).ceil() as usize;
    let from = angle(first).unwrap_or_default();
    let mut line = String::new();
    for i in first..=last {
        let Some(angle) = angle(i) else { break };
        let share = ((angle - from) / turn.amount.angle_deg()).clamp(0.0, 1.0);
        let height = LANE - 10.0;
        let _ = write!(line, "{:.2},{:.2} ", x(step * i as f64), y + 2.0 + height * (1.0 - share));
    }
    line
}
