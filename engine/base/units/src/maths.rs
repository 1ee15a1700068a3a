//! Elementary functions with the same bits on every platform.
//!
//! Rust's own `f64::sin` and friends call the platform's C library, whose last
//! bit differs between systems; a frame or a trace would then differ too. These
//! call the `libm` crate, which is plain Rust. `+ − × ÷` and `sqrt` are exact
//! by IEEE 754 and need no wrapper.

/// Degrees to radians.
#[must_use]
pub fn radians(angle_deg: f64) -> f64 {
    angle_deg * (core::f64::consts::PI / 180.0)
}

/// Radians to degrees.
#[must_use]
pub fn degrees(angle_rad: f64) -> f64 {
    angle_rad * (180.0 / core::f64::consts::PI)
}

/// Sine; `x` in radians.
#[must_use]
pub fn sin(x: f64) -> f64 {
    libm::sin(x)
}

/// Cosine; `x` in radians.
#[must_use]
pub fn cos(x: f64) -> f64 {
    libm::cos(x)
}

/// Tangent; `x` in radians.
#[must_use]
pub fn tan(x: f64) -> f64 {
    libm::tan(x)
}

/// Arc tangent, radians.
#[must_use]
pub fn atan(x: f64) -> f64 {
    libm::atan(x)
}

/// Arc tangent of `y / x` in the quadrant of the point (x, y), radians.
#[must_use]
pub fn atan2(y: f64, x: f64) -> f64 {
    libm::atan2(y, x)
}

/// Arc cosine, radians; `x` is clamped to −1…1 first.
#[must_use]
pub fn acos(x: f64) -> f64 {
    libm::acos(x.clamp(-1.0, 1.0))
}

/// Natural exponential.
#[must_use]
pub fn exp(x: f64) -> f64 {
    libm::exp(x)
}

/// `exp(x) − 1` without cancellation near zero.
#[must_use]
pub fn exp_m1(x: f64) -> f64 {
    libm::expm1(x)
}

/// Natural logarithm.
#[must_use]
pub fn ln(x: f64) -> f64 {
    libm::log(x)
}

/// `ln(1 + x)` without cancellation near zero.
#[must_use]
pub fn ln_1p(x: f64) -> f64 {
    libm::log1p(x)
}

/// `x` to the power `y`.
#[must_use]
pub fn pow(x: f64, y: f64) -> f64 {
    libm::pow(x, y)
}

/// A whole power, by squaring: the same bits in every build, which the standard library's does not
/// promise.
#[must_use]
pub fn whole_pow(x: f64, n: u32) -> f64 {
    let (mut power, mut square, mut left) = (1.0, x, n);
    loop {
        if left % 2 == 1 {
            power *= square;
        }
        left /= 2;
        if left == 0 {
            return power;
        }
        square *= square;
    }
}

/// Decimal logarithm.
#[must_use]
pub fn log10(x: f64) -> f64 {
    libm::log10(x)
}

/// Hyperbolic tangent.
#[must_use]
pub fn tanh(x: f64) -> f64 {
    libm::tanh(x)
}

/// Sine to 5e-9 within a few turns of zero, for what is asked a million times a run; `x`
/// in radians, |x| below 1e9. An odd polynomial of degree 9 on a half turn, fitted here
/// by reweighted least squares.
#[must_use]
pub fn quick_sin(x: f64) -> f64 {
    use core::f64::consts::{FRAC_1_PI, PI};
    // Adding and taking away 1.5 · 2⁵² rounds to the nearest whole number.
    const ROUND: f64 = 6_755_399_441_055_744.0;
    let turns = (x * FRAC_1_PI + ROUND) - ROUND;
    let y = x - turns * PI;
    let y2 = y * y;
    let polynomial = y
        * (1.0
            + y2 * (-0.166_666_570_959_169_98
                + y2 * (0.008_333_017_277_005_257
                    + y2 * (-0.000_198_066_141_392_215_3 + y2 * 2.600_052_397_892_871_7e-6))));
    // Odd half turns change the sign.
    let odd = turns - 2.0 * ((turns * 0.5 + ROUND) - ROUND);
    polynomial * (1.0 - 2.0 * odd * odd)
}

/// Error function.
#[must_use]
pub fn erf(x: f64) -> f64 {
    libm::erf(x)
}

/// 1 − the error function, exact where that is next to nothing.
#[must_use]
pub fn erfc(x: f64) -> f64 {
    libm::erfc(x)
}

/// Cube root.
#[must_use]
pub fn cbrt(x: f64) -> f64 {
    libm::cbrt(x)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Exact where the result is, and as near as the general power elsewhere.
    #[test]
    fn whole_powers() {
        assert_eq!(
            [whole_pow(2.0, 10), whole_pow(-3.0, 3), whole_pow(7.0, 0)],
            [1024.0, -27.0, 1.0]
        );
        for n in 0..40 {
            let (whole, general) = (whole_pow(1.37, n), pow(1.37, f64::from(n)));
            assert!((whole / general - 1.0).abs() < 1e-14, "{n}: {whole} {general}");
        }
        assert_eq!(log10(1e-3), -3.0);
    }
}
