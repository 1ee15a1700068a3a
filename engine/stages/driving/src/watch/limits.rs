//! How long a run may go on, whatever its host, its controllers and its axes do.
//!
//! **A beat** may take the sum of what the scene gives each of its parts: the host's
//! bookkeeping; the link at its worst, a command lost as often as it may be sent again and
//! then as late as its jitter can make it; the time in which a beat must have settled
//! (`handover.beat_limit_ms`, or the longest time-out of a sheet, whichever is more); the dwell
//! twice, for one may be under way when the time is over; and the watchdogs' time where
//! the link goes dead. The host's own limits lie within it, so it ends a run only where they
//! do not.
//!
//! **A run** may take as long for each beat of its plan, and for one more, the last wait.
//!
//! **Steps** are limited to [`STEPS_A_BEAT`] for each beat and one more, 600 times what a beat of a
//! usual rig takes and more: where a drawing has a stiff shaft, a light rotor or a quick controller, a second
//! of the rig may be hours of computing.

use dryturn_handoff::{CueSheet, RunLimits, SimulationLimit};

use crate::execution::Execution;
use crate::rig::Machine;

/// Steps of the plant for each beat: of the supply, and of each axis that does not rest. A
/// million take about a twentieth of a second.
pub(crate) const STEPS_A_BEAT: u64 = 20_000_000;
/// So many periods of the controllers more: each of a beat's parts ends on one.
const TICKS: f64 = 16.0;

impl Machine {
    /// What a run of a plan with so many beats may take at the most; `sheet` where its beats
    /// start by cues.
    #[must_use]
    pub fn limits(&self, beats: usize, sheet: Option<&CueSheet>) -> RunLimits {
        let (link, handover) = (&self.file.link, &self.file.handover);
        let sent = f64::from(link.most_resends) + 1.0;
        let link_ms = sent * link.resend_after_ms + 2.0 * link.command_latency_ms;
        let cued = sheet.iter().flat_map(|sheet| sheet.beats.iter().chain([&sheet.end]));
        let settle_ms = cued.map(|beat| beat.time_out_ms).fold(handover.beat_limit_ms, f64::max);
        let dwell_ms = sheet.map_or(0.0, |sheet| sheet.dwell_ms).max(handover.settle_dwell_ms);
        let beat_ms = self.file.drive.overhead_ms
            + link_ms
            + settle_ms
            + 2.0 * dwell_ms
            + link.watchdog_ms
            + TICKS * self.tick_s * 1e3;
        let beat_s = beat_ms * 1e-3;
        let turns = beats as u64 + 1;
        RunLimits {
            beat_s,
            run_s: beat_s * turns as f64,
            axis_steps: STEPS_A_BEAT.saturating_mul(turns),
        }
    }
}

/// Watches over one run's limits.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Guard {
    pub(crate) limits: RunLimits,
    /// Beats that had been started, and since when.
    started: usize,
    since_s: f64,
}

impl Guard {
    pub(crate) fn new(limits: RunLimits) -> Self {
        Self { limits, started: 0, since_s: 0.0 }
    }

    /// The limit that has been passed, if any, with so many beats started.
    pub(crate) fn passed(
        &mut self,
        execution: &Execution<'_>,
        started: usize,
    ) -> Option<SimulationLimit> {
        let now_s = execution.now_s();
        if started != self.started {
            (self.started, self.since_s) = (started, now_s);
        }
        if !execution.is_finite() {
            return Some(SimulationLimit::Numbers);
        }
        if now_s - self.since_s > self.limits.beat_s {
            return Some(SimulationLimit::BeatTime);
        }
        if now_s > self.limits.run_s {
            return Some(SimulationLimit::RunTime);
        }
        (execution.axis_steps > self.limits.axis_steps).then_some(SimulationLimit::Steps)
    }
}

#[cfg(test)]
mod tests {
    use dryturn_cube::{CubeState, notation};
    use dryturn_handoff::{Cause, Plan};
    use dryturn_units::noise::Seed;

    use super::*;
    use crate::rig::BuiltAxes;
    use crate::run::Detail;
    use crate::support::workbench;

    fn machine() -> Machine {
        Machine::of(&workbench(&[]))
    }

    /// The sum that a person would make of the scene's figures: 4 sendings 5 ms apart and twice
    /// 1 ms, 1000 ms to settle, 100 ms of the watchdogs, 2 ms of overhead, 16 ticks.
    #[test]
    fn limits_follow_from_the_scene() {
        let limits = machine().limits(3, None);
        let beat_s = 0.02 + 0.002 + 1.0 + 0.1 + 0.002 + 0.002;
        assert!((limits.beat_s - beat_s).abs() < 1e-9, "{limits:?}");
        assert!((limits.run_s - 4.0 * beat_s).abs() < 1e-9 && limits.axis_steps == 80_000_000);
    }

    /// A usual rig is far from its limits.
    #[test]
    fn usual_runs_are_far_from_their_limits() {
        let plan = Plan::of_turns(&notation::parse("R U2 F' D L B2").unwrap());
        let run = machine().run(&CubeState::SOLVED, &plan, Seed::new(1).trial(0), Detail::Figures);
        let beats = plan.beats.len() as u64;
        assert!(run.axis_steps / beats < 30_000, "{} in {beats} beats", run.axis_steps);
        assert!(run.total_s < 0.1 * run.limits.run_s);
    }

    #[test]
    fn every_limit_is_noticed() {
        let machine = machine();
        let built = || BuiltAxes::of(&machine, Seed::new(1).trial(0));
        let mut execution = Execution::new(&machine, built(), &machine.moves, &[0.0; 6]);
        let limits = RunLimits { beat_s: 0.01, run_s: 0.02, axis_steps: 100_000 };
        let mut guard = Guard::new(limits);
        let on_for = |execution: &mut Execution<'_>, seconds: f64| {
            (0..(seconds / machine.tick_s) as usize).for_each(|_| execution.advance());
        };
        assert_eq!(guard.passed(&execution, 0), None);
        on_for(&mut execution, 0.012);
        assert_eq!(guard.passed(&execution, 0), Some(SimulationLimit::BeatTime));
        // The next beat has its own time.
        assert_eq!(guard.passed(&execution, 1), None);
        on_for(&mut execution, 0.009);
        assert_eq!(guard.passed(&execution, 1), Some(SimulationLimit::RunTime));
        let mut guard = Guard::new(RunLimits { axis_steps: 10, ..machine.limits(1, None) });
        assert_eq!(guard.passed(&execution, 1), Some(SimulationLimit::Steps));
        execution.axes[3].moving.layer_rad_s = f64::NAN;
        assert_eq!(guard.passed(&execution, 1), Some(SimulationLimit::Numbers));
        execution.axes[3].moving.layer_rad_s = f64::INFINITY;
        // It goes on without a panic, to no end.
        on_for(&mut execution, 0.001);
        assert_eq!(guard.passed(&execution, 1), Some(SimulationLimit::Numbers));
    }

    /// Where a step is far too small a run ends by its steps, and says so.
    #[test]
    fn a_run_ends_by_its_steps() {
        let machine = machine().with_steps_per_tick(100_000);
        let plan = Plan::of_turns(&notation::parse("R").unwrap());
        let start = CubeState::SOLVED;
        let run = machine.run(&start, &plan, Seed::new(1).trial(0), Detail::Figures);
        let stop = run.stop().expect("a stop");
        assert_eq!(stop.cause, Cause::Simulation(SimulationLimit::Steps));
        assert!(stop.to_string().contains("more steps than the simulation gives"), "{stop}");
        assert!(run.axis_steps > run.limits.axis_steps);
    }
}
