//! A guest in the controllers' seat.

use std::sync::Arc;
use std::time::Duration;

use dryturn_driving::{
    AxisSeen, ControllerAnswer, ControllerBrief, ControllerSeat, ControllerSees, SetPoint,
};
use dryturn_handoff::SeatFault;
use dryturn_scene::Scene;

use super::sitting::Sitting;
use crate::command::{GuestCommand, Limits};
use crate::roles::{
    AxisAnswer, AxisView, ControlAnswer, ControlBegin, ControlMode, ControlView, DeclaredMoves,
    GuestController,
};

/// A guest in the controllers' seat.
pub struct SeatedController {
    sitting: Sitting<GuestController>,
    scene: Arc<Scene>,
    mode: ControlMode,
}

impl SeatedController {
    /// Starts it for a scene's rig; one that cannot be started says so when it is asked.
    #[must_use]
    pub fn start(command: &GuestCommand, limits: Limits, scene: &Arc<Scene>) -> Self {
        let guest = GuestController::start(command, limits);
        let sitting = Sitting::of(command, guest, |guest| guest.session().name());
        Self { sitting, scene: scene.clone(), mode: ControlMode::Current }
    }

    /// How long its answers have taken here, in real time.
    pub(super) fn thought(&self) -> Duration {
        self.sitting.thought(GuestController::session)
    }

    /// Lets it end.
    ///
    /// # Errors
    /// It does not end as it must.
    pub fn goodbye(self) -> Result<(), SeatFault> {
        self.sitting.leave(GuestController::goodbye)
    }
}

impl ControllerSeat for SeatedController {
    fn name(&self) -> &str {
        &self.sitting.name
    }

    fn begin(&mut self, brief: &ControllerBrief<'_>) -> Result<(), SeatFault> {
        let begin = told(brief, &self.scene);
        self.mode = self.sitting.ask(|guest| guest.begin(&begin))?;
        Ok(())
    }

    fn tick(&mut self, sees: &ControllerSees) -> Result<ControllerAnswer, SeatFault> {
        let ControllerSees { tick, time_s, bus_v, axes } = *sees;
        let view = ControlView { tick, time_s, bus_v, axes: axes.map(shown) };
        let ControlAnswer { axes } = self.sitting.ask(|guest| guest.tick(&view))?;
        Ok(asked(self.mode, &axes))
    }

    fn end(&mut self) {
        // One that no longer listens is told of when it says goodbye.
        let _ = self.sitting.ask(GuestController::end);
    }
}

/// What data sheets and the drawing say.
fn told(brief: &ControllerBrief<'_>, scene: &Scene) -> ControlBegin {
    let drive = &scene.file().drive;
    ControlBegin {
        tick_s: brief.tick_s,
        axes: 6,
        counts_per_turn: u32::try_from(brief.counts_per_turn).unwrap_or(u32::MAX),
        current_limit_a: brief.current_limit_a,
        torque_constant_n_m_per_a: brief.torque_constant_n_m_per_a,
        inertia_kg_m2: brief.inertia_kg_m2,
        friction_n_m: brief.friction_n_m,
        viscous_friction_n_m_s: brief.viscous_n_m_s,
        bus_v: brief.bus_v,
        latency_s: brief.latency_s,
        hold_current_a: brief.hold_current_a,
        resistance_ohm: brief.resistance_ohm,
        inductance_mh: brief.inductance_mh,
        settle_window_deg: brief.settle_window_deg,
        moves: DeclaredMoves {
            profile: format!("{:?}", drive.profile),
            planned_torque_share: drive.planned_torque_share,
            speed_limit_rad_s: drive.speed_limit_rad_s,
            acceleration_limit_rad_s2: drive.acceleration_limit_rad_s2,
            quarter_turn_s: brief.quarter_turn_s,
            half_turn_s: brief.half_turn_s,
        },
    }
}

/// Numbers that are too large for the record are shown as the largest.
fn shown(axis: AxisSeen) -> AxisView {
    let counts = axis.encoder_counts.clamp(i64::from(i32::MIN), i64::from(i32::MAX));
    AxisView {
        encoder_counts: counts as i32,
        move_number: u32::try_from(axis.move_number).unwrap_or(u32::MAX),
        current_a: axis.current_a,
        target_deg: axis.target_deg,
    }
}

/// All axes answer in the mode that the guest has chosen.
fn asked(mode: ControlMode, axes: &[AxisAnswer; 6]) -> ControllerAnswer {
    match mode {
        ControlMode::Current => ControllerAnswer::Currents(axes.map(|axis| match axis {
            AxisAnswer::Current { current_a } => current_a,
            AxisAnswer::Setpoint { .. } => 0.0,
        })),
        ControlMode::Setpoint => ControllerAnswer::SetPoints(axes.map(|axis| match axis {
            AxisAnswer::Setpoint { angle_deg, speed_deg_s, torque_n_m: feed_forward_n_m } => {
                SetPoint { angle_deg, speed_deg_s, feed_forward_n_m }
            }
            AxisAnswer::Current { .. } => SetPoint::default(),
        })),
    }
}
