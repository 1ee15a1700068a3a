//! The timing chart: one lane a shaft, bars for turns, the angle inside the bar.

use dryturn_cube::{Face, Turn};
use dryturn_handoff::{Run, TurnRun};
use maud::{Markup, Render, html};

use crate::charts::chart::{Chart, Plot};
use crate::charts::scale::Scale;
use crate::charts::svg::{self, fine_px, px};
use crate::charts::{thinned, time};

const TOP: f64 = 22.0;
const LANE: f64 = 40.0;
/// Height of a bar, px, and room above it in its lane.
const BAR: f64 = LANE - 2.0 * ABOVE;
const ABOVE: f64 = 3.0;
/// Columns of a thinned line in a bar.
const COLUMNS: usize = 100;
/// Narrower bars, px, have no name.
const NAMED_PX: f64 = 10.0;

fn lane_y(face: Face) -> f64 {
    TOP + LANE * face.index() as f64
}

/// The chart of a run.
pub(crate) fn chart(run: &Run) -> Markup {
    let plot = Plot::wide(TOP, 6.0 * LANE);
    let x = time::scale(run, &plot);
    let title = "Six shafts over time: bars are turns, the line in a bar is the shaft's angle";
    let mut chart = Chart::wide("timing", title, plot, time::ROOM);
    time::axis(&mut chart, &x);
    for face in Face::ALL {
        let y = lane_y(face);
        chart.lane(y + ABOVE, BAR);
        let name = face.to_string();
        chart.draw(svg::text("lane-name", (20.0, y + LANE / 2.0 + 5.0), &name));
    }
    for beat in &run.beats {
        for turned in &beat.turns {
            let title = format!(
                "beat {}: {}, {:.1} to {:.1} ms; a neighbour was at most {:.2}° off",
                beat.beat + 1,
                turned.turn,
                turned.start_s * 1e3,
                turned.stop_s * 1e3,
                beat.worst_offset_deg
            );
            let class = if beat.beat % 2 == 0 { "even" } else { "odd" };
            chart.draw(svg::tipped(&title, bar(run, turned, class, &x)));
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
        let at = x.px(time_s * 1e3);
        let anchor = if at > chart.width() / 2.0 { "end" } else { "start" };
        chart.draw(html! {
            (svg::upright("jam", at, (TOP, plot.bottom), ""))
            (svg::anchored("jam-name", anchor, (at, 15.0), &words))
        });
    }
    chart.render()
}

/// A turn's bar with its angle and, where there is room, its name.
fn bar(run: &Run, turned: &TurnRun, class: &str, x: &Scale) -> Markup {
    let &TurnRun { turn, start_s, stop_s } = turned;
    let stop_s = stop_s.min(time::end_s(run));
    let y = lane_y(turn.face) + ABOVE;
    let (from, to) = (x.px(start_s * 1e3), x.px(stop_s * 1e3));
    let name = if to - from >= NAMED_PX { turn.to_string() } else { String::new() };
    html! {
        rect class={ "turn " (class) } x=(fine_px(from)) y=(px(y))
            width=(fine_px((to - from).max(0.0))) height=(px(BAR)) rx="2" {}
        (svg::path("angle", &angle_line(run, turn, (start_s, stop_s), x, y), ""))
        (svg::text("turn-name", (from + 0.36 * (to - from), y + 13.0), &name))
    }
}

/// The share of the turn that is done, as a line from the bar's bottom to its top.
fn angle_line(run: &Run, turn: Turn, (start_s, stop_s): (f64, f64), x: &Scale, y: f64) -> String {
    let step = run.trace.step_s;
    let angle = |i: usize| run.trace.angles_deg.get(i).map(|a| a[turn.face.index()]);
    let first = (start_s / step).floor() as usize;
    let last = (stop_s / step).ceil() as usize;
    let from = angle(first).unwrap_or_default();
    // A run without a trace has no step: nothing is drawn.
    let points = (first..=last).map_while(|i| {
        let share = ((angle(i)? - from) / turn.amount.angle_deg()).clamp(0.0, 1.0);
        Some((x.px(step * i as f64 * 1e3), y + 2.0 + (BAR - 4.0) * (1.0 - share)))
    });
    thinned::path(&thinned::points(points, COLUMNS))
}
