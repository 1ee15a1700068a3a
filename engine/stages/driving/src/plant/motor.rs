//! One axis in SI units, from a scene's drive block.

use core::f64::consts::TAU;

use dryturn_scene::file::SceneFile;

/// A servo axis as a direct-current equivalent (exact for field-oriented
/// control with no direct-axis current while inductance does not matter;
/// R. Krishnan, *Permanent Magnet Synchronous and Brushless DC Motor Drives*, 2010).
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Motor {
    /// Back-EMF constant, V·s/rad; also the torque constant, N·m/A.
    pub constant_v_s: f64,
    /// Winding resistance.
    pub resistance_ohm: f64,
    /// Current limit.
    pub current_limit_a: f64,
    /// Bus voltage.
    pub voltage_v: f64,
    /// Inertia of all that turns.
    pub inertia_kg_m2: f64,
    /// Coulomb friction.
    pub friction_n_m: f64,
    /// Viscous friction.
    pub viscous_n_m_s: f64,
}

impl Motor {
    /// Back-EMF constant, V·s/rad, of a speed constant.
    #[must_use]
    pub fn constant_of(speed_constant_rpm_per_v: f64) -> f64 {
        60.0 / (TAU * speed_constant_rpm_per_v)
    }

    /// The torque at a stand: by the current limit, or what the voltage can press through the
    /// winding where that is less, N·m.
    #[must_use]
    pub fn standing_torque_n_m(&self) -> f64 {
        self.constant_v_s * self.current_limit_a.min(self.voltage_v / self.resistance_ohm)
    }

    /// The torque that the current limit gives, N·m.
    #[must_use]
    pub fn torque_n_m(&self) -> f64 {
        self.current_limit_a * self.constant_v_s
    }
}

/// An axis: its motor at the torque that profiles plan with, and at its limit.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Axis {
    /// With the planned share of the torque limit.
    pub planned: Motor,
    /// With all of it.
    pub limit: Motor,
    /// Highest planned speed.
    pub speed_limit_rad_s: f64,
}

impl Axis {
    /// The axis of a valid scene. Its torque is the drive's setting or limit, or what the
    /// winding draws from the bus at standstill where that is less.
    #[must_use]
    pub fn of(file: &SceneFile) -> Self {
        let drive = &file.drive;
        let constant_v_s = Motor::constant_of(drive.speed_constant_rpm_per_v);
        let voltage_v = drive.duty_share * drive.bus_voltage_v;
        let setting = drive.torque_setting_n_m_per_v * drive.bus_voltage_v;
        let limit_a = setting.min(drive.torque_limit_n_m) / constant_v_s;
        let limit = Motor {
            constant_v_s,
            resistance_ohm: drive.resistance_ohm,
            current_limit_a: limit_a.min(voltage_v / drive.resistance_ohm),
            voltage_v,
            inertia_kg_m2: file.axis_inertia_kg_m2(),
            friction_n_m: file.layer_friction_n_m(),
            viscous_n_m_s: drive.viscous_friction_n_m_s,
        };
        let share = drive.planned_torque_share;
        let planned = Motor {
            current_limit_a: limit.current_limit_a * share,
            voltage_v: voltage_v * share,
            ..limit
        };
        Self { planned, limit, speed_limit_rad_s: drive.speed_limit_rad_s }
    }
}
