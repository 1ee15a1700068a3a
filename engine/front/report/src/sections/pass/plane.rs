//! Samples and classes in the plane of colour.

use dryturn_cube::{Face, Facelet};
use dryturn_handoff::ColourPlane;
use dryturn_rehearsal::Pass;
use dryturn_units::maths;
use maud::{Markup, html};

use crate::charts::chart::{Chart, Plot};
use crate::charts::net::paint;
use crate::charts::svg::px;
use crate::sections::names::colour_name;

/// Steps of the plane's regions across and down.
const REGIONS: usize = 60;
/// Corners of the line that stands for an ellipse.
const CORNERS: usize = 48;
/// Squared radius of the ellipses: 95 % of a normal distribution in two dimensions
/// (chi-squared, two degrees of freedom: −2 ln 0.05).
const ELLIPSE2: f64 = 5.991;
/// Where the plot lies.
const PLOT: Plot = Plot { left: 40.0, right: 400.0, top: 8.0, bottom: 308.0 };

/// What is drawn, and where its ends are.
struct Plane<'a> {
    pass: &'a Pass,
    plane: &'a ColourPlane,
    low: [f64; 2],
    high: [f64; 2],
}

/// The plane as a figure; nothing where it has no extent.
pub(super) fn draw(pass: &Pass, plane: &ColourPlane) -> Markup {
    let middles = plane.classes.iter().map(|class| class.0);
    let points = || plane.samples.iter().map(|s| s.1).chain(middles.clone());
    let bound = |k: usize, pick: fn(f64, f64) -> f64, from: f64| {
        points().map(|p| p[k]).filter(|v| v.is_finite()).fold(from, pick)
    };
    let low = [0, 1].map(|k| bound(k, f64::min, f64::INFINITY) - 0.3);
    let high = [0, 1].map(|k| bound(k, f64::max, f64::NEG_INFINITY) + 0.3);
    if !(low[0] < high[0] && low[1] < high[1]) {
        return html! {};
    }
    let own = Plane { pass, plane, low, high };
    let mut chart = Chart::new("plane", "Samples and classes", PLOT, (10.0, 36.0)).fixed();
    for row in 0..REGIONS {
        chart.draw(own.regions(row));
    }
    for class in 0..plane.classes.len() {
        chart.draw(own.ellipse(class));
    }
    for (facelet, at) in &plane.samples {
        chart.draw(own.sample(*facelet, *at));
    }
    let upright = format!("translate(14 {}) rotate(-90)", px(PLOT.top + PLOT.height() / 2.0));
    chart.draw(html! {
        text x=(px(PLOT.middle())) y=(px(PLOT.bottom + 26.0)) text-anchor="middle" {
            "ln(red / green)"
        }
        text transform=(upright) text-anchor="middle" { "ln(blue / green)" }
    });
    html! {
        figure {
            (chart)
            figcaption {
                "samples and classes in the sensor's colours, as in the light of the calibration \
                 and without what a place has in common for all colours; ellipses hold 95 % of a \
                 class; regions leave brightness out; a large ring is read wrong"
            }
        }
    }
}

/// Two-dimensional squared distance in standard deviations, and the determinant.
fn distance2(at: [f64; 2], ([mx, my], [a, b, c]): ([f64; 2], [f64; 3])) -> (f64, f64) {
    let (x, y) = (at[0] - mx, at[1] - my);
    let determinant = a * c - b * b;
    ((c * x * x - 2.0 * b * x * y + a * y * y) / determinant, determinant)
}

impl Plane<'_> {
    fn x(&self, v: f64) -> f64 {
        PLOT.left + PLOT.width() * (v - self.low[0]) / (self.high[0] - self.low[0])
    }

    fn y(&self, v: f64) -> f64 {
        PLOT.top + PLOT.height() * (self.high[1] - v) / (self.high[1] - self.low[1])
    }

    fn fill(&self, face: usize) -> &'static str {
        paint(self.pass.scene.file().cube.colours.of(Face::from_index(face))).0
    }

    /// The likeliest class in the middle of a cell.
    fn class_at(&self, column: usize, row: usize) -> usize {
        let ([left, low], [right, high]) = (self.low, self.high);
        let at = [
            left + (column as f64 + 0.5) / REGIONS as f64 * (right - left),
            high - (row as f64 + 0.5) / REGIONS as f64 * (high - low),
        ];
        let score = |k: usize| {
            let (d2, determinant) = distance2(at, self.plane.classes[k]);
            d2 + maths::ln(determinant)
        };
        (0..6).fold(0, |best, k| if score(k) < score(best) { k } else { best })
    }

    /// Regions of a row, runs of one class as one strip.
    fn regions(&self, row: usize) -> Markup {
        let cell = [PLOT.width() / REGIONS as f64, PLOT.height() / REGIONS as f64];
        let classes: Vec<usize> = (0..REGIONS).map(|column| self.class_at(column, row)).collect();
        let mut start = 0;
        let strips = classes.chunk_by(|a, b| a == b).map(|run| {
            let x = PLOT.left + start as f64 * cell[0];
            start += run.len();
            (x, run.len() as f64 * cell[0], self.fill(run[0]))
        });
        html! {
            @for (x, width, fill) in strips {
                rect x=(px(x)) y=(px(PLOT.top + row as f64 * cell[1])) width=(px(width))
                    height=(px(cell[1] + 0.2)) fill=(fill) fill-opacity="0.22" {}
            }
        }
    }

    /// An ellipse as a closed line: the root of the covariance turned round.
    fn ellipse(&self, class: usize) -> Markup {
        let ([mx, my], [a, b, c]) = self.plane.classes[class];
        let root = a.max(1e-12).sqrt();
        let second = (c - b * b / (root * root)).max(0.0).sqrt();
        let point = |step: usize| {
            let angle = step as f64 / CORNERS as f64 * core::f64::consts::TAU;
            let (s, t) = (ELLIPSE2.sqrt() * maths::cos(angle), ELLIPSE2.sqrt() * maths::sin(angle));
            let at = (self.x(mx + root * s), self.y(my + b / root * s + second * t));
            format!("{} {}", px(at.0), px(at.1))
        };
        let line: Vec<String> = (0..CORNERS).map(point).collect();
        let name = colour_name(&self.pass.scene, Face::from_index(class));
        html! {
            path d={ "M" (line.join("L")) "Z" } fill="none" stroke="currentColor" {
                title { (name) ": 95 % of its samples" }
            }
        }
    }

    /// A sample in the colour that it was read as.
    fn sample(&self, facelet: Facelet, at: [f64; 2]) -> Markup {
        let read = self.pass.reading.colour(facelet);
        let truth = self.pass.truth.colours()[facelet.index()];
        let wrong = read.is_some_and(|read| read != truth);
        let (radius, stroke) = if wrong { (6.0, "#d0006f") } else { (3.0, "currentColor") };
        let fill = read.map_or("#8b8b8b", |face| self.fill(face.index()));
        let name = |face| colour_name(&self.pass.scene, face);
        html! {
            circle cx=(px(self.x(at[0]))) cy=(px(self.y(at[1]))) r=(px(radius)) fill=(fill)
                stroke=(stroke) {
                title { (facelet.to_string()) ": read " (read.map_or("nothing".to_owned(), name)) }
            }
        }
    }
}
