//! The timing chart: one lane a shaft, bars for turns, the angle inside the bar.

use core::fmt::Write as _;

use dryturn_cube::{Face, Turn};
use dryturn_handoff::{Run, TurnRun};

use crate::html::Escaped;
use crate::plot::{self, AXIS, LEFT, RIGHT, WIDTH};

const TOP: f64 = 22.0;
const LANE: f64 = 40.0;
/// Columns of a thinned line in a bar.
const COLUMNS: usize = 100;
/// Narrower bars, px, have no name.
const NAMED_PX: f64 = 10.0;

/// The chart as SVG.
pub(crate) fn chart(run: &Run) -> String {
    let end_s = plot::end_s(run);
    let scale = plot::time_scale(run);
    let x = |t: f64| scale.px(t * 1e3);
    let lane_y = |face: Face| TOP + LANE * face.index() as f64;
    let height = TOP + 6.0 * LANE + AXIS;
    let mut svg = format!(
        "<svg class=\"timing\" viewBox=\"0 0 {WIDTH} {height}\" role=\"img\"><title>Six shafts \
         over time: bars are turns, the line in a bar is the shaft's angle</title>"
    );
    plot::time_axis(&mut svg, &scale, TOP, height - AXIS);
    for face in Face::ALL {
        let y = lane_y(face);
        let _ = write!(
            svg,
            "<rect class=\"lane\" x=\"{LEFT}\" y=\"{:.1}\" width=\"{:.1}\" height=\"{:.1}\"/>\
             <text class=\"lane-name\" x=\"20\" y=\"{:.1}\">{face}</text>",
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
                "<path class=\"angle\" d=\"{line}\"/><text class=\"turn-name\" \
                 x=\"{:.1}\" y=\"{:.1}\">{}</text></g>",
                from + 0.36 * (to - from),
                y + 13.0,
                if to - from >= NAMED_PX { turn.to_string() } else { String::new() }
            );
        }
    }
    let broken_off = match (run.jam(), run.stop()) {
        (Some(jam), _) => {
            let words = format!("jam: {} blocked by {}", jam.met.blocked_face, jam.met.late_face);
            Some((jam.time_s, words))
        }
        (None, Some(stop)) => Some((stop.time_s, format!("stop: {}", stop.cause))),
        (None, None) => None,
    };
    if let Some((time_s, words)) = broken_off {
        let at = x(time_s);
        let bottom = TOP + 6.0 * LANE;
        let anchor = if at > WIDTH / 2.0 { "end" } else { "start" };
        let _ = write!(
            svg,
            "<line class=\"jam\" x1=\"{at:.1}\" x2=\"{at:.1}\" y1=\"{TOP}\" y2=\"{bottom}\"/>\
             <text class=\"jam-name\" text-anchor=\"{anchor}\" x=\"{at:.1}\" y=\"15\">{}</text>",
            Escaped(words)
        );
    }
    svg.push_str("</svg>");
    svg
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
    // A run without a trace has no step: nothing is drawn.
    let points = (first..=last).map_while(|i| {
        let share = ((angle(i)? - from) / turn.amount.angle_deg()).clamp(0.0, 1.0);
        Some((x(step * i as f64), y + 2.0 + (LANE - 10.0) * (1.0 - share)))
    });
    plot::path(&plot::thinned(points, COLUMNS))
}
