//! Sections in Saint-Venant torsion, and what figures make none.

use core::f64::consts::PI;

use dryturn_units::maths;

/// Torsion constant of a regular hexagon one unit across its flats.
///
/// Both constants by the conformal map of the unit disc on the hexagon,
/// `f' = (1 − z⁶)^(−1/3)`, in which Prandtl's function is a Fourier series; the
/// series to 4 million terms, its tail extrapolated. Harmonic collocation of
/// Prandtl's function (40 terms) gives the same to 2e-8 and 5e-5. The test below
/// repeats the map.
const HEXAGON_CONSTANT: f64 = 0.115_050_994_40;
/// Section modulus of the same; the stress is highest amid a side.
const HEXAGON_MODULUS: f64 = 0.187_673_367_6;

/// Riemann's zeta function at 5 (from memory; the table below would not come out without it).
const ZETA_5: f64 = 1.036_927_755_143_37;

/// Why figures make no shaft.
#[derive(Clone, Copy, Debug, PartialEq, thiserror::Error)]
pub enum ShaftError {
    /// A size or a property that must be above zero is not.
    #[error("a shaft's {0} is {1}; it must be a number above 0")]
    NotPositive(&'static str, f64),
    /// A hole not smaller than the shaft.
    #[error("a hollow shaft's hole of {inner_m} m is not smaller than its outside of {outer_m} m")]
    NoWall {
        /// Diameter outside.
        outer_m: f64,
        /// Diameter of the hole.
        inner_m: f64,
    },
    /// Infill outside 0 to 1, or walls below 0.
    #[error(
        "infill {share} with walls of {wall_m} m: the share must be 0 to 1, the walls 0 or more"
    )]
    Infill {
        /// The share given.
        share: f64,
        /// The walls given.
        wall_m: f64,
    },
}

/// Fails unless a named figure is a number above zero.
pub(super) fn positive(name: &'static str, value: f64) -> Result<(), ShaftError> {
    if value > 0.0 && value.is_finite() {
        Ok(())
    } else {
        Err(ShaftError::NotPositive(name, value))
    }
}

/// The section of a shaft, sizes in metres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Section {
    /// A square.
    Square {
        /// Side.
        side_m: f64,
    },
    /// A rectangle.
    Rectangle {
        /// One side.
        width_m: f64,
        /// The other; either may be the longer.
        height_m: f64,
    },
    /// A regular hexagon.
    Hexagon {
        /// Between opposite sides.
        across_flats_m: f64,
    },
    /// A full circle.
    Round {
        /// Diameter.
        diameter_m: f64,
    },
    /// A tube.
    RoundHollow {
        /// Diameter outside.
        outer_m: f64,
        /// Diameter of the hole.
        inner_m: f64,
    },
}

impl Section {
    /// Fails unless its sizes are above zero and a hole is smaller than its tube.
    ///
    /// # Errors
    /// Names the first figure that is wrong.
    pub fn check(&self) -> Result<(), ShaftError> {
        match *self {
            Self::Square { side_m } => positive("side", side_m),
            Self::Rectangle { width_m, height_m } => {
                positive("width", width_m)?;
                positive("height", height_m)
            }
            Self::Hexagon { across_flats_m } => positive("size across flats", across_flats_m),
            Self::Round { diameter_m } => positive("diameter", diameter_m),
            Self::RoundHollow { outer_m, inner_m } => {
                positive("outer diameter", outer_m)?;
                positive("inner diameter", inner_m)?;
                if inner_m < outer_m {
                    Ok(())
                } else {
                    Err(ShaftError::NoWall { outer_m, inner_m })
                }
            }
        }
    }

    /// `K` of `torque = G K · twist per length`, m⁴.
    #[must_use]
    pub fn torsion_constant_m4(&self) -> f64 {
        match *self {
            Self::Square { side_m } => rectangle(side_m, side_m).0,
            Self::Rectangle { width_m, height_m } => rectangle(width_m, height_m).0,
            Self::Hexagon { across_flats_m: s } => HEXAGON_CONSTANT * fourth(s),
            Self::Round { diameter_m } => PI / 32.0 * fourth(diameter_m),
            Self::RoundHollow { outer_m, inner_m } => {
                PI / 32.0 * (fourth(outer_m) - fourth(inner_m))
            }
        }
    }

    /// `W` of `torque = W · greatest shear stress`, m³.
    #[must_use]
    pub fn section_modulus_m3(&self) -> f64 {
        match *self {
            Self::Square { side_m } => rectangle(side_m, side_m).1,
            Self::Rectangle { width_m, height_m } => rectangle(width_m, height_m).1,
            Self::Hexagon { across_flats_m: s } => HEXAGON_MODULUS * s * s * s,
            Self::Round { diameter_m: d } => PI / 16.0 * d * d * d,
            Self::RoundHollow { outer_m, .. } => 2.0 * self.torsion_constant_m4() / outer_m,
        }
    }

    /// What is left inside walls of a thickness along every outline (a tube has
    /// two); `None` where nothing is.
    pub(super) fn inside(&self, wall_m: f64) -> Option<Self> {
        let less = 2.0 * wall_m;
        let core = match *self {
            Self::Square { side_m } => Self::Square { side_m: side_m - less },
            Self::Rectangle { width_m, height_m } => {
                Self::Rectangle { width_m: width_m - less, height_m: height_m - less }
            }
            Self::Hexagon { across_flats_m } => {
                Self::Hexagon { across_flats_m: across_flats_m - less }
            }
            Self::Round { diameter_m } => Self::Round { diameter_m: diameter_m - less },
            Self::RoundHollow { outer_m, inner_m } => {
                Self::RoundHollow { outer_m: outer_m - less, inner_m: inner_m + less }
            }
        };
        core.check().ok().map(|()| core)
    }
}

fn fourth(x: f64) -> f64 {
    x * x * x * x
}

/// Torsion constant and section modulus of a rectangle, by the series over odd
/// `n` (Timoshenko and Goodier, from memory), with `x = nπ · long/(2 short)`:
/// `K = a b³ [1/3 − (64/π⁵)(b/a) Σ tanh x / n⁵]`,
/// `W = K / (b [1 − (8/π²) Σ 1/(n² cosh x)])`.
/// `Σ tanh x / n⁵ = (31/32) ζ(5) − Σ 2/(n⁵ (e^{2x} + 1))`, of which the last sum
/// is at the last bit after a few terms.
fn rectangle(width_m: f64, height_m: f64) -> (f64, f64) {
    let (long, short) = (width_m.max(height_m), width_m.min(height_m));
    let (mut tanh_sum, mut sech_sum) = (31.0 / 32.0 * ZETA_5, 0.0);
    for step in 0..12 {
        let n = f64::from(2 * step + 1);
        let decay = maths::exp(-n * PI * long / (2.0 * short));
        let squared = decay * decay;
        tanh_sum -= 2.0 * squared / ((1.0 + squared) * fourth(n) * n);
        sech_sum += 2.0 * decay / ((1.0 + squared) * n * n);
    }
    let slender = short / long;
    let constant =
        long * short * short * short * (1.0 / 3.0 - 64.0 / (fourth(PI) * PI) * slender * tanh_sum);
    let stress_per_twist = short * (1.0 - 8.0 / (PI * PI) * sech_sum);
    (constant, constant / stress_per_twist)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(found: f64, wanted: f64, relative: f64) {
        assert!((found - wanted).abs() <= relative * wanted.abs(), "{found} for {wanted}");
    }

    /// Timoshenko and Goodier, *Theory of Elasticity*, table of constants for torsion of a
    /// rectangular bar, three digits (from memory): long/short, K/(a b³), W/(a b²).
    #[test]
    fn rectangles_match_the_handbook() {
        for (ratio, k, w) in [
            (1.0, 0.1406, 0.208),
            (1.2, 0.166, 0.219),
            (1.5, 0.196, 0.231),
            (2.0, 0.229, 0.246),
            (2.5, 0.249, 0.258),
            (3.0, 0.263, 0.267),
            (4.0, 0.281, 0.282),
            (5.0, 0.291, 0.291),
            (10.0, 0.312, 0.312),
            (1e6, 0.3333, 0.3333),
        ] {
            for (width_m, height_m) in [(ratio, 1.0), (1.0, ratio)] {
                let section = Section::Rectangle { width_m, height_m };
                assert!((section.torsion_constant_m4() / ratio - k).abs() < 6e-4, "{section:?}");
                assert!((section.section_modulus_m3() / ratio - w).abs() < 6e-4, "{section:?}");
            }
        }
    }

    #[test]
    fn a_square_is_a_rectangle_to_twelve_digits() {
        let square = Section::Square { side_m: 1.0 };
        near(square.torsion_constant_m4(), SQUARE.0, 1e-12);
        near(square.section_modulus_m3(), SQUARE.1, 1e-12);
    }
    /// mpmath 1.4.1, 40 digits, the handbook's series (`nsum` of tanh and sech).
    const SQUARE: (f64, f64) = (0.140_577_014_955_153_7, 0.208_165_259_932_504_4);

    /// Conformal map: with `f' = (1 − z⁶)^(−1/3)` and `|f|² = b₀ + 2 Σ b_m cos 6mθ` on the
    /// unit circle, `K = I_p − π Σ 6m b_m²` and the stress per twist amid a side is
    /// `apothem − Σ 6m b_m (−1)^m / |f'|`, `|f'| = 2^(−1/3)`.
    #[test]
    fn hexagon_constants_follow_from_the_conformal_map() {
        const TERMS: usize = 4096;
        let mut factor = 1.0;
        let mut series = Vec::with_capacity(TERMS);
        for k in 0..TERMS {
            series.push(factor / (6 * k + 1) as f64);
            factor *= (k as f64 + 1.0 / 3.0) / (k as f64 + 1.0);
        }
        // Distance of a corner, B(1/6, 2/3)/6 (mpmath 1.4.1).
        let corner = 1.112_912_674_522_305_4;
        let flats = 3f64.sqrt() * corner;
        let mut constant = 5.0 * 3f64.sqrt() / 8.0 * fourth(corner);
        let mut slopes = vec![0.0];
        for m in 1..TERMS {
            let b: f64 = series[m..].iter().zip(&series).map(|(x, y)| x * y).sum();
            let six_m = (6 * m) as f64;
            constant -= PI * six_m * b * b;
            let sign = if m % 2 == 0 { 1.0 } else { -1.0 };
            slopes.push(slopes[m - 1] + sign * six_m * b);
        }
        // An alternating series: average neighbouring partial sums again and again.
        let mut last = slopes[TERMS - 200..].to_vec();
        for _ in 0..20 {
            last = last.windows(2).map(|pair| 0.5 * (pair[0] + pair[1])).collect();
        }
        let slope = 0.5 * flats - last[last.len() / 2] * maths::cbrt(2.0);
        let found = constant / fourth(flats);
        near(found, HEXAGON_CONSTANT, 2e-6);
        near(found / (slope / flats), HEXAGON_MODULUS, 2e-6);
    }

    #[test]
    fn a_tube_without_a_hole_is_round_and_walls_thin_every_section() {
        let round = Section::Round { diameter_m: 0.01 };
        let tube = Section::RoundHollow { outer_m: 0.01, inner_m: 1e-9 };
        near(tube.torsion_constant_m4(), round.torsion_constant_m4(), 1e-12);
        near(tube.section_modulus_m3(), round.section_modulus_m3(), 1e-12);
        near(round.section_modulus_m3(), PI * 1e-6 / 16.0, 1e-12);
        let hexagon = Section::Hexagon { across_flats_m: 0.01 };
        assert_eq!(hexagon.inside(0.001), Some(Section::Hexagon { across_flats_m: 0.008 }));
        let tube = Section::RoundHollow { outer_m: 0.010, inner_m: 0.006 };
        assert_eq!(tube.inside(0.0015), None);
        assert!(tube.inside(0.0005).is_some());
    }
}
