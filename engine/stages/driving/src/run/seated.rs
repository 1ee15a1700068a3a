//! A run with somebody in a seat.

use core::f64::consts::TAU;

use dryturn_cube::{Amount, CubeState};
use dryturn_handoff::{GuestFault, GuestRole, Plan, RunLimits, SeatFault};
use dryturn_units::degrees;
use dryturn_units::noise::Draw;

use super::Detail;
use super::controlling::Controlling;
use super::show::Show;
use crate::control::{HALF, QUARTER, Setpoint};
use crate::host::{Host, SeatedHost};
use crate::rig::{Machine, encoder_step_rad};
use crate::seats::{
    ControllerBrief, ControllerSeat, HostBrief, LONGEST_MS, ProfilePoint, Seated, Seats,
    whole_ticks,
};
use crate::watch::Guard;

impl Machine {
    /// Turns the cube `start` by `plan`, in the trial that `draw` names, with whoever sits in a
    /// seat. Where nobody does it is [`Machine::run`].
    ///
    /// The limits of the run are those of the plan, longer by what a host's seat thinks. A host
    /// may also command no more than four turns for each of the plan and a hundred more.
    #[must_use]
    pub fn run_with(
        &self,
        start: &CubeState,
        plan: &Plan,
        draw: Draw,
        detail: Detail,
        seats: Seats<'_>,
    ) -> Seated {
        let Seats { host, controller, .. } = seats;
        let every = whole_ticks(seats.host_period_ms, self.tick_s).max(1);
        let latency_ms = seats.host_latency_ms.clamp(0.0, LONGEST_MS);
        let later = whole_ticks(seats.controller_latency_ms, self.tick_s);
        let mut limits = self.limits(plan.beats.len(), None);
        let mut fault = None;
        let host = match host {
            None => Host::new(plan, self),
            Some(seat) => {
                let period_s = every as f64 * self.tick_s;
                limits = longer(limits, latency_ms * 1e-3 + period_s, plan.beats.len());
                let begun = seat.begin(&self.host_brief(plan, period_s));
                fault =
                    begun.err().map(|fault| GuestFault::of(GuestRole::Host, seat.name(), fault));
                Host::seated(plan, self, SeatedHost::new(seat, plan, (every, latency_ms * 1e-3)))
            }
        };
        let controlling = controller.map(|seat| {
            if fault.is_none() {
                let begun = self.begun(seat, later as f64 * self.tick_s);
                fault = begun
                    .err()
                    .map(|fault| GuestFault::of(GuestRole::Controller, seat.name(), fault));
            }
            Controlling::new(seat, later, fault.is_some())
        });
        let show = Show::of(self, (host, Guard::new(limits)), draw, detail);
        Show { controlling, fault, ..show }.play_seated(start, plan)
    }

    fn host_brief<'a>(&self, plan: &'a Plan, period_s: f64) -> HostBrief<'a> {
        let (link, handover) = (&self.file.link, &self.file.handover);
        HostBrief {
            plan,
            tick_s: self.tick_s,
            period_s,
            counts_per_turn: self.counts_per_turn(),
            settle_window_deg: handover.settle_window_deg,
            settle_dwell_ms: handover.settle_dwell_ms,
            beat_limit_ms: handover.beat_limit_ms,
            beyond_deg: core::array::from_fn(|face| degrees(self.beyond_rad(face))),
            latency_ms: link.command_latency_ms,
            jitter_sigma_ms: link.command_jitter_sigma_ms,
            overhead_ms: self.file.drive.overhead_ms,
            resend_after_ms: link.resend_after_ms,
            most_resends: link.most_resends,
            watchdog_ms: link.watchdog_ms,
            quarter_turn_s: self.turn_s(Amount::Clockwise),
            half_turn_s: self.turn_s(Amount::Half),
        }
    }

    /// Tells a controller what it moves.
    fn begun(&self, seat: &mut dyn ControllerSeat, latency_s: f64) -> Result<(), SeatFault> {
        let (limit, gains, drive) = (&self.axis.limit, &self.gains, &self.file.drive);
        let profile = |kind: usize| self.moves[kind].ticks.iter().map(point).collect::<Vec<_>>();
        seat.begin(&ControllerBrief {
            tick_s: self.tick_s,
            latency_s,
            counts_per_turn: self.counts_per_turn(),
            current_limit_a: gains.holds_with(false) / limit.constant_v_s,
            hold_current_a: gains.holds_with(true) / limit.constant_v_s,
            torque_constant_n_m_per_a: limit.constant_v_s,
            resistance_ohm: drive.resistance_ohm,
            inductance_mh: drive.inductance_mh,
            inertia_kg_m2: limit.inertia_kg_m2,
            friction_n_m: limit.friction_n_m,
            viscous_n_m_s: limit.viscous_n_m_s,
            bus_v: drive.bus_voltage_v,
            settle_window_deg: self.file.handover.settle_window_deg,
            quarter_turn_s: self.turn_s(Amount::Clockwise),
            half_turn_s: self.turn_s(Amount::Half),
            quarter_turn: &profile(QUARTER),
            half_turn: &profile(HALF),
        })
    }

    fn counts_per_turn(&self) -> u64 {
        (TAU / encoder_step_rad(&self.file.drive)).round() as u64
    }
}

/// A beat may take so much longer.
fn longer(limits: RunLimits, more_s: f64, beats: usize) -> RunLimits {
    let run_s = limits.run_s + more_s * (beats as f64 + 1.0);
    RunLimits { beat_s: limits.beat_s + more_s, run_s, ..limits }
}

fn point(setpoint: &Setpoint) -> ProfilePoint {
    ProfilePoint {
        angle_deg: degrees(setpoint.angle_rad),
        speed_deg_s: degrees(setpoint.speed_rad_s),
        acceleration_deg_s2: degrees(setpoint.acceleration_rad_s2),
        feed_forward_n_m: setpoint.feed_forward_n_m,
    }
}
