//! A loop of speed or position and its answer to a step.

use dryturn_numerics::{Matrix, bisect_increasing, exponential, times};

use super::{LinearError, not_negative, positive};

/// Grid and length of the look for an overshoot, as (s, steps).
const LOOK: (f64, usize) = (5e-6, 12_000);

/// A speed loop, or a position loop around one: `i* = K_p e + K_i ∫e`, `i' = (i* − i) ω_c`,
/// `J ω' = K i − B ω`; `e = ω* − ω`, or `e = k (θ* − θ) − ω`.
///
/// Of a scene's controller: `K_p` is `speed_gain_per_s` times inertia over torque
/// constant, `K_i` is `K_p` times `speed_integral_per_s`, `k` is `position_gain_per_s`, and
/// `ω_c` is one over the current loop's time constant.
///
/// ```
/// use dryturn_driving::linear::Loop;
///
/// let (inertia_kg_m2, torque_constant_n_m_a) = (8e-5, 0.0955);
/// let gain = 1000.0 * inertia_kg_m2 / torque_constant_n_m_a;
/// let servo = Loop {
///     inertia_kg_m2,
///     torque_constant_n_m_a,
///     viscous_n_m_s: 1e-5,
///     current_bandwidth_rad_s: 6250.0,
///     speed_gain_a_s_rad: gain,
///     integral_gain_a_rad: 200.0 * gain,
///     position_gain_per_s: Some(250.0),
/// };
/// assert!(servo.decay_per_s()? > 100.0); // stable, errors fade within a few times 10 ms
/// assert!(servo.step(1.0)?.overshoot_share() < 0.25);
/// # Ok::<(), dryturn_driving::linear::LinearError>(())
/// ```
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Loop {
    /// Inertia of all that turns; above 0.
    pub inertia_kg_m2: f64,
    /// Viscous friction; 0 or more.
    pub viscous_n_m_s: f64,
    /// Torque constant; above 0.
    pub torque_constant_n_m_a: f64,
    /// Bandwidth of the current loop, a first-order lag; above 0.
    pub current_bandwidth_rad_s: f64,
    /// Current asked for per speed of error; 0 or more.
    pub speed_gain_a_s_rad: f64,
    /// Current asked for per integral of that error; 0 or more.
    pub integral_gain_a_rad: f64,
    /// Speed asked for per angle of error, 0 or more; `None` for a speed loop.
    pub position_gain_per_s: Option<f64>,
}

impl Loop {
    /// Fails unless every figure can be a loop's.
    ///
    /// # Errors
    /// Names the first figure that is wrong.
    pub fn check(&self) -> Result<(), LinearError> {
        positive("inertia", self.inertia_kg_m2)?;
        not_negative("viscous friction", self.viscous_n_m_s)?;
        positive("torque constant", self.torque_constant_n_m_a)?;
        positive("bandwidth of the current loop", self.current_bandwidth_rad_s)?;
        not_negative("speed gain", self.speed_gain_a_s_rad)?;
        not_negative("integral gain", self.integral_gain_a_rad)?;
        not_negative("position gain", self.position_gain_per_s.unwrap_or(0.0))
    }

    /// How fast any error dies, 1/s: the least distance of a pole from the imaginary axis.
    /// Above 0 the loop is stable; below 0 errors grow by so much; 0 is in between.
    ///
    /// By the criterion of Routh and Hurwitz on the characteristic polynomial, shifted.
    ///
    /// # Errors
    /// Where [`Loop::check`] fails.
    pub fn decay_per_s(&self) -> Result<f64, LinearError> {
        self.check()?;
        // In units of the current loop's bandwidth, so that no power is huge.
        let unit = self.current_bandwidth_rad_s;
        let rub = self.viscous_n_m_s / self.inertia_kg_m2 / unit;
        let push = self.torque_constant_n_m_a / self.inertia_kg_m2 / unit;
        let (p, i) = (push * self.speed_gain_a_s_rad, push * self.integral_gain_a_rad / unit);
        // Highest power first; without its gain the integral is not part of the loop.
        let mut polynomial = match self.position_gain_per_s.map(|gain| gain / unit) {
            None => vec![1.0, 1.0 + rub, rub + p, i],
            Some(k) => vec![1.0, 1.0 + rub, rub + p, p * k + i, i * k],
        };
        if self.integral_gain_a_rad == 0.0 {
            polynomial.pop();
        }
        let largest = polynomial.iter().copied().fold(0.0, f64::max);
        // All poles lie within this of zero (Cauchy).
        let bound = 1.0 + largest;
        let unstable_by =
            |shift: f64| if dies_faster_than(&polynomial, shift) { -1.0 } else { 1.0 };
        Ok(unit * bisect_increasing(-bound, bound, unstable_by))
    }

    /// The answer to a step of the set-point by `height`, rad/s (or rad of a position
    /// loop), from rest.
    ///
    /// # Errors
    /// Where [`Loop::check`] fails, or the height is 0 or no number.
    pub fn step(&self, height: f64) -> Result<StepAnswer, LinearError> {
        self.check()?;
        if !height.is_finite() || height == 0.0 {
            return Err(LinearError::NoStep(height));
        }
        let (k, wanted) = match self.position_gain_per_s {
            None => (0.0, height),
            Some(gain) => (gain, gain * height),
        };
        let bandwidth = self.current_bandwidth_rad_s;
        let [p, i] = [self.speed_gain_a_s_rad, self.integral_gain_a_rad].map(|g| bandwidth * g);
        let inertia = self.inertia_kg_m2;
        let (push, rub) = (self.torque_constant_n_m_a / inertia, self.viscous_n_m_s / inertia);
        // Of angle, speed, current, integral of the error, and 1.
        let rates = [
            [0.0, 1.0, 0.0, 0.0, 0.0],
            [0.0, -rub, push, 0.0, 0.0],
            [-p * k, -p, -bandwidth, i, p * wanted],
            [-k, -1.0, 0.0, 0.0, wanted],
            [0.0; 5],
        ];
        let exact = self.position_gain_per_s.is_some() || i > 0.0;
        let reached = if exact { height } else { height * push * p / (push * p + bandwidth * rub) };
        Ok(StepAnswer {
            rates,
            place: usize::from(self.position_gain_per_s.is_none()),
            height,
            end: (self.decay_per_s()? > 0.0).then_some(reached),
        })
    }
}

/// A loop's answer to a step.
#[derive(Clone, Debug, PartialEq)]
pub struct StepAnswer {
    rates: Matrix<5>,
    place: usize,
    height: f64,
    end: Option<f64>,
}

impl StepAnswer {
    const REST: [f64; 5] = [0.0, 0.0, 0.0, 0.0, 1.0];

    /// Speed, rad/s (or angle of a position loop, rad), at a time of 0 or more, s.
    #[must_use]
    pub fn at(&self, time_s: f64) -> f64 {
        times(&exponential(&self.rates, time_s.max(0.0)), &Self::REST)[self.place]
    }

    /// Where it ends; `None` where the loop is not stable.
    #[must_use]
    pub fn end(&self) -> Option<f64> {
        self.end
    }

    /// By how much it goes beyond the step within 60 ms, as a share of the step; 0 where it
    /// does not. Looked for every 5 µs.
    #[must_use]
    pub fn overshoot_share(&self) -> f64 {
        let (step_s, steps) = LOOK;
        let on = exponential(&self.rates, step_s);
        let (mut state, mut most) = (Self::REST, 0.0_f64);
        for _ in 0..steps {
            state = times(&on, &state);
            most = most.max(state[self.place] / self.height);
        }
        (most - 1.0).max(0.0)
    }
}

/// Whether every root of a polynomial, highest power first, has a real part below `-shift`:
/// every entry in the first column of Routh's table of the shifted polynomial is positive.
fn dies_faster_than(polynomial: &[f64], shift: f64) -> bool {
    let mut shifted = polynomial.to_vec();
    // Horner's scheme, as often as there are powers.
    for end in (1..shifted.len()).rev() {
        for k in 1..=end {
            shifted[k] -= shift * shifted[k - 1];
        }
    }
    let every_second = |from: usize| shifted.iter().skip(from).step_by(2).copied().collect();
    let (mut above, mut row): (Vec<f64>, Vec<f64>) = (every_second(0), every_second(1));
    while !row.is_empty() {
        if above[0] <= 0.0 || row[0].is_nan() || row[0] <= 0.0 {
            return false;
        }
        let ratio = above[0] / row[0];
        let next = |k: usize| above[k] - ratio * row.get(k).copied().unwrap_or(0.0);
        let below = (1..above.len()).map(next).collect();
        above = core::mem::replace(&mut row, below);
    }
    above[0] > 0.0
}

#[cfg(test)]
mod tests {
    use dryturn_units::maths;

    use super::*;

    fn servo() -> Loop {
        Loop {
            inertia_kg_m2: 8e-5,
            viscous_n_m_s: 1e-5,
            torque_constant_n_m_a: 0.1,
            current_bandwidth_rad_s: 5000.0,
            speed_gain_a_s_rad: 0.5,
            integral_gain_a_rad: 60.0,
            position_gain_per_s: Some(90.0),
        }
    }

    /// SciPy 1.17.1 (`linalg.expm`) and NumPy 2.4.6 (`linalg.eigvals`): height at 2, 8 and
    /// 32 ms of a step of 0.3, least distance of a pole from the imaginary axis.
    #[test]
    fn loops_are_as_the_matrices_say() {
        const POSITION: [f64; 3] =
            [0.022_203_049_329_15, 0.157_754_630_413_41, 0.283_118_000_292_12];
        const SPEED: [f64; 3] = [0.236_707_467_106_32, 0.333_929_284_258_64, 0.300_878_895_971_1];
        for (servo, at, decay) in [
            (servo(), POSITION, 75.130_094_314_381),
            (Loop { position_gain_per_s: None, ..servo() }, SPEED, 159.257_166_425_45),
        ] {
            let answer = servo.step(0.3).unwrap();
            for (time_s, wanted) in [0.002, 0.008, 0.032].into_iter().zip(at) {
                let found = answer.at(time_s);
                assert!((found - wanted).abs() < 1e-11, "{found} for {wanted} at {time_s}");
            }
            let found = servo.decay_per_s().unwrap();
            assert!((found / decay - 1.0).abs() < 1e-9, "{found} for {decay}");
            assert_eq!(answer.end(), Some(0.3));
            assert!((answer.at(1.0) - 0.3).abs() < 1e-9);
        }
    }

    /// Without integral and viscous friction the speed loop is an oscillator of second
    /// order, whose overshoot is exp(−π ζ/√(1 − ζ²)) with 2 ζ = √(ω_c J/(K K_p)) (any
    /// textbook of control).
    #[test]
    fn the_overshoot_of_an_oscillator() {
        let servo = Loop {
            integral_gain_a_rad: 0.0,
            viscous_n_m_s: 0.0,
            position_gain_per_s: None,
            speed_gain_a_s_rad: 5.0,
            ..servo()
        };
        let damping: f64 = 0.5 * (5000.0_f64 * 8e-5 / (0.1 * 5.0)).sqrt();
        let wanted =
            maths::exp(-core::f64::consts::PI * damping / (1.0 - damping * damping).sqrt());
        let found = servo.step(40.0).unwrap().overshoot_share();
        assert!((found - wanted).abs() < 1e-5, "{found} for {wanted}");
        // Its poles lie at half the bandwidth.
        assert!((servo.decay_per_s().unwrap() / 2500.0 - 1.0).abs() < 1e-9);
        // With viscous friction it stops short.
        let short = Loop { viscous_n_m_s: 0.1, ..servo }.step(1.0).unwrap();
        let end = short.end().unwrap();
        assert!((end - 0.5 / 0.6).abs() < 1e-12 && (short.at(1.0) - end).abs() < 1e-9);
    }

    /// At `K_i ω_c K/J = (ω_c + B/J) (B/J + K K_p/J) ω_c` a speed loop is at its limit
    /// (Routh, by hand).
    #[test]
    fn too_much_integral_swings() {
        let (push, rub) = (0.1 / 8e-5, 1e-5 / 8e-5);
        let limit = (5000.0 + rub) * (rub + push * 0.5) / push;
        let at = |share: f64| Loop {
            integral_gain_a_rad: share * limit,
            position_gain_per_s: None,
            ..servo()
        };
        assert!(at(0.999).decay_per_s().unwrap() > 0.0);
        assert!(at(1.001).decay_per_s().unwrap() < 0.0);
        let swinging = at(1.2).step(1.0).unwrap();
        assert_eq!(swinging.end(), None);
        assert!(swinging.overshoot_share() > 10.0);
    }

    #[test]
    fn bad_figures_are_named() {
        let wrong = |servo: Loop| servo.decay_per_s().unwrap_err().to_string();
        for inertia_kg_m2 in [0.0, -1.0, f64::NAN, f64::INFINITY] {
            let text = wrong(Loop { inertia_kg_m2, ..servo() });
            assert!(text.starts_with("the inertia is"), "{text}");
        }
        let text = wrong(Loop { position_gain_per_s: Some(-1.0), ..servo() });
        assert_eq!(text, "the position gain is -1; it must be a number of 0 or more");
        assert_eq!(servo().step(0.0), Err(LinearError::NoStep(0.0)));
    }
}
