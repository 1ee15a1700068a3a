//! How far the probabilities that a way to read claims can be trusted.

use dryturn_statistics::{Z_95, wilson};
use dryturn_studies::ReaderTally;
use maud::{Markup, html};

use crate::charts::chart::{Chart, Plot};
use crate::charts::svg::{self, px};
use crate::sections::names::way_name;

/// Bounds of the classes of claims, from surely wrong to surely right.
const CLAIMS: [f64; 9] = [0.0, 0.2, 0.4, 0.6, 0.8, 0.9, 0.99, 0.999, 0.9999];
/// Width of a column, px, and of the room beside all.
const COLUMN: f64 = 52.0;
const BESIDE: f64 = 10.0;

/// Claims of a class, and how many were right.
struct Class {
    from: f64,
    claims: usize,
    right: usize,
    mean: f64,
}

fn classes(sum: &ReaderTally) -> Vec<Class> {
    let class = |(k, &from): (usize, &f64)| {
        let below = CLAIMS.get(k + 1).copied().unwrap_or(f64::INFINITY);
        let own = || sum.claims.iter().filter(|c| c.0 >= from && c.0 < below);
        let claims = own().count();
        let mean = own().map(|c| c.0).sum::<f64>() / claims.max(1) as f64;
        Class { from, claims, right: own().filter(|c| c.1).count(), mean }
    };
    CLAIMS.iter().enumerate().map(class).collect()
}

/// Figures and two pictures.
pub(super) fn claims(sum: &ReaderTally) -> Markup {
    let (claims, right) = sum.claiming(0.99);
    let classes = classes(sum);
    html! {
        h3 { "How far probabilities can be trusted: " (way_name(&sum.way)) }
        p {
            "Of " (claims) " readings that claim at least 99 %, " (right) " are right ("
            (share(right, claims)) "). Brier score "
            (format!("{:.2e}", sum.brier().unwrap_or_default())) " over " (sum.claims.len())
            " readings."
        }
        div.pictures {
            figure {
                (reliability(&classes))
                figcaption {
                    "share that was right over claimed probability; bars: 95 % intervals (Wilson)"
                }
            }
            figure {
                (confidence(&classes))
                figcaption { "readings by claimed probability, from …" }
            }
        }
    }
}

fn share(right: usize, all: usize) -> String {
    if all == 0 { "none".to_owned() } else { format!("{:.3} %", 100.0 * right as f64 / all as f64) }
}

/// The share that was right over the mean claim, class by class, with Wilson's intervals.
fn reliability(classes: &[Class]) -> Chart {
    let plot = Plot { left: 50.0, right: 270.0, top: 14.0, bottom: 234.0 };
    let x = |p: f64| plot.left + plot.width() * p;
    let y = |p: f64| plot.top + plot.height() * (1.0 - p);
    let Plot { left, right, top, bottom } = plot;
    let mut chart = Chart::new("histogram", "Reliability diagram", plot, (20.0, 44.0)).fixed();
    let axes = format!("M{} {}V{}H{}", px(left), px(top), px(bottom), px(right));
    let diagonal = format!("M{} {}L{} {}", px(left), px(bottom), px(right), px(top));
    chart.draw(html! {
        path d=(axes) fill="none" stroke="#888" {}
        path d=(diagonal) stroke="#888" stroke-dasharray="4 3" {}
    });
    for tick in [0.0, 0.5, 1.0] {
        let figure = tick.to_string();
        chart.draw(svg::text("", (x(tick), bottom + 16.0), &figure));
        chart.draw(svg::text("", (left - 18.0, y(tick) + 4.0), &figure));
    }
    for class in classes.iter().filter(|class| class.claims > 0) {
        let (low, high) = wilson(class.right, class.claims, Z_95);
        let (at, found) = (x(class.mean), class.right as f64 / class.claims as f64);
        let title = format!(
            "{} readings claim {:.4} on average; {} right",
            class.claims, class.mean, class.right
        );
        let bar = format!("M{} {}V{}", px(at), px(y(low)), px(y(high)));
        let drawn = html! {
            path d=(bar) stroke="currentColor" stroke-width="1.5" {}
            (svg::circle("", (at, y(found)), 4.0))
        };
        chart.draw(svg::tipped(&title, drawn));
    }
    chart.draw(svg::text("", (x(0.5), bottom + 34.0), "claimed probability"));
    chart
}

/// How many readings claim how much.
fn confidence(classes: &[Class]) -> Chart {
    let most = classes.iter().map(|class| class.claims).max().unwrap_or(1).max(1);
    let right = BESIDE + COLUMN * classes.len() as f64;
    let plot = Plot { left: BESIDE, right, top: 16.0, bottom: 216.0 };
    let mut chart = Chart::new("histogram", "Confidence histogram", plot, (BESIDE, 44.0)).fixed();
    for (k, class) in classes.iter().enumerate() {
        let x = plot.left + COLUMN * k as f64;
        chart.column((x, COLUMN), (class.claims, most), &class.claims.to_string());
        let below = (x + COLUMN / 2.0, plot.bottom + 16.0);
        chart.draw(svg::text("", below, &class.from.to_string()));
    }
    chart
}
