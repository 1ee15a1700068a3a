//! A sheet with its executions, which follow what is read back from its rows.

use core::ops::ControlFlow;

use dryturn_cube::Turn;
use dryturn_driving::{Ceiling, Timing};
use dryturn_handoff::{CueSheet, Plan, Run};
use dryturn_scene::Scene;
use dryturn_units::noise::Seed;

use super::PROOF_EXECUTIONS;
use super::file::RigFile;
use super::proof::Followed;
use super::refusal::Refusal;
use super::rows::{self, NEVER_MS, RowTime};
use crate::digest;

/// A sheet with its executions.
pub(super) struct Draft {
    pub(super) sheet: CueSheet,
    pub(super) run: Run,
    pub(super) followed: Followed,
}

impl Draft {
    /// The executions follow what is read back from the rows as they are written.
    pub(super) fn of(
        scene: &Scene,
        (timing, ceiling): (&Timing, Ceiling),
        plan: &Plan,
        waiting: bool,
        seed: Seed,
    ) -> Result<Self, Refusal> {
        let made = timing.cues(plan, waiting);
        let run = timing.followed(&made);
        let rows = rows::write(&made, &times(timing, &made, &run), (ceiling.share(), false));
        let state = digest(b"");
        let text = rows::sealed(format!("{}\n# state {state}\n{rows}", rows::TITLE));
        let read = RigFile::parse(&text).map_err(Refusal::TooLong)?;
        let go_on = |_| ControlFlow::Continue(());
        let followed = read.follow(scene, seed.trial(0), PROOF_EXECUTIONS, &go_on);
        let followed = followed.expect("nobody breaks it off");
        Ok(Self { sheet: read.sheet, run, followed })
    }
}

/// The times of a sheet's rows in its predicted run.
pub(super) fn times(timing: &Timing, sheet: &CueSheet, run: &Run) -> Vec<RowTime> {
    let first_s = run.beats.first().map_or(0.0, |beat| beat.start_s());
    let start_ms = |beat: usize, turn: Turn| {
        let turns = &run.beats.get(beat)?.turns;
        let started = turns.iter().find(|started| started.turn == turn)?;
        Some((started.start_s - first_s) * 1e3)
    };
    let mut times = Vec::new();
    for (number, beat) in sheet.beats.iter().enumerate() {
        times.extend(beat.turns.iter().map(|turn| RowTime {
            start_ms: start_ms(number, turn.turn).unwrap_or(NEVER_MS),
            duration_ms: timing.turn_s(turn.turn) * 1e3,
        }));
    }
    let end_ms = if run.failure().is_none() { (run.total_s - first_s) * 1e3 } else { NEVER_MS };
    times.push(RowTime { start_ms: end_ms, duration_ms: 0.0 });
    times
}
