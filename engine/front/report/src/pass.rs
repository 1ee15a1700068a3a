//! One pass as a section of the report.

use core::fmt::Write as _;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use dryturn_cube::{Face, Facelet, notation};
use dryturn_handoff::{Outcome, Run, Source};
use dryturn_rehearsal::{Pass, StartToStop, Verdict};
use dryturn_scene::Scene;

use crate::html::{Escaped, figure};
use crate::net::{self, Cell};
use crate::page::POINTER;
use crate::{course, picture, reading, run, stacked, table, timing};

/// What a person calls the colour of a face.
pub(crate) fn colour_name(scene: &Scene, face: Face) -> String {
    format!("{:?}", scene.file().cube.colours.of(face)).to_lowercase()
}

/// The section; `with_pictures` says whether the frames are embedded.
pub(crate) fn section(number: usize, pass: &Pass, with_pictures: bool) -> String {
    let mut out = format!(
        "<section><h2>Pass {number}: {}, trial {}</h2><p class=\"verdict {}\">{}</p>",
        Escaped(&pass.scene.file().name),
        pass.trial,
        pass.verdict.word(),
        Escaped(verdict_sentence(pass)),
    );
    if with_pictures {
        pictures(&mut out, pass);
    } else {
        out.push_str("<p class=\"aside\">The pictures of the first six passes are shown.</p>");
    }
    nets(&mut out, pass);
    reading::details(&mut out, pass);
    if let Some(plan) = &pass.plan {
        let beats: Vec<String> = plan
            .beats
            .iter()
            .map(|beat| format!("<li>{}</li>", Escaped(notation::format(&beat.turns))))
            .collect();
        let _ = write!(
            out,
            "<h3>Plan</h3><p>{} turns in {} beats; two turns in a beat run together. {}</p>\
             <ol class=\"beats\">{}</ol>",
            plan.turns().len(),
            plan.beats.len(),
            if pass.plan_solves_reading() == Some(true) {
                "Applied to the state that was read, it solves it."
            } else {
                "Applied to the state that was read, it does not solve it."
            },
            beats.concat()
        );
        if let Some(run) = &pass.run {
            execution(&mut out, pass, run, with_pictures);
        }
    }
    out.push_str("</section>");
    out
}

/// What was turned, and the whole from the start button on; `in_full` with the charts.
fn execution(out: &mut String, pass: &Pass, run: &Run, in_full: bool) {
    let _ = write!(
        out,
        "<h3>Execution</h3>{POINTER}<p>{}</p><p>{}</p>{}",
        Escaped(run::times(run)),
        run::energy_line(run),
        timing::chart(run)
    );
    run::stands(out, run);
    if in_full {
        out.push_str("<details><summary>Angle budget of each axis</summary>");
        run::budget(out, run);
        out.push_str("</details>");
        let charts = course::charts(run, &pass.scene);
        if !charts.is_empty() {
            let _ = write!(
                out,
                "<details><summary>Angle, speed, current, clearance, voltage and heat over time\
                 </summary>{charts}</details>"
            );
        }
    }
    if let Some(budget) = pass.start_to_stop() {
        start_to_stop(out, &budget, run.failure().is_none(), in_full);
    }
}

/// Where the time from the start button goes; in full with a bar of six parts and a table.
fn start_to_stop(out: &mut String, budget: &StartToStop, completed: bool, in_full: bool) {
    let (parts, total_s) = (budget.parts(), budget.total_s());
    let _ = write!(
        out,
        "<h3>From the start button to the last stop</h3><p>{} ms{}. All but the execution is \
         modelled from the scene's figures.</p>",
        figure(total_s * 1e3, 1),
        if completed { "" } else { " until the execution was broken off" }
    );
    if !in_full {
        return;
    }
    let names = parts.map(|(name, seconds)| format!("{name} {} ms", figure(seconds * 1e3, 1)));
    let row = (String::new(), parts.map(|(_, seconds)| seconds * 1e3).to_vec());
    let title = "From the start button to the last stop";
    out.push_str(&stacked::draw(title, "time from the start button, ms", &names, &[row], &[]));
    let share = |seconds: f64| figure(100.0 * seconds / total_s, 1);
    let rows = parts.into_iter().chain([("whole", total_s)]);
    let rows =
        rows.map(|(name, seconds)| vec![name.to_owned(), figure(seconds * 1e3, 1), share(seconds)]);
    table::draw(out, "figures", &["part", "ms", "% of the whole"], rows);
}

fn verdict_sentence(pass: &Pass) -> String {
    let failure = pass.run.as_ref().and_then(|run| run.failure());
    match (pass.verdict, failure) {
        (Verdict::Solved, _) => "Solved.".to_owned(),
        (Verdict::Jammed, Some(failure)) => format!("Jammed in {failure}."),
        (Verdict::Stopped, Some(failure)) => format!("Stopped in {failure}."),
        (Verdict::Misread, _) => {
            "Misread: a legal cube was read, but not this one; it was turned in vain.".to_owned()
        }
        _ => match &pass.reading.outcome {
            Outcome::Unreadable { because, .. } => format!("Unreadable, because {because}."),
            Outcome::Read(_) => "The run ended elsewhere than planned.".to_owned(),
        },
    }
}

fn pictures(out: &mut String, pass: &Pass) {
    out.push_str("<h3>What the cameras saw</h3><div class=\"pictures\">");
    for frame in &pass.scan.frames {
        let name = Escaped(&frame.camera);
        match picture::encode(frame) {
            Ok(png) => {
                let data = STANDARD.encode(png);
                let _ = write!(
                    out,
                    "<figure><img alt=\"picture of camera {name}\" width=\"{}\" height=\"{}\" \
                     src=\"data:image/png;base64,{data}\"><figcaption>camera {name}, {} × {} px\
                     </figcaption></figure>",
                    frame.width, frame.height, frame.width, frame.height
                );
            }
            Err(error) => {
                let _ = write!(out, "<p>Camera {name}: {}</p>", Escaped(error));
            }
        }
    }
    out.push_str("</div>");
}

/// A probability, to as many nines as it has.
#[must_use]
pub fn percent(probability: f64) -> String {
    match 1.0 - probability {
        rest if rest < 1e-6 => "over 99.9999 %".to_owned(),
        rest if rest < 0.01 => format!("{:.4} %", 100.0 * probability),
        _ => format!("{:.1} %", 100.0 * probability),
    }
}

fn nets(out: &mut String, pass: &Pass) {
    let truth = pass.truth.colours();
    let scene = &pass.scene;
    let mut counts = [0usize; 4];
    let read = net::draw(scene, "The net that was read", |facelet| {
        let reading = &pass.reading.facelets[facelet.index()];
        let (how, dashed) = match &reading.source {
            Source::Mounted => ("known by mounting".to_owned(), true),
            Source::Inferred => ("hidden, inferred".to_owned(), true),
            Source::Unknown => ("hidden, unknown".to_owned(), true),
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
    for reading in &pass.reading.facelets {
        counts[match reading.source {
            Source::Seen { .. } => 0,
            Source::Mounted => 1,
            Source::Inferred => 2,
            Source::Unknown => 3,
        }] += 1;
    }
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
    let _ = write!(
        out,
        "<h3>What was read, and what is true</h3><div class=\"nets\"><figure>{read}<figcaption>read: \
         {} seen, {} centres known by mounting, {} hidden and inferred, {} unknown{}{}; dashed = not \
         seen, crossed = wrong</figcaption></figure><figure>{real}<figcaption>true</figcaption>\
         </figure></div>",
        counts[0],
        counts[1],
        counts[2],
        counts[3],
        pass.reading.probability.map_or(String::new(), |p| format!("; probability {}", percent(p))),
        if pass.reading.without_calibration {
            "; without a calibration, by what cube colours usually look like"
        } else {
            ""
        }
    );
    if !pass.score.mistakes.is_empty() {
        let lines: Vec<String> = pass
            .score
            .mistakes
            .iter()
            .map(|m| {
                let (truth, read) = (colour_name(scene, m.truth), colour_name(scene, m.read));
                format!("<li>{}: {truth} was read as {read}</li>", m.facelet)
            })
            .collect();
        let _ = write!(out, "<p>Read wrong:</p><ul class=\"mistakes\">{}</ul>", lines.concat());
    }
}
