//! The run: host, drives and plant on one clock.

use dryturn_cube::{Amount, CubeState, Face, Turn};
use dryturn_handoff::{
    AxisLoad, BeatRun, Cause, CueSheet, End, JamVerdict, Plan, Run, SimulationLimit, Stop, Trace,
    neighbours,
};
use dryturn_scene::Scene;
use dryturn_units::noise::Draw;
use dryturn_units::{degrees, radians};

use crate::bound::bound_s;
use crate::draws::BuiltAxes;
use crate::execution::Execution;
use crate::host::{Host, Progress};
use crate::limits::Guard;
use crate::machine::Machine;
use crate::watch::{Found, Watch};

/// Time between samples of the trace, about.
const SAMPLE_S: f64 = 5e-4;
/// A trace with so many samples is thinned out by half, and goes on in steps twice as long: a
/// minute in the steps that it begins with.
const MOST_SAMPLES: usize = 120_000;
/// How long the rig is watched after the torque was cut, and how long it must be quiet to
/// be taken for resting.
const COASTING_S: f64 = 0.1;
const QUIET_S: f64 = 0.006;

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
        self.run_from(&[0.0; 6], start, plan, draw, detail)
    }

    /// The same where faces do not stand where homing has put them but `off_deg` degrees
    /// off their stops, held there: what happens if nobody squares them. 0 for a face that
    /// stands where homing has put it.
    #[must_use]
    pub fn run_from(
        &self,
        off_deg: &[f64; 6],
        start: &CubeState,
        plan: &Plan,
        draw: Draw,
        detail: Detail,
    ) -> Run {
        let guard = Guard::new(self.limits(plan.beats.len(), None));
        self.show(off_deg, (Host::new(plan, self), guard), draw, detail).play(start, plan)
    }

    /// Turns the cube `start` by the turns of a sheet, each beat started by its cues, in the
    /// trial that `draw` names.
    #[must_use]
    pub fn follow(&self, sheet: &CueSheet, start: &CubeState, draw: Draw, detail: Detail) -> Run {
        let plan = sheet.plan();
        let host = Host::following(&plan, sheet, self);
        let guard = Guard::new(self.limits(plan.beats.len(), Some(sheet)));
        self.show(&[0.0; 6], (host, guard), draw, detail).play(start, &plan)
    }

    fn show<'a>(
        &'a self,
        off_deg: &[f64; 6],
        (host, guard): (Host<'a>, Guard),
        draw: Draw,
        detail: Detail,
    ) -> Show<'a> {
        let built = BuiltAxes::of(self, draw);
        Show {
            execution: Execution::new(self, built, &self.moves, &off_deg.map(radians)),
            host,
            guard,
            watch: Watch::new(),
            detail,
            trace: Trace::default(),
            per_sample: ((SAMPLE_S / self.tick_s).round() as usize).max(1),
        }
    }
}

struct Show<'a> {
    execution: Execution<'a>,
    host: Host<'a>,
    guard: Guard,
    watch: Watch,
    detail: Detail,
    trace: Trace,
    per_sample: usize,
}

impl Show<'_> {
    fn play(mut self, start: &CubeState, plan: &Plan) -> Run {
        let (end, total_s) = self.run_to_the_end();
        let execution = &self.execution;
        let machine = execution.machine;
        let ambient_c = machine.source.ambient_c;
        let load = |face: usize| {
            let axis = &execution.axes[face];
            AxisLoad {
                peak_torque_n_m: axis.peak_torque_n_m,
                ultimate_torque_n_m: execution.built.axes[face].ultimate_n_m,
                peak_current_a: axis.peak_current_a,
                winding_c: ambient_c + axis.warmest_k,
                budget: machine.budgets[face],
            }
        };
        let run = Run {
            trace: core::mem::take(&mut self.trace),
            total_s,
            end,
            pushed: core::mem::take(&mut self.watch.pushed),
            free_deg: machine.interlock.free_deg,
            jam_deg: machine.budgets[0].jam_deg,
            bound_s: bound_s(machine, &execution.built, plan),
            resent: self.host.resent,
            limits: self.guard.limits,
            axis_steps: execution.axis_steps,
            energy: execution.energy(),
            axes: core::array::from_fn(load),
            power: execution.power,
            rest_deg: core::array::from_fn(|face| degrees(execution.axes[face].off_stop_rad())),
            final_state: self.final_state(start),
            beats: Vec::new(),
        };
        let beats = self.host.beats.into_iter().map(|beat| closed(beat, total_s)).collect();
        Run { beats, ..run }
    }

    /// Plays until it is done or broken off; how it ended, and when.
    fn run_to_the_end(&mut self) -> (End, f64) {
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
                    self.sample();
                    return (End::Completed, self.last_stop_s());
                }
                Progress::GaveUp(cause) => return self.broken_off(cause),
            }
            self.sample();
            self.execution.advance();
            if let Some(limit) = self.guard.passed(&self.execution, self.host.beats.len()) {
                return self.ended_by(limit);
            }
            match self.watch.tick(&self.execution, &mut self.host.beats) {
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

    /// A limit of the simulation; nothing moves on where there are no numbers to move by.
    fn ended_by(&mut self, limit: SimulationLimit) -> (End, f64) {
        let cause = Cause::Simulation(limit);
        if limit == SimulationLimit::Numbers {
            return self.stopped(cause, self.execution.now_s());
        }
        self.broken_off(cause)
    }

    fn stopped(&self, cause: Cause, time_s: f64) -> (End, f64) {
        let beat = self.host.beats.len().saturating_sub(1);
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
            self.sample();
            self.execution.advance();
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
            Cause::NotSettled(_) | Cause::NotSteady(_) => self.watch.somebody_stands(),
            _ => false,
        };
        let jam = self.watch.jam(&self.execution, (verdict, None), Some(found_s));
        match jam.filter(|_| by_jam) {
            Some(jam) => (End::Jammed(jam), found_s),
            None => self.stopped(cause, found_s),
        }
    }

    fn last_stop_s(&self) -> f64 {
        self.host.beats.iter().map(BeatRun::stop_s).fold(0.0, f64::max)
    }

    fn sample(&mut self) {
        let execution = &self.execution;
        if self.detail == Detail::Figures || !execution.tick.is_multiple_of(self.per_sample) {
            return;
        }
        let trace = &mut self.trace;
        if trace.angles_deg.len() >= MOST_SAMPLES {
            trace.thin_out();
            self.per_sample *= 2;
        }
        trace.step_s = self.per_sample as f64 * execution.machine.tick_s;
        let axes = &execution.axes;
        trace.angles_deg.push(core::array::from_fn(|i| degrees(axes[i].moving.layer_rad)));
        trace.encoders_deg.push(core::array::from_fn(|i| {
            degrees(execution.built.axes[i].encoder.reads(axes[i].moving.motor_rad))
        }));
        trace.speeds_rad_s.push(core::array::from_fn(|i| axes[i].moving.motor_rad_s));
        trace.currents_a.push(core::array::from_fn(|i| axes[i].moving.current_a));
        trace.gaps_mm.push(neighbours().map(|(one, other)| {
            let (one, other) = (&axes[one.index()], &axes[other.index()]);
            let (late, turning) = if one.order < other.order { (one, other) } else { (other, one) };
            let interlock = &execution.built.contact.interlock;
            interlock.gap_mm(late.off_stop_rad(), turning.turned_rad())
        }));
        trace.bus_v.push(execution.bus.voltage_v);
        trace.resistor_c.push(execution.bus.resistor_c(&execution.machine.source));
        trace.winding_c.push(execution.hottest_c());
    }

    /// Each face counts at the stop that it is nearest to.
    fn final_state(&self, start: &CubeState) -> CubeState {
        let mut state = *start;
        let mut stops = [0.0; 6];
        for (index, beat) in self.host.beats.iter().enumerate() {
            for started in &beat.turns {
                let turn = started.turn;
                let face = turn.face.index();
                let whole = turn.amount.angle_deg() / 90.0;
                let again = self.host.beats[index + 1..]
                    .iter()
                    .any(|later| later.turns.iter().any(|t| t.turn.face == turn.face));
                let quarters = if again {
                    whole
                } else {
                    self.execution.axes[face].moving.nearest_stop() - stops[face]
                };
                stops[face] += quarters;
                let made = (quarters as i32).rem_euclid(4) as u8;
                if let Some(amount) = Amount::from_quarters(made) {
                    state = state.turned(Turn { face: turn.face, amount });
                }
            }
        }
        state
    }
}

/// A beat whose turns that never settled end with the run.
fn closed(mut beat: BeatRun, end_s: f64) -> BeatRun {
    for turn in &mut beat.turns {
        turn.stop_s = turn.stop_s.min(end_s).max(turn.start_s);
    }
    beat
}
