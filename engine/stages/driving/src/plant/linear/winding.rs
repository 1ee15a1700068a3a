//! A motor that full voltage is put on, with the inductance of its winding.

use dryturn_numerics::{exponential, times};
use dryturn_units::maths;

use super::{LinearError, not_negative, positive};
use crate::plant::Motor;

/// Angle, speed and current of a motor that a voltage was put on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SpunUp {
    /// Angle gone, rad.
    pub angle_rad: f64,
    /// Speed, rad/s.
    pub speed_rad_s: f64,
    /// Current, A.
    pub current_a: f64,
}

/// What full voltage makes of a motor at rest within `time_s`, with the winding's
/// inductance, H, and without the current limit: `L i' = V − R i − K ω`,
/// `J ω' = K i − T_c − B ω`, from the current `start_a`. It stands until its current
/// overcomes the friction. [`crate::spin_up`] is the same without inductance, with the limit.
///
/// # Errors
/// A figure that cannot be a motor's, or a current at the start so far above what the
/// voltage sustains that the motor comes to a stand again.
pub fn spin_up(
    motor: &Motor,
    inductance_h: f64,
    start_a: f64,
    time_s: f64,
) -> Result<SpunUp, LinearError> {
    positive("torque constant", motor.constant_v_s)?;
    positive("resistance", motor.resistance_ohm)?;
    positive("inductance", inductance_h)?;
    positive("inertia", motor.inertia_kg_m2)?;
    not_negative("voltage", motor.voltage_v)?;
    not_negative("Coulomb friction", motor.friction_n_m)?;
    not_negative("viscous friction", motor.viscous_n_m_s)?;
    not_negative("current at the start", start_a)?;
    not_negative("time", time_s)?;
    let (k, r, inertia) = (motor.constant_v_s, motor.resistance_ohm, motor.inertia_kg_m2);
    let (stall_a, loose_a) = (motor.voltage_v / r, motor.friction_n_m / k);
    let standing =
        |time_s: f64| stall_a + (start_a - stall_a) * maths::exp(-time_s * r / inductance_h);
    let mut left_s = time_s;
    let mut current_a = start_a;
    if start_a <= loose_a {
        // Until the current, which goes towards its stall, passes what friction takes.
        let free_s = if stall_a > loose_a {
            -inductance_h / r * maths::ln((stall_a - loose_a) / (stall_a - start_a))
        } else {
            f64::INFINITY
        };
        if time_s <= free_s {
            let current_a = standing(time_s);
            return Ok(SpunUp { angle_rad: 0.0, speed_rad_s: 0.0, current_a });
        }
        left_s -= free_s;
        current_a = loose_a;
    }
    // Of angle, speed, current and 1.
    let rates = [
        [0.0, 1.0, 0.0, 0.0],
        [0.0, -motor.viscous_n_m_s / inertia, k / inertia, -motor.friction_n_m / inertia],
        [0.0, -k / inductance_h, -r / inductance_h, motor.voltage_v / inductance_h],
        [0.0; 4],
    ];
    let start = [0.0, 0.0, current_a, 1.0];
    // Several looks in every swing of current against speed.
    let looks = 8.0 * left_s * k / (inertia * inductance_h).sqrt();
    let looks = looks.ceil().clamp(1.0, 1e5);
    let on = exponential(&rates, left_s / looks);
    let mut state = start;
    for _ in 0..looks as u32 {
        state = times(&on, &state);
        if state[1] < -1e-9 {
            return Err(LinearError::ComesToAStand(time_s));
        }
    }
    let [angle_rad, speed_rad_s, current_a, _] = times(&exponential(&rates, left_s), &start);
    Ok(SpunUp { angle_rad, speed_rad_s, current_a })
}

#[cfg(test)]
mod tests {
    use super::*;

    fn motor() -> Motor {
        Motor {
            constant_v_s: 0.1,
            resistance_ohm: 2.0,
            current_limit_a: f64::INFINITY,
            voltage_v: 24.0,
            inertia_kg_m2: 8e-5,
            friction_n_m: 0.2,
            viscous_n_m_s: 2e-5,
        }
    }

    #[test]
    fn a_winding_with_next_to_no_inductance_is_one_without() {
        for time_s in [0.0, 0.01, 0.05, 0.2] {
            let (angle_rad, speed_rad_s) = crate::spin_up(&motor(), time_s);
            let found = spin_up(&motor(), 1e-9, 0.0, time_s).unwrap();
            assert!((found.angle_rad - angle_rad).abs() < 1e-5 * (1.0 + angle_rad), "{found:?}");
            assert!((found.speed_rad_s - speed_rad_s).abs() < 1e-3, "{found:?}");
        }
    }

    #[test]
    fn it_stands_until_the_current_is_there() {
        // 0.1 N·m/A against 0.2 N·m: 2 A, of 12 A at stall.
        let free_s = -5e-3 / 2.0 * maths::ln(10.0 / 12.0);
        let before = spin_up(&motor(), 5e-3, 0.0, 0.99 * free_s).unwrap();
        let after = spin_up(&motor(), 5e-3, 0.0, 1.01 * free_s).unwrap();
        assert!(before.speed_rad_s == 0.0 && before.current_a < 2.0);
        assert!(after.speed_rad_s > 0.0 && after.current_a > 2.0);
        let stuck = Motor { friction_n_m: 1.3, ..motor() };
        let stuck = spin_up(&stuck, 5e-3, 0.0, 1.0).unwrap();
        assert!(stuck.speed_rad_s == 0.0 && (stuck.current_a - 12.0).abs() < 1e-9);
    }

    #[test]
    fn what_cannot_be_is_named() {
        let bad = spin_up(&motor(), 0.0, 0.0, 1.0).unwrap_err();
        assert_eq!(bad, LinearError::NotPositive("inductance", 0.0));
        // 500 A that the voltage cannot sustain throw it forwards and back.
        let weak = Motor { resistance_ohm: 1e-3, voltage_v: 0.01, friction_n_m: 0.0, ..motor() };
        let back = spin_up(&weak, 1e-2, 500.0, 1.0).unwrap_err();
        assert_eq!(back, LinearError::ComesToAStand(1.0));
    }
}
