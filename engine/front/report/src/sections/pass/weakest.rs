//! The facelets whose own pixels say least for the colour that was read.

use dryturn_cube::{Face, Facelet};
use dryturn_handoff::{Reading, Source};
use dryturn_rehearsal::Pass;
use maud::{Markup, html};

use crate::charts::chart::{Chart, Plot};
use crate::charts::svg::{self, px};
use crate::sections::names::colour_name;

/// Weakest facelets that are drawn.
const WEAKEST: usize = 16;
/// Height of a row and length of the longest bar, px.
const ROW: f64 = 18.0;
const LONGEST: f64 = 180.0;
const BAR: f64 = 12.0;

/// A facelet that was seen: what its own pixels say for its colour and against the next, as a
/// difference of log-likelihoods, and the margin once the whole cube is known.
struct Margin {
    own: f64,
    margin: f64,
    facelet: Facelet,
    next: Face,
}

fn margins(pass: &Pass) -> Vec<Margin> {
    let Reading { facelets, .. } = &pass.reading;
    let seen = |facelet: Facelet| {
        let entry = &facelets[facelet.index()];
        let Source::Seen { margin, log_likelihoods: logs, .. } = &entry.source else { return None };
        let colour = entry.colour?;
        let others = Face::ALL.into_iter().filter(|face| *face != colour);
        let next = others.max_by(|a, b| logs[a.index()].total_cmp(&logs[b.index()]))?;
        let own = logs[colour.index()] - logs[next.index()];
        Some(Margin { own, margin: *margin, facelet, next })
    };
    let mut all: Vec<Margin> = Facelet::all().filter_map(seen).collect();
    all.sort_by(|a, b| a.own.total_cmp(&b.own).then(a.facelet.cmp(&b.facelet)));
    all
}

/// Weakest first.
pub(super) fn draw(pass: &Pass) -> Markup {
    let all = margins(pass);
    let shown = &all[..WEAKEST.min(all.len())];
    let longest = shown.iter().map(|m| m.own.abs()).fold(1.0, f64::max);
    let plot = Plot { left: 44.0, right: 480.0, top: 0.0, bottom: ROW * shown.len() as f64 };
    let mut chart = Chart::new("margins", "Margins", plot, (0.0, 6.0)).fixed();
    for (k, Margin { own, margin, facelet, next }) in shown.iter().enumerate() {
        let y = ROW * k as f64 + 14.0;
        let length = (LONGEST * own.abs() / longest).max(0.5);
        let fill = if *own < 0.0 { "#d0006f" } else { "#56789a" };
        let next = colour_name(&pass.scene, *next);
        let words = format!("{own:.1} over {next}; in the cube {margin:.3}");
        chart.draw(html! {
            (svg::text("", (2.0, y), &facelet.to_string()))
            rect x=(px(plot.left)) y=(px(y - 10.0)) width=(px(length)) height=(px(BAR)) fill=(fill) {}
            (svg::text("", ((50.0 + length).round_ties_even(), y), &words))
        });
    }
    html! {
        figure {
            (chart)
            figcaption {
                "facelets whose own pixels say least, of " (all.len()) ": log-likelihood of the \
                 colour that was read over the next, by themselves; and the margin within the \
                 whole cube"
            }
        }
    }
}
