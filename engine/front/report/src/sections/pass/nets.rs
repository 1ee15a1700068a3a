//! What was read, and what is true: two nets, and what was read wrong.

use dryturn_cube::Facelet;
use dryturn_handoff::Source;
use dryturn_rehearsal::Pass;
use maud::{Markup, html};

use crate::charts::net::{self, Cell};
use crate::html::figures::percent;
use crate::sections::names::colour_name;

pub(super) fn nets(pass: &Pass) -> Markup {
    let truth = pass.truth.colours();
    let scene = &pass.scene;
    let read = net::draw(scene, "The net that was read", |facelet| {
        let reading = &pass.reading.facelets[facelet.index()];
        let (how, dashed) = match &reading.source {
            Source::Mounted => ("known by mounting".to_owned(), true),
            Source::Inferred => ("hidden, inferred".to_owned(), true),
            Source::Unknown => ("hidden, unknown".to_owned(), true),
            Source::Told { .. } => ("told by the guest".to_owned(), false),
            Source::Seen { colour, margin, runner_up, .. } => {
                let [r, g, b] = colour.0;
                let second = colour_name(scene, *runner_up);
                (format!("seen as {r} {g} {b}; margin {margin:.2} over {second}"), false)
            }
        };
        let called = reading.colour.map_or("unknown".to_owned(), |face| colour_name(scene, face));
        Cell {
            colour: reading.colour,
            text: reading.colour.map_or('?', |face| face.letter()).to_string(),
            dashed,
            wrong: reading.colour.is_some_and(|face| face != truth[facelet.index()]),
            title: format!("{facelet}: {called}, {how}"),
        }
    });
    let real = net::draw(scene, "The true net", |facelet: Facelet| {
        let face = truth[facelet.index()];
        Cell {
            colour: Some(face),
            text: face.letter().to_string(),
            dashed: false,
            wrong: false,
            title: format!("{facelet}: {}", colour_name(scene, face)),
        }
    });
    html! {
        h3 { "What was read, and what is true" }
        div.nets {
            figure {
                (read)
                figcaption { (counts(pass)) }
            }
            figure {
                (real)
                figcaption { "true" }
            }
        }
        @if !pass.score.mistakes.is_empty() {
            p { "Read wrong:" }
            ul.mistakes {
                @for m in &pass.score.mistakes {
                    li {
                        (m.facelet.to_string()) ": " (colour_name(scene, m.truth)) " was read as "
                        (colour_name(scene, m.read))
                    }
                }
            }
        }
    }
}

/// How each facelet is known, and how surely.
fn counts(pass: &Pass) -> String {
    let mut counts = [0usize; 5];
    for reading in &pass.reading.facelets {
        counts[match reading.source {
            Source::Seen { .. } => 0,
            Source::Mounted => 1,
            Source::Inferred => 2,
            Source::Unknown => 3,
            Source::Told { .. } => 4,
        }] += 1;
    }
    let [seen, mounted, inferred, unknown, told] = counts;
    let probability = pass.reading.probability;
    let probability =
        probability.map_or(String::new(), |p| format!("; probability {}", percent(p)));
    let calibration = if pass.reading.without_calibration {
        "; without a calibration, by what cube colours usually look like"
    } else {
        ""
    };
    let told = if told > 0 { format!(", {told} told by the guest") } else { String::new() };
    format!(
        "read: {seen} seen, {mounted} centres known by mounting, {inferred} hidden and inferred, \
         {unknown} unknown{told}{probability}{calibration}; dashed = not seen, crossed = wrong"
    )
}
