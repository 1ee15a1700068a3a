//! What the controllers of a machine are set to, in the units of a firmware.

use super::Machine;
use crate::control::{HALF, QUARTER};

/// Gains, limits and feed-forward of each axis.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct DriveSettings {
    /// Period of the controllers, ms.
    pub loop_period_ms: f64,
    /// What the torque is limited to, N·m.
    pub torque_limit_n_m: f64,
    /// What the torque of an axis that rests is limited to, N·m.
    pub hold_torque_n_m: f64,
    /// Torque constant, N·m/A (direct-current equivalent).
    pub torque_constant_n_m_per_a: f64,
    /// Highest speed of a set-point, rad/s.
    pub highest_speed_rad_s: f64,
    /// Highest acceleration of a set-point, either way, rad/s².
    pub highest_acceleration_rad_s2: f64,
    /// Duration of a quarter turn's set-points, ms.
    pub quarter_turn_ms: f64,
    /// Of a half turn's, ms.
    pub half_turn_ms: f64,
    /// Speed asked for per angle of error, 1/s.
    pub position_gain_per_s: f64,
    /// Torque per speed of error, N·m·s.
    pub speed_gain_n_m_s: f64,
    /// Growth of torque per speed of error, N·m.
    pub speed_integral_n_m: f64,
    /// Feed-forward torque per acceleration, kg·m².
    pub inertia_kg_m2: f64,
    /// Feed-forward torque against Coulomb friction, N·m.
    pub friction_n_m: f64,
    /// Feed-forward torque per speed, N·m·s.
    pub viscous_n_m_s: f64,
}

impl Machine {
    /// What its controllers are set to, below its ceiling.
    #[must_use]
    pub fn settings(&self) -> DriveSettings {
        let (gains, belief) = (&self.gains, &self.belief);
        let controller = &self.file.controller;
        let all = || self.moves.iter().flat_map(|course| &course.ticks);
        let speed_gain_n_m_s = controller.speed_gain_per_s * self.axis.limit.inertia_kg_m2;
        DriveSettings {
            loop_period_ms: controller.loop_period_ms,
            torque_limit_n_m: gains.holds_with(false),
            hold_torque_n_m: gains.holds_with(true),
            torque_constant_n_m_per_a: self.axis.limit.constant_v_s,
            highest_speed_rad_s: self.highest_speed_rad_s(),
            highest_acceleration_rad_s2: all()
                .map(|at| at.acceleration_rad_s2.abs())
                .fold(0.0, f64::max),
            quarter_turn_ms: self.moves[QUARTER].duration_s * 1e3,
            half_turn_ms: self.moves[HALF].duration_s * 1e3,
            position_gain_per_s: controller.position_gain_per_s,
            speed_gain_n_m_s,
            speed_integral_n_m: controller.speed_integral_per_s * speed_gain_n_m_s,
            inertia_kg_m2: belief.inertia_kg_m2,
            friction_n_m: belief.friction_n_m,
            viscous_n_m_s: belief.viscous_n_m_s,
        }
    }
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;
    use crate::rig::Ceiling;
    use crate::support::workbench;

    /// No set-point asks for more torque than the controllers may give.
    #[test]
    fn feed_forward_is_within_the_limit() {
        let presets = ["TorqueFollowsBus", "WindingLine", "SpeedLimited", "ProfileLimited"];
        let profiles = ["MinimumTime", "BangBang", "Trapezoid", "SCurve"];
        let all = presets.into_iter().flat_map(|preset| profiles.map(|profile| (preset, profile)));
        for (preset, profile) in all {
            let changes = [("drive.preset", json!(preset)), ("drive.profile", json!(profile))];
            let scene = workbench(&changes);
            for share in [0.05, 0.25, 0.5] {
                let machine = Machine::below(&scene, Ceiling::of(&scene, share).unwrap());
                let limit_n_m = machine.settings().torque_limit_n_m;
                let ticks = machine.moves.iter().flat_map(|course| &course.ticks);
                let most_n_m = ticks.map(|at| at.feed_forward_n_m.abs()).fold(0.0, f64::max);
                assert!(most_n_m <= limit_n_m, "{preset} {profile} {share}: {most_n_m}");
            }
        }
    }
}
