//! Strength and stiffness of a shaft in torsion: solid, or printed with walls
//! and an infill.
//!
//! Saint-Venant torsion (W. C. Young and R. G. Budynas, *Roark's Formulas for
//! Stress and Strain*; S. P. Timoshenko and J. N. Goodier, *Theory of
//! Elasticity*; both from memory): warping free, no stress concentration at the
//! couplings. What a figure says of a printed shaft is an estimate: test the part.
//! A shaft that breaks throws fragments: enclosure, eye protection, hands clear.

mod pressing;
mod rod;
mod section;

pub(crate) use pressing::{pressed_at_most_n_m, rubs_n_m_mm};
pub(crate) use rod::Rod;
use section::positive;
pub use section::{Section, ShaftError};

/// What a printer leaves inside a shaft.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Infill {
    /// Density of the core, share of solid, 0 to 1.
    pub share: f64,
    /// Solid walls all round, all lines together; 0 for none.
    pub wall_m: f64,
}

impl Infill {
    /// No cells: solid throughout.
    pub const SOLID: Self = Self { share: 1.0, wall_m: 0.0 };
}

/// A straight shaft of one section.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Shaft {
    /// Its section.
    pub section: Section,
    /// The length that twists.
    pub length_m: f64,
    /// Shear modulus of the solid material.
    pub shear_modulus_pa: f64,
    /// Shear stress at which the solid material breaks. For a shaft printed
    /// upright that of the layer lines, about 13 MPa (assumption).
    pub ultimate_stress_pa: f64,
    /// Its inside.
    pub infill: Infill,
}

impl Shaft {
    /// Fails unless every size and property can be a shaft's. The other
    /// functions trust that it does not.
    ///
    /// # Errors
    /// Names the first figure that is wrong.
    pub fn check(&self) -> Result<(), ShaftError> {
        self.section.check()?;
        for (name, value) in [
            ("length", self.length_m),
            ("shear modulus", self.shear_modulus_pa),
            ("ultimate stress", self.ultimate_stress_pa),
        ] {
            positive(name, value)?;
        }
        let Infill { share, wall_m } = self.infill;
        if (0.0..=1.0).contains(&share) && wall_m >= 0.0 && wall_m.is_finite() {
            Ok(())
        } else {
            Err(ShaftError::Infill { share, wall_m })
        }
    }

    /// The torque that breaks it, N·m. Solid: stress times section modulus. With
    /// a core of density ρ that carries `ρ^1.5` of what solid would (plastic
    /// collapse of bent cells; L. J. Gibson and M. F. Ashby, *Cellular Solids*):
    /// times `1 − (1 − ρ^1.5) K_core/K`, over `1 + 0.75 (1 − ρ)` for the
    /// re-entrant corners where cells meet walls (the sum of shell and core, and
    /// that factor, are assumptions).
    #[must_use]
    pub fn ultimate_torque_n_m(&self) -> f64 {
        let solid = self.ultimate_stress_pa * self.section.section_modulus_m3();
        let Some(core) = self.core() else {
            return solid;
        };
        let share = self.infill.share;
        let lost = 1.0 - share * share.sqrt();
        let corners = 1.0 + 0.75 * (1.0 - share);
        let section = self.section.torsion_constant_m4();
        solid * (1.0 - lost * core.torsion_constant_m4() / section) / corners
    }

    /// Torque per angle of twist, N·m/rad: `G K/L`, the core with `ρ²` of the
    /// solid's shear modulus (bent open cells; Gibson and Ashby; that an infill
    /// is such cells is an assumption).
    #[must_use]
    pub fn stiffness_n_m_per_rad(&self) -> f64 {
        let share = self.infill.share;
        let lost =
            self.core().map_or(0.0, |core| (1.0 - share * share) * core.torsion_constant_m4());
        self.shear_modulus_pa * (self.section.torsion_constant_m4() - lost) / self.length_m
    }

    /// How often the torque fits into the one that breaks it.
    #[must_use]
    pub fn safety_factor(&self, torque_n_m: f64) -> f64 {
        self.ultimate_torque_n_m() / torque_n_m.abs()
    }

    /// What lies inside the walls; `None` where they leave nothing.
    fn core(&self) -> Option<Section> {
        self.section.inside(self.infill.wall_m)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use dryturn_units::maths;

    /// 8 mm square, printed upright, two walls of 0.42 mm.
    fn printed(share: f64) -> Shaft {
        Shaft {
            section: Section::Square { side_m: 8e-3 },
            length_m: 25e-3,
            shear_modulus_pa: 0.9e9,
            ultimate_stress_pa: 13e6,
            infill: Infill { share, wall_m: 2.0 * 0.42e-3 },
        }
    }

    fn near(found: f64, wanted: f64, absolute: f64) {
        assert!((found - wanted).abs() <= absolute, "{found} for {wanted}");
    }

    #[test]
    fn infill_costs_strength() {
        near(printed(1.0).ultimate_torque_n_m(), 1.39, 0.005);
        near(printed(0.2).ultimate_torque_n_m(), 0.56, 0.005);
        near(printed(1.0).safety_factor(0.479), 2.9, 0.05);
        near(printed(0.2).safety_factor(-0.479), 1.17, 0.005);
        let strengths = [0.0, 0.1, 0.3, 0.6, 1.0].map(|share| printed(share).ultimate_torque_n_m());
        assert!(strengths.windows(2).all(|pair| pair[0] < pair[1]), "{strengths:?}");
        // Solid whatever the walls; and walls that leave no core are solid whatever the infill.
        let solid = Shaft { infill: Infill::SOLID, ..printed(1.0) };
        near(printed(1.0).ultimate_torque_n_m(), solid.ultimate_torque_n_m(), 1e-12);
        let walls = Shaft { infill: Infill { share: 0.2, wall_m: 4e-3 }, ..solid };
        assert_eq!(walls.ultimate_torque_n_m(), solid.ultimate_torque_n_m());
        assert_eq!(walls.core(), None);
    }

    /// A core without stiffness would leave the difference of two squares.
    #[test]
    fn stiffness_of_solid_and_printed_shafts() {
        let solid = printed(1.0).stiffness_n_m_per_rad();
        near(solid, 0.9e9 * 0.140577 * 4.096e-9 / 25e-3, 1e-3);
        let cellular = printed(0.2).stiffness_n_m_per_rad();
        let hollow = printed(0.0).stiffness_n_m_per_rad();
        near(hollow / solid, 1.0 - maths::pow(6.32 / 8.0, 4.0), 1e-12);
        assert!(hollow < cellular && cellular < solid, "{hollow} {cellular} {solid}");
    }

    #[test]
    fn impossible_shafts_are_named() {
        let fault = |shaft: Shaft| shaft.check().unwrap_err().to_string();
        assert_eq!(printed(0.2).check(), Ok(()));
        assert_eq!(
            fault(Shaft { length_m: 0.0, ..printed(1.0) }),
            "a shaft's length is 0; it must be a number above 0"
        );
        assert!(fault(printed(1.2)).contains("infill 1.2"));
        assert!(fault(printed(f64::NAN)).contains("infill NaN"));
        let section = Section::RoundHollow { outer_m: 5e-3, inner_m: 5e-3 };
        assert!(fault(Shaft { section, ..printed(1.0) }).contains("not smaller"));
        let section = Section::Hexagon { across_flats_m: f64::INFINITY };
        assert!(fault(Shaft { section, ..printed(1.0) }).contains("across flats"));
    }
}
