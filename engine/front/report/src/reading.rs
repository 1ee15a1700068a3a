//! What lies behind a reading: samples and classes in the plane of colour, margins, cameras.

use core::fmt::Write as _;

use dryturn_cube::{Face, Facelet};
use dryturn_handoff::{ColourPlane, Reading, Source};
use dryturn_rehearsal::Pass;
use dryturn_units::maths;

use crate::net::paint;
use crate::pass::colour_name;

/// Weakest facelets that are drawn.
const WEAKEST: usize = 16;
/// Steps of the plane's regions across and down.
const REGIONS: usize = 60;
/// Squared radius of the ellipses: 95 % of a normal distribution in two dimensions
/// (chi-squared, two degrees of freedom: −2 ln 0.05).
const ELLIPSE2: f64 = 5.991;

pub(crate) fn details(out: &mut String, pass: &Pass) {
    out.push_str(
        "<details><summary>What lies behind the reading</summary><div class=\"pictures\">",
    );
    if let Some(plane) = &pass.reading.plane {
        draw_plane(out, pass, plane);
    }
    margins(out, pass);
    out.push_str("</div>");
    cameras(out, pass);
    out.push_str("</details>");
}

/// Two-dimensional squared distance in standard deviations, and the determinant.
fn distance2(at: [f64; 2], ([mx, my], [a, b, c]): ([f64; 2], [f64; 3])) -> (f64, f64) {
    let (x, y) = (at[0] - mx, at[1] - my);
    let determinant = a * c - b * b;
    ((c * x * x - 2.0 * b * x * y + a * y * y) / determinant, determinant)
}

fn draw_plane(out: &mut String, pass: &Pass, plane: &ColourPlane) {
    let middles = plane.classes.iter().map(|class| class.0);
    let points = || plane.samples.iter().map(|s| s.1).chain(middles.clone());
    let bound = |k: usize, pick: fn(f64, f64) -> f64, from: f64| {
        points().map(|p| p[k]).filter(|v| v.is_finite()).fold(from, pick)
    };
    let low = [0, 1].map(|k| bound(k, f64::min, f64::INFINITY) - 0.3);
    let high = [0, 1].map(|k| bound(k, f64::max, f64::NEG_INFINITY) + 0.3);
    if !(low[0] < high[0] && low[1] < high[1]) {
        return;
    }
    let (w, h, left, top) = (360.0, 300.0, 40.0, 8.0);
    let x = |v: f64| left + w * (v - low[0]) / (high[0] - low[0]);
    let y = |v: f64| top + h * (high[1] - v) / (high[1] - low[1]);
    let colours = &pass.scene.file().cube.colours;
    let fill = |face: usize| paint(colours.of(Face::from_index(face))).0;
    // Writing to a String cannot fail.
    let _ = write!(
        out,
        "<figure><svg viewBox=\"0 0 {vw} {vh}\" width=\"{vw}\" role=\"img\" class=\"plane\"><title>Samples \
         and classes</title>",
        vw = left + w + 10.0,
        vh = top + h + 36.0
    );
    // Regions row by row, runs of one class as one strip.
    let cell = [w / REGIONS as f64, h / REGIONS as f64];
    let class_at = |column: usize, row: usize| {
        let at = [
            low[0] + (column as f64 + 0.5) / REGIONS as f64 * (high[0] - low[0]),
            high[1] - (row as f64 + 0.5) / REGIONS as f64 * (high[1] - low[1]),
        ];
        let score = |k: usize| {
            let (d2, determinant) = distance2(at, plane.classes[k]);
            d2 + maths::ln(determinant)
        };
        (0..6).fold(0, |best, k| if score(k) < score(best) { k } else { best })
    };
    for row in 0..REGIONS {
        let mut start = 0;
        for column in 1..=REGIONS {
            let class = class_at(start, row);
            if column == REGIONS || class_at(column, row) != class {
                let _ = write!(
                    out,
                    "<rect x=\"{:.1}\" y=\"{:.1}\" width=\"{:.1}\" height=\"{:.1}\" fill=\"{}\" \
                     fill-opacity=\"0.22\"/>",
                    left + start as f64 * cell[0],
                    top + row as f64 * cell[1],
                    (column - start) as f64 * cell[0],
                    cell[1] + 0.2,
                    fill(class)
                );
                start = column;
            }
        }
    }
    for (k, &([mx, my], [a, b, c])) in plane.classes.iter().enumerate() {
        // The ellipse as a closed line: the root of the covariance turned round.
        let root = a.max(1e-12).sqrt();
        let second = (c - b * b / (root * root)).max(0.0).sqrt();
        let point = |step: usize| {
            let angle = step as f64 / 48.0 * core::f64::consts::TAU;
            let (s, t) = (ELLIPSE2.sqrt() * maths::cos(angle), ELLIPSE2.sqrt() * maths::sin(angle));
            format!("{:.1} {:.1}", x(mx + root * s), y(my + b / root * s + second * t))
        };
        let line: Vec<String> = (0..48).map(point).collect();
        let _ = write!(
            out,
            "<path d=\"M{}Z\" fill=\"none\" stroke=\"currentColor\"><title>{}: 95 % of its samples</title></path>",
            line.join("L"),
            colour_name(&pass.scene, Face::from_index(k)),
        );
    }
    let truth = pass.truth.colours();
    for (facelet, at) in &plane.samples {
        let read = pass.reading.colour(*facelet);
        let wrong = read.is_some_and(|read| read != truth[facelet.index()]);
        let _ = write!(
            out,
            "<circle cx=\"{:.1}\" cy=\"{:.1}\" r=\"{}\" fill=\"{}\" stroke=\"{}\"><title>{facelet}: read \
             {}</title></circle>",
            x(at[0]),
            y(at[1]),
            if wrong { 6 } else { 3 },
            read.map_or("#8b8b8b", |face| fill(face.index())),
            if wrong { "#d0006f" } else { "currentColor" },
            read.map_or("nothing".to_owned(), |face| colour_name(&pass.scene, face)),
        );
    }
    let _ = write!(
        out,
        "<text x=\"{:.1}\" y=\"{:.1}\" text-anchor=\"middle\">ln(red / green)</text><text \
         transform=\"translate(14 {:.1}) rotate(-90)\" text-anchor=\"middle\">ln(blue / green)</text></svg>\
         <figcaption>samples and classes in the sensor's colours, as in the light of the calibration and \
         without what a place has in common for all colours; ellipses hold 95 % of a class; regions \
         leave brightness out; a large ring is read wrong</figcaption></figure>",
        left + w / 2.0,
        top + h + 26.0,
        top + h / 2.0,
    );
}

/// A facelet that was seen: what its own pixels say for its colour and against the next, as a
/// difference of log-likelihoods, and the margin once the whole cube is known.
struct Margin {
    own: f64,
    margin: f64,
    facelet: Facelet,
    next: Face,
}

/// The facelets whose own pixels say least, weakest first.
fn margins(out: &mut String, pass: &Pass) {
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
    let shown = &all[..WEAKEST.min(all.len())];
    let longest = shown.iter().map(|m| m.own.abs()).fold(1.0, f64::max);
    let (row, wide) = (18.0, 180.0);
    let _ = write!(
        out,
        "<figure><svg class=\"margins\" viewBox=\"0 0 480 {h}\" width=\"480\" role=\"img\" \
         font-size=\"12\"><title>Margins</title>",
        h = row * shown.len() as f64 + 6.0
    );
    for (k, Margin { own, margin, facelet, next }) in shown.iter().enumerate() {
        let y = row * k as f64 + 14.0;
        let length = (wide * own.abs() / longest).max(0.5);
        let _ = write!(
            out,
            "<text x=\"2\" y=\"{y:.0}\">{facelet}</text><rect x=\"44\" y=\"{:.0}\" width=\"{length:.1}\" \
             height=\"12\" fill=\"{}\"/><text x=\"{:.0}\" y=\"{y:.0}\">{own:.1} over {}; in the cube {margin:.3}\
             </text>",
            y - 10.0,
            if *own < 0.0 { "#d0006f" } else { "#56789a" },
            50.0 + length,
            colour_name(&pass.scene, *next),
        );
    }
    let _ = write!(
        out,
        "</svg><figcaption>facelets whose own pixels say least, of {}: log-likelihood of the colour \
         that was read over the next, by themselves; and the margin within the whole cube</figcaption>\
         </figure>",
        all.len()
    );
}

fn cameras(out: &mut String, pass: &Pass) {
    let cameras = &pass.scene.file().cameras;
    if pass.reading.cameras.len() != cameras.len() {
        return;
    }
    out.push_str(
        "<table><thead><tr><th>camera</th><th>found off the drawing, mm (right, down, forward)</th>\
         <th>turned, ° (about the same)</th><th>light since the calibration (red, green, blue)</th>\
         </tr></thead><tbody>",
    );
    for (camera, found) in cameras.iter().zip(&pass.reading.cameras) {
        let triple = |values: [f64; 3]| values.map(|v| format!("{v:.2}")).join(", ");
        let _ = write!(
            out,
            "<tr><td>{}</td><td>{}</td><td>{}</td><td>× {}</td></tr>",
            crate::html::Escaped(&camera.name),
            triple(found.shift_mm),
            triple(found.turn_deg),
            triple(found.light_ratio),
        );
    }
    out.push_str(
        "</tbody></table><p class=\"aside\">A shift across the view and a turn move a picture nearly \
         alike, so only their sum is well known.</p>",
    );
}
