//! Start-to-stop time against the share that fails, a dot for each setting of the race.

use dryturn_rehearsal::StartToStop;
use dryturn_studies::{Dot, Tuning};
use maud::{Markup, html};

use crate::charts::chart::Plot;
use crate::charts::scale::Scale;
use crate::charts::series;
use crate::charts::svg::{self, px};
use crate::html::figures::ms;

/// Height of the plot, px.
const HEIGHT: f64 = 300.0;
/// Where a share of nothing stands on the axis by ratio, %.
const NONE: f64 = 0.02;
/// The race is shown from this many trials of a setting on.
const LEAST_TRIALS: usize = 16;

/// Where execution times and shares stand.
struct Scales<'a> {
    tuning: &'a Tuning,
    x: Scale,
    y: Scale,
}

impl Scales<'_> {
    fn time(&self, execution_s: f64) -> f64 {
        self.x.px(whole_s(self.tuning, execution_s) * 1e3)
    }

    fn share(&self, share: f64) -> f64 {
        self.y.px((100.0 * share).max(NONE))
    }
}

/// From start to stop, s.
fn whole_s(tuning: &Tuning, execution_s: f64) -> f64 {
    StartToStop::of(&tuning.request.scene, execution_s).total_s()
}

/// The picture; nothing where no setting lasted.
pub(super) fn frontier(tuning: &Tuning) -> Markup {
    let dots: Vec<&Dot> =
        tuning.dots.iter().filter(|dot| dot.failures.trials() >= LEAST_TRIALS).collect();
    if dots.is_empty() {
        return html! {};
    }
    let times = dots.iter().map(|dot| whole_s(tuning, dot.median_s) * 1e3);
    let least = times.clone().fold(f64::INFINITY, f64::min);
    let most = times.fold(0.0, f64::max);
    let heading = "Share of executions that fail, %, over the time from start to stop";
    let mut chart = series::plot(heading, HEIGHT);
    let plot @ Plot { left, right, top, bottom } = chart.plot();
    let scales = Scales {
        tuning,
        x: plot.across(series::whole_steps((least, most), 1.0, 8), 10.0),
        y: Scale::logarithmic((NONE, 100.0), (bottom - 6.0, top + 6.0)),
    };
    for (value, name) in [(NONE, "none"), (0.1, "0.1"), (1.0, "1"), (10.0, "10"), (100.0, "100")] {
        chart.across(scales.y.px(value), name);
    }
    let name = "from start to stop, median, ms (the axis does not begin at 0)";
    chart.axis_below(&series::LAYOUT, &scales.x, 8, name);
    let target = scales.share(tuning.request.target.jam_rate);
    let across = format!("M{left} {}H{}", px(target), px(right));
    chart.draw(svg::path("target", &across, "target"));
    for own in &dots {
        chart.draw(dot(&scales, own));
    }
    chart.draw(rings(&scales));
    html! {
        figure {
            (series::headed(&chart))
            figcaption {
                "Each dot is a setting of the race, with as many trials as it lasted; large ones \
                 are those that no other beats in both, with 95 % intervals (Wilson). Rings: the \
                 proof on fresh trials. The dashed line is the target."
            }
        }
    }
}

fn dot(scales: &Scales<'_>, dot: &Dot) -> Markup {
    let whole = ms(whole_s(scales.tuning, dot.median_s));
    let title = format!("{}: {whole} ms, {}", dot.policy, dot.failures.words());
    let (x, y) = (scales.time(dot.median_s), scales.share(dot.failures.share()));
    if !dot.frontier {
        return svg::tipped(&title, svg::circle("other", (x, y), 2.5));
    }
    let (low, high) = dot.failures.interval();
    let bar = format!("M{} {}V{}", px(x), px(scales.share(low)), px(scales.share(high)));
    let point = svg::circle("point", (x, y), 4.0);
    svg::tipped(&title, html! { (svg::path("interval", &bar, "")) (point) })
}

/// The scene as tuned and as it was, in the proof.
fn rings(scales: &Scales<'_>) -> Markup {
    let Ok(tuned) = &scales.tuning.found else { return html! {} };
    html! {
        @for (name, drill) in [("tuned", &tuned.drill), ("before", &tuned.before)] {
            @if let Some((median_s, _)) = drill.time_s(0.5) {
                @let (x, y) = (scales.time(median_s), scales.share(drill.failures().share()));
                (svg::circle("chosen", (x, y), 7.0))
                (svg::text("tick-name", (x, y - 11.0), name))
            }
        }
    }
}
