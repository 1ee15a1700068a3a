//! What is told of a run that has ended.

use dryturn_cube::{Amount, CubeState, Turn};
use dryturn_handoff::{AxisLoad, BeatRun, GuestFault, GuestRole, Plan, Run, TurnRun};
use dryturn_units::degrees;

use super::bound::bound_s;
use super::show::Show;
use crate::seats::Seated;

impl Show<'_> {
    /// Plays it; what came of the cube `start`.
    pub(super) fn play(mut self, start: &CubeState, plan: &Plan) -> Run {
        self.played(start, plan)
    }

    /// The same, with what became of whoever sat in a seat.
    pub(super) fn play_seated(mut self, start: &CubeState, plan: &Plan) -> Seated {
        let run = self.played(start, plan);
        let mut stopped_because = None;
        if let Some(seated) = &mut self.host.seated {
            seated.end();
            stopped_because = seated.stopped_because.take();
            if let Some(fault) = seated.fault.take() {
                self.fault = Some(GuestFault::of(GuestRole::Host, seated.name(), fault));
            }
        }
        if let Some(controlling) = &mut self.controlling {
            controlling.end();
        }
        Seated { run, fault: self.fault, stopped_because }
    }

    fn played(&mut self, start: &CubeState, plan: &Plan) -> Run {
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
            trace: core::mem::take(&mut self.recording.trace),
            total_s,
            end,
            pushed: core::mem::take(&mut self.watch.pushed),
            free_deg: machine.interlock.free_deg,
            jam_deg: machine.budgets[0].jam_deg,
            bound_s: bound_s(machine, &execution.built, plan),
            resent: self.host.under_way.resent,
            limits: self.guard.limits,
            axis_steps: execution.axis_steps,
            energy: execution.energy(),
            axes: core::array::from_fn(load),
            power: execution.power,
            rest_deg: core::array::from_fn(|face| degrees(execution.axes[face].off_stop_rad())),
            final_state: self.final_state(start),
            beats: Vec::new(),
        };
        let beats = core::mem::take(&mut self.host.under_way.beats);
        // Beats whose commands had not arrived never began.
        let begun = beats.into_iter().filter(|beat| !beat.turns.is_empty());
        let beats = begun.map(|beat| closed(beat, total_s)).collect();
        Run { beats, ..run }
    }

    /// Turns count in the order in which they began, each face at the stop that it is nearest to.
    fn final_state(&self, start: &CubeState) -> CubeState {
        let beats = &self.host.under_way.beats;
        let mut turns: Vec<&TurnRun> = beats.iter().flat_map(|beat| &beat.turns).collect();
        turns.sort_by(|a, b| a.start_s.total_cmp(&b.start_s));
        let mut state = *start;
        let mut stops = [0.0; 6];
        for (place, TurnRun { turn, .. }) in turns.iter().enumerate() {
            let face = turn.face.index();
            let again = turns[place + 1..].iter().any(|later| later.turn.face == turn.face);
            let quarters = if again {
                turn.amount.angle_deg() / 90.0
            } else {
                self.execution.axes[face].moving.nearest_stop() - stops[face]
            };
            stops[face] += quarters;
            let made = (quarters as i32).rem_euclid(4) as u8;
            if let Some(amount) = Amount::from_quarters(made) {
                state = state.turned(Turn { face: turn.face, amount });
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
