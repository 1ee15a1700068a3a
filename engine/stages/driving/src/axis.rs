//! One axis in SI units, from a scene's drive block.

use core::f64::consts::TAU;

use dryturn_scene::file::Drive;

/// A servo axis as a direct-current equivalent (exact for field-oriented
/// control with no direct-axis current while inductance does not matter;
/// R. Krishnan, *Permanent Magnet Synchronous and Brushless DC Motor Drives*, 2010).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Motor {
    /// Back-EMF constant, V·s/rad; also the torque constant, N·m/A.
    pub constant: f64,
    /// Winding resistance, Ω.
    pub resistance: f64,
    /// Current limit, A.
    pub current_limit: f64,
    /// Bus voltage, V.
    pub voltage: f64,
    /// Inertia of all that turns, kg·m².
    pub inertia: f64,
    /// Coulomb friction, N·m.
    pub friction: f64,
    /// Viscous friction, N·m·s/rad.
    pub viscous: f64,
}

impl Motor {
    /// Back-EMF constant in V·s/rad of a speed constant in rpm/V.
    #[must_use]
    pub fn constant_of(speed_constant_rpm_per_v: f64) -> f64 {
        60.0 / (TAU * speed_constant_rpm_per_v)
    }
}

/// An axis: its motor at the torque that profiles plan with, and at its limit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Axis {
    /// With the planned share of the torque limit.
    pub planned: Motor,
    /// With all of it.
    pub limit: Motor,
    /// Highest planned speed, rad/s.
    pub speed_limit: f64,
}

impl Axis {
    /// The axis of a valid scene.
    #[must_use]
    pub fn of(drive: &Drive) -> Self {
        let constant = Motor::constant_of(drive.speed_constant_rpm_per_v);
        let torque_limit = drive.torque_setting_n_m_per_v * drive.bus_voltage_v;
        let limit = Motor {
            constant,
            resistance: drive.resistance_ohm,
            current_limit: torque_limit / constant,
            voltage: drive.bus_voltage_v,
            inertia: drive.rotor_inertia_kg_m2
                + drive.coupler_inertia_kg_m2
                + drive.layer_inertia_kg_m2,
            friction: drive.friction_torque_n_m,
            viscous: drive.viscous_friction_n_m_s,
        };
        let planned = Motor {
            current_limit: limit.current_limit * drive.planned_torque_share,
            ..limit
        };
        Self { planned, limit, speed_limit: drive.speed_limit_rad_s }
    }

    /// Torque limit, N·m.
    #[must_use]
    pub fn torque_limit(&self) -> f64 {
        self.limit.current_limit * self.limit.constant
    }
}

/// Mass (kg) and inertia (kg·m²) of one layer about its axis: nine of 26 equal
/// pieces by the parallel-axis theorem, `m_p p² (12 + 9 k)` with `k` 1/6 for
/// solid pieces and 5/18 for thin-walled ones. Edge in m, masses in kg.
#[must_use]
pub fn layer_inertia(edge: f64, mass: f64, core: f64, own: f64) -> (f64, f64) {
    let piece = (mass - core) / 26.0;
    let pitch = edge / 3.0;
    (9.0 * piece, piece * pitch * pitch * (12.0 + 9.0 * own))
}
