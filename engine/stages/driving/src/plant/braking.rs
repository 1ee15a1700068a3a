//! Where the energy of a stop goes: back to the bus, into the winding, into
//! friction; and what the bus and its brake resistor make of it.
//!
//! Bus capacitors stay charged after switching off: discharge, then measure. A
//! brake resistor burns skin and ignites plastic: metal mount, clearance,
//! thermal cut-out. Local codes and licensed practice go before these figures.

use super::motion::Piece;
use super::motor::Motor;

/// One stop from speed to rest at a constant braking current.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Stop {
    /// Energy of motion at its start, J.
    pub kinetic_j: f64,
    /// Energy given back to the bus while the back-EMF exceeds the drop across
    /// the winding, J.
    pub returned_j: f64,
    /// Energy drawn from the bus again below that speed, J.
    pub drawn_j: f64,
    /// Heat in the winding, J.
    pub winding_j: f64,
    /// Heat of friction, J.
    pub friction_j: f64,
    /// Time to rest, s.
    pub duration_s: f64,
    /// Angle to rest, rad.
    pub angle_rad: f64,
}

/// A stop from `speed_rad_s` (0 or more) at `current_a` (0 or more; with friction
/// above 0 in all), whatever the motor's current limit and bus voltage: power to
/// the bus is `I (Ke ω − R I)`.
///
/// # Panics
/// If nothing brakes: neither current nor Coulomb friction.
#[must_use]
pub fn stop(motor: &Motor, speed_rad_s: f64, current_a: f64) -> Stop {
    let (k, r, inertia) = (motor.constant_v_s, motor.resistance_ohm, motor.inertia_kg_m2);
    let drive_rad_s2 = -(k * current_a + motor.friction_n_m) / inertia;
    assert!(drive_rad_s2 < 0.0, "a stop needs current or friction");
    let decay_per_s = motor.viscous_n_m_s / inertia;
    // Time and angle from one speed to another.
    let stretch = |from: f64, to: f64| {
        Piece::between(from, to, drive_rad_s2, decay_per_s)
            .map_or((0.0, 0.0), |piece| (piece.duration_s, piece.at(piece.duration_s).0))
    };
    let break_even_rad_s = (r * current_a / k).min(speed_rad_s);
    let to_bus =
        |(time_s, angle_rad): (f64, f64)| current_a * (k * angle_rad - r * current_a * time_s);
    let (above, below) = (stretch(speed_rad_s, break_even_rad_s), stretch(break_even_rad_s, 0.0));
    let (duration_s, angle_rad) = (above.0 + below.0, above.1 + below.1);
    let (kinetic_j, returned_j, drawn_j) = (
        0.5 * inertia * speed_rad_s * speed_rad_s,
        to_bus(above).max(0.0),
        (-to_bus(below)).max(0.0),
    );
    let winding_j = r * current_a * current_a * duration_s;
    // What nothing else takes; with Coulomb friction alone, its torque times the angle.
    let friction_j = kinetic_j + drawn_j - returned_j - winding_j;
    Stop { kinetic_j, returned_j, drawn_j, winding_j, friction_j, duration_s, angle_rad }
}

/// Bus voltage after energy has gone into its capacitor and nowhere else, V.
#[must_use]
pub fn bus_voltage_v(before_v: f64, energy_j: f64, capacitance_f: f64) -> f64 {
    (before_v * before_v + 2.0 * energy_j / capacitance_f).max(0.0).sqrt()
}

/// Power of a brake resistor across the bus while its switch is closed, W.
#[must_use]
pub fn chopper_power_w(bus_v: f64, resistance_ohm: f64) -> f64 {
    bus_v * bus_v / resistance_ohm
}

/// Temperature rise, K, of a brake resistor that keeps all heat.
#[must_use]
pub fn adiabatic_rise_k(energy_j: f64, heat_capacity_j_per_k: f64) -> f64 {
    energy_j / heat_capacity_j_per_k
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The default axis at 48 V.
    fn motor() -> Motor {
        Motor {
            constant_v_s: Motor::constant_of(100.0),
            resistance_ohm: 0.405,
            current_limit_a: 0.009988 * 48.0 / Motor::constant_of(100.0),
            voltage_v: 48.0,
            inertia_kg_m2: 8e-5,
            friction_n_m: 0.156,
            viscous_n_m_s: 0.0,
        }
    }

    fn near(found: f64, wanted: f64, absolute: f64) {
        assert!((found - wanted).abs() <= absolute, "{found} for {wanted}");
    }

    /// Stops from the peak speeds of a quarter turn and of a half turn.
    #[test]
    fn the_default_axis_returns_less_than_half() {
        let motor = motor();
        let quarter = stop(&motor, 91.7, motor.current_limit_a);
        near(quarter.kinetic_j, 0.337, 0.001);
        near(quarter.returned_j, 0.150, 0.001);
        near(quarter.friction_j, 0.083, 0.001);
        let half = stop(&motor, 91.7 * 2f64.sqrt(), motor.current_limit_a);
        near(half.kinetic_j, 0.673, 0.001);
        near(half.returned_j, 0.355, 0.001);
        near(half.friction_j, 0.165, 0.001);
        near(bus_voltage_v(48.0, quarter.returned_j, 1e-3) - 48.0, 3.0, 0.05);
        near(bus_voltage_v(48.0, half.returned_j, 1e-3) - 48.0, 6.9, 0.05);
        near(chopper_power_w(50.0, 3.0), 833.3, 0.1);
        near(adiabatic_rise_k(4.6, 20.0), 0.23, 1e-12);
    }

    #[test]
    fn heat_of_friction_is_torque_times_angle() {
        let motor = motor();
        for (speed, current) in [(91.7, 5.0), (10.0, 5.0), (60.0, 0.0), (120.0, 1.0)] {
            let stop = stop(&motor, speed, current);
            near(stop.friction_j, motor.friction_n_m * stop.angle_rad, 1e-12);
            near(stop.winding_j, 0.405 * current * current * stop.duration_s, 1e-12);
        }
        // Slower than the break-even speed nothing comes back; without current nothing moves.
        assert_eq!(stop(&motor, 10.0, 5.0).returned_j, 0.0);
        let coasting = stop(&motor, 60.0, 0.0);
        assert_eq!((coasting.returned_j, coasting.drawn_j), (0.0, 0.0));
        assert_eq!(stop(&motor, 0.0, 5.0).duration_s, 0.0);
    }

    /// SciPy 1.17.1, `solve_ivp` (DOP853, rtol 1e-12) of J ω' = −K I − Tc − B ω from 91.7 rad/s
    /// at 3 A with B = 1e-3 N·m·s.
    #[test]
    fn viscous_friction_takes_its_share() {
        let motor = Motor { viscous_n_m_s: 1e-3, ..motor() };
        let found = stop(&motor, 91.7, 3.0);
        near(found.duration_s, VISCOUS[0], 1e-10);
        near(found.angle_rad, VISCOUS[1], 1e-9);
        near(found.returned_j, VISCOUS[2], 1e-9);
        near(found.drawn_j, VISCOUS[3], 1e-9);
        near(found.friction_j, VISCOUS[4], 1e-9);
    }
    const VISCOUS: [f64; 5] = [
        0.015_067_041_826,
        0.669_151_943_089,
        0.140_931_395_723,
        0.004_152_852_221,
        0.144_657_689_040,
    ];
}
