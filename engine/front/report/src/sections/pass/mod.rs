//! One pass as a section of the report.

mod behind;
mod nets;
mod plane;
mod start_to_stop;
mod weakest;

use dryturn_cube::notation;
use dryturn_handoff::{Outcome, Plan, Run};
use dryturn_rehearsal::{Pass, Verdict};
use maud::{Markup, html};

use crate::charts::timing;
use crate::pictures::data_address;
use crate::sections::{cautions, run};

/// The section; `with_pictures` says whether the frames are embedded.
pub(crate) fn section(number: usize, pass: &Pass, with_pictures: bool) -> Markup {
    html! {
        section {
            h2 { "Pass " (number) ": " (pass.scene.file().name) ", trial " (pass.trial) }
            p class={ "verdict " (pass.verdict.word()) } { (verdict_sentence(pass)) }
            @if let Some(guests) = pass.guests.in_words() { p { (guests) } }
            @if let Some(fault) = pass.fault.as_ref().filter(|fault| !fault.fault.stderr.is_empty()) {
                p { "The last lines of its standard error:" }
                pre { (fault.fault.stderr.join("\n")) }
            }
            @if let Some(why) = &pass.stopped_because { p { "The host stopped it: " (why) "." } }
            @if with_pictures {
                (pictures(pass))
            } @else {
                p.aside { "The pictures of the first six passes are shown." }
            }
            (nets::nets(pass))
            (behind::details(pass))
            @if let Some(plan) = &pass.plan {
                (plan_of(pass, plan))
                @if let Some(run) = &pass.run { (execution(pass, run, with_pictures)) }
            }
        }
    }
}

fn verdict_sentence(pass: &Pass) -> String {
    let failure = pass.run.as_ref().and_then(|run| run.failure());
    match (pass.verdict, failure) {
        (Verdict::Solved, _) => "Solved.".to_owned(),
        (Verdict::Jammed, Some(failure)) => format!("Jammed in {failure}."),
        (Verdict::Stopped, Some(failure)) => format!("Stopped in {failure}."),
        (Verdict::Guest, _) => {
            let fault = pass.fault.as_ref().map(ToString::to_string);
            format!("A guest could not go on: {}.", fault.unwrap_or_default())
        }
        (Verdict::Misread, _) => {
            "Misread: a legal cube was read, but not this one; it was turned in vain.".to_owned()
        }
        _ => match &pass.reading.outcome {
            Outcome::Unreadable { because, .. } => format!("Unreadable, because {because}."),
            Outcome::Read(_) => "The run ended elsewhere than planned.".to_owned(),
        },
    }
}

fn pictures(pass: &Pass) -> Markup {
    html! {
        h3 { "What the cameras saw" }
        div.pictures {
            @for frame in &pass.scan.frames {
                @match data_address(frame) {
                    Ok(address) => figure {
                        img alt={ "picture of camera " (frame.camera) } width=(frame.width)
                            height=(frame.height) src=(address);
                        figcaption {
                            "camera " (frame.camera) ", " (frame.width) " × " (frame.height) " px"
                        }
                    },
                    Err(error) => p { "Camera " (frame.camera) ": " (error.to_string()) },
                }
            }
        }
    }
}

fn plan_of(pass: &Pass, plan: &Plan) -> Markup {
    let solves = if pass.plan_solves_reading() == Some(true) {
        "Applied to the state that was read, it solves it."
    } else {
        "Applied to the state that was read, it does not solve it."
    };
    html! {
        h3 { "Plan" }
        p {
            (plan.turns().len()) " turns in " (plan.beats.len())
            " beats; two turns in a beat run together. " (solves)
        }
        ol.beats { @for beat in &plan.beats { li { (notation::format(&beat.turns)) } } }
    }
}

/// What was turned, and the whole from the start button on; `in_full` with the charts.
fn execution(pass: &Pass, run: &Run, in_full: bool) -> Markup {
    html! {
        h3 { "Execution" }
        (cautions::pointer())
        p { (run::times(run)) }
        p { (run::energy_line(run)) }
        (timing::chart(run))
        (run::stands(run))
        @if in_full {
            details {
                summary { "Angle budget of each axis" }
                (run::budget(run))
            }
            @if let Some(charts) = run::charts(run, &pass.scene) {
                details {
                    summary {
                        "Angle, speed, current, clearance, voltage and heat over time"
                    }
                    (charts)
                }
            }
        }
        @if let Some(budget) = pass.start_to_stop() {
            (start_to_stop::section(&budget, run.failure().is_none(), in_full))
        }
    }
}
