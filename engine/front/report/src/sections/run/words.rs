//! A run in sentences.

use dryturn_cube::CubeState;
use dryturn_handoff::Run;

use crate::html::figures::{figure, ms};

/// How it ended, in a sentence.
pub(super) fn outcome(run: &Run) -> String {
    let pushed = match run.pushed.len() {
        0 => String::new(),
        1 => " One face was brought to a stand and got through.".to_owned(),
        n => format!(" {n} faces were brought to a stand and got through."),
    };
    let ended = match (run.jam(), run.stop()) {
        (Some(jam), _) => format!("Jammed in {jam}."),
        (None, Some(stop)) => format!("Stopped in {stop}."),
        (None, None) => "Completed.".to_owned(),
    };
    ended + &pushed
}

/// Time beside the bound, worst angle, and how the cube ends up.
pub(in crate::sections) fn times(run: &Run) -> String {
    let completed = run.failure().is_none();
    let over = 100.0 * (run.total_s / run.bound_s - 1.0);
    let bound = match (completed, over.is_finite()) {
        (true, true) => format!(
            "No execution of this plan on this drive can be faster than {} ms; this one took {} % more",
            ms(run.bound_s),
            figure(over, 1)
        ),
        _ => format!(
            "No complete execution of this plan on this drive can be faster than {} ms",
            ms(run.bound_s)
        ),
    };
    let until = match (run.jam(), run.stop()) {
        (Some(_), _) => "until the jam ended it",
        (None, Some(_)) => "until it was broken off",
        (None, None) => "from the first command until the last face had settled",
    };
    let worst = run.beats.iter().map(|b| b.worst_offset_deg).fold(0.0, f64::max);
    let resent = match run.resent {
        0 => String::new(),
        1 => " One command was sent again.".to_owned(),
        n => format!(" {n} commands were sent again."),
    };
    format!(
        "{} ms {until}. {bound}. A face was at most {}° off its stop when a neighbour reached it; up \
         to {}° nothing touches, beyond about {}° it jams.{resent} The cube ends up {}.",
        ms(run.total_s),
        figure(worst, 2),
        figure(run.free_deg, 2),
        figure(run.jam_deg, 2),
        if run.final_state == CubeState::SOLVED { "solved" } else { "unsolved" }
    )
}
