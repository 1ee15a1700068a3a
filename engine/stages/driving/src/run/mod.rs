//! The run: host, drives and plant on one clock.

mod bound;
mod controlling;
mod outcome;
mod recording;
mod seated;
mod show;
mod square;
#[cfg(test)]
mod tests;

use dryturn_cube::CubeState;
use dryturn_handoff::{CueSheet, Plan, Run};
use dryturn_scene::Scene;
use dryturn_units::noise::Draw;

use crate::host::Host;
use crate::rig::Machine;
use crate::watch::Guard;
use show::Show;
pub use square::Squared;

/// What is kept of a run.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Detail {
    /// Figures alone.
    Figures,
    /// The whole trace too.
    Trace,
}

/// Turns the cube `start` by `plan` on the scene's axes. `draw` names what
/// differs from rig to rig and from turn to turn. A jam is a result: it ends
/// the run.
#[must_use]
pub fn simulate(scene: &Scene, start: &CubeState, plan: &Plan, draw: Draw) -> Run {
    Machine::of(scene).run(start, plan, draw, Detail::Trace)
}

impl Machine {
    /// Turns the cube `start` by `plan`, in the trial that `draw` names.
    #[must_use]
    pub fn run(&self, start: &CubeState, plan: &Plan, draw: Draw, detail: Detail) -> Run {
        let guard = Guard::new(self.limits(plan.beats.len(), None));
        Show::of(self, (Host::new(plan, self), guard), draw, detail).play(start, plan)
    }

    /// Turns the cube `start` by the turns of a sheet, each beat started by its cues, in the
    /// trial that `draw` names.
    #[must_use]
    pub fn follow(&self, sheet: &CueSheet, start: &CubeState, draw: Draw, detail: Detail) -> Run {
        let plan = sheet.plan();
        let host = Host::following(&plan, sheet, self);
        let guard = Guard::new(self.limits(plan.beats.len(), Some(sheet)));
        Show::of(self, (host, guard), draw, detail).play(start, &plan)
    }
}
