//! A run from its first tick to its last, and why it ends.

use dryturn_cube::Face;
use dryturn_handoff::{
    BeatRun, Cause, End, GuestFault, GuestRole, JamVerdict, SimulationLimit, Stop,
};
use dryturn_units::noise::Draw;

use super::Detail;
use super::controlling::Controlling;
use super::recording::Recording;
use crate::execution::Execution;
use crate::host::{Host, Progress};
use crate::rig::{BuiltAxes, Machine};
use crate::watch::{Found, Guard, Watch};

/// How long the rig is watched after the torque was cut, and how long it must be quiet to
/// be taken for resting.
const COASTING_S: f64 = 0.1;
const QUIET_S: f64 = 0.006;

/// Whoever sits in the controllers' place cannot go on; the show holds why.
struct Failed;

/// What plays together.
pub(super) struct Show<'a> {
    pub(super) execution: Execution<'a>,
    pub(super) host: Host<'a>,
    pub(super) guard: Guard,
    pub(super) watch: Watch,
    pub(super) recording: Recording,
    /// Who sits in the controllers' place.
    pub(super) controlling: Option<Controlling<'a>>,
    /// Why somebody in a seat could not go on.
    pub(super) fault: Option<GuestFault>,
}

impl<'a> Show<'a> {
    /// With every face where homing has put it.
    pub(super) fn of(
        machine: &'a Machine,
        (host, guard): (Host<'a>, Guard),
        draw: Draw,
        detail: Detail,
    ) -> Self {
        let built = BuiltAxes::of(machine, draw);
        Self {
            execution: Execution::new(machine, built, &machine.moves, &[0.0; 6]),
            host,
            guard,
            watch: Watch::new(),
            recording: Recording::new(detail, machine.tick_s),
            controlling: None,
            fault: None,
        }
    }
}

impl Show<'_> {
    /// Plays until it is done or broken off; how it ended, and when.
    pub(super) fn run_to_the_end(&mut self) -> (End, f64) {
        if let Some(fault) = &self.fault {
            return self.broken_off(Cause::Guest(fault.role));
        }
        let faults = self.execution.machine.file.faults.clone();
        let watchdog_s = self.execution.machine.file.link.watchdog_ms * 1e-3;
        let at = |ms: f64, after_s: f64| if ms > 0.0 { ms * 1e-3 + after_s } else { f64::INFINITY };
        let emergency_s = at(faults.emergency_stop_at_ms, 0.0);
        let deaf_s = at(faults.link_cut_at_ms, watchdog_s);
        loop {
            let now_s = self.execution.now_s();
            if now_s >= emergency_s {
                return self.broken_off(Cause::EmergencyStop);
            }
            if now_s >= deaf_s {
                return self.broken_off(Cause::Watchdog);
            }
            match self.host.tick(&mut self.execution) {
                Progress::Going => {}
                Progress::Done => {
                    self.recording.sample(&self.execution);
                    return (End::Completed, self.last_stop_s().min(now_s));
                }
                Progress::GaveUp(cause) => return self.broken_off(cause),
            }
            self.recording.sample(&self.execution);
            if self.advance().is_err() {
                return self.broken_off(Cause::Guest(GuestRole::Controller));
            }
            if let Some(limit) = self.guard.passed(&self.execution, self.host.under_way.beats.len())
            {
                return self.ended_by(limit);
            }
            match self.watch.tick(&self.execution, &mut self.host.under_way.beats) {
                None => {}
                Some(Found::Tripped(cause)) => return self.broken_off(cause),
                Some(Found::Broken(face)) => return self.broken(face, None),
                Some(Found::Stuck(face)) => {
                    // Somebody takes the power away.
                    let time_s = self.execution.now_s();
                    if let Some(face) = self.come_to_rest(time_s) {
                        return self.broken(face, None);
                    }
                    let jam = self.watch.jam(&self.execution, (JamVerdict::Stalled, None), None);
                    return match jam {
                        Some(jam) => (End::Jammed(jam), time_s),
                        None => self.stopped(Cause::NotSettled(face), time_s),
                    };
                }
            }
        }
    }

    /// One tick of the rig; an error where whoever sits in the controllers' place cannot go on.
    fn advance(&mut self) -> Result<(), Failed> {
        let Some(controlling) = &mut self.controlling else {
            self.execution.advance();
            return Ok(());
        };
        let advanced = controlling.advance(&mut self.execution);
        advanced.map_err(|fault| {
            let told = || GuestFault::of(GuestRole::Controller, controlling.name(), fault);
            self.fault.get_or_insert_with(told);
            Failed
        })
    }

    /// A limit of the simulation; nothing moves on where there are no numbers to move by.
    fn ended_by(&mut self, limit: SimulationLimit) -> (End, f64) {
        let cause = Cause::Simulation(limit);
        if limit == SimulationLimit::Numbers {
            return self.stopped(cause, self.execution.now_s());
        }
        self.broken_off(cause)
    }

    fn stopped(&self, cause: Cause, time_s: f64) -> (End, f64) {
        let beat = self.host.under_way.beats.len().saturating_sub(1);
        (End::Stopped(Stop { time_s, beat, cause }), time_s)
    }

    fn broken(&self, face: Face, noticed_s: Option<f64>) -> (End, f64) {
        let time_s = self.execution.now_s();
        let verdict = (JamVerdict::ShaftBroken, Some(face));
        match self.watch.jam(&self.execution, verdict, noticed_s) {
            Some(jam) => (End::Jammed(jam), time_s),
            None => self.stopped(Cause::ShaftBroken(face), time_s),
        }
    }

    /// The torque goes at `cut_s`; the rig unwinds and comes to rest. A shaft that breaks
    /// meanwhile.
    fn come_to_rest(&mut self, cut_s: f64) -> Option<Face> {
        let (mut cut, mut quiet_s) = (false, 0.0);
        while self.execution.now_s() < cut_s + COASTING_S && quiet_s < QUIET_S {
            if !cut && self.execution.now_s() >= cut_s {
                self.execution.let_go();
                cut = true;
            }
            self.recording.sample(&self.execution);
            // Whoever fails now is told of, but no longer why the run ends.
            let _ = self.advance();
            if let Some(Found::Broken(face)) = self.watch.coasting(&self.execution) {
                return Some(face);
            }
            let quiet = cut && self.execution.quiet();
            quiet_s = if quiet { quiet_s + self.execution.machine.tick_s } else { 0.0 };
        }
        None
    }

    /// The drives let go, after their latency; the rig comes to rest.
    fn broken_off(&mut self, cause: Cause) -> (End, f64) {
        let found_s = self.execution.now_s();
        let detection = &self.execution.machine.file.detection;
        let cut_s = found_s + detection.cut_off_latency_ms * 1e-3;
        // Who is not held up any more has got through, if too late.
        let verdict = if self.watch.somebody_stands() {
            JamVerdict::Stalled
        } else {
            JamVerdict::PushedThrough
        };
        let broken = self.come_to_rest(cut_s);
        if let Some(face) = broken {
            return self.broken(face, Some(found_s));
        }
        let by_jam = match cause {
            Cause::FollowingError(_) | Cause::Stalled(_) => true,
            Cause::NotSettled(_) | Cause::NotSteady(_) | Cause::Refused(_) | Cause::HostStopped => {
                self.watch.somebody_stands()
            }
            _ => false,
        };
        let jam = self.watch.jam(&self.execution, (verdict, None), Some(found_s));
        match jam.filter(|_| by_jam) {
            Some(jam) => (End::Jammed(jam), found_s),
            None => self.stopped(cause, found_s),
        }
    }

    fn last_stop_s(&self) -> f64 {
        self.host.under_way.beats.iter().map(BeatRun::stop_s).fold(0.0, f64::max)
    }
}
