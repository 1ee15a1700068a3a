//! One shaft of the rig as a spring that can break.

use core::f64::consts::PI;

use dryturn_scene::file;

use super::{Infill, Section, Shaft};

/// Young's modulus over shear modulus of a printed plastic (Poisson's ratio 0.35).
const YOUNG_OVER_SHEAR: f64 = 2.7;

/// A shaft's figures.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Rod {
    pub(crate) stiffness_n_m_rad: f64,
    pub(crate) ultimate_n_m: f64,
    pub(crate) backlash_deg: f64,
    pub(crate) length_mm: f64,
    shear_modulus_pa: f64,
    /// Second moment of area.
    bending_m4: f64,
}

impl Rod {
    pub(crate) fn of(shaft: &file::Shaft) -> Self {
        let width_m = shaft.width_mm * 1e-3;
        let fourth = width_m * width_m * width_m * width_m;
        let (section, bending_m4) = match shaft.section {
            file::Section::Square => (Section::Square { side_m: width_m }, fourth / 12.0),
            // 5 √3 / 144 over the fourth power of the width across flats.
            file::Section::Hexagon => {
                (Section::Hexagon { across_flats_m: width_m }, 0.060_141 * fourth)
            }
            file::Section::Round => (Section::Round { diameter_m: width_m }, PI / 64.0 * fourth),
        };
        let printed = Shaft {
            section,
            length_m: shaft.twisting_length_mm * 1e-3,
            shear_modulus_pa: shaft.shear_modulus_gpa * 1e9,
            ultimate_stress_pa: shaft.shear_strength_mpa * 1e6,
            infill: Infill { share: shaft.infill_share, wall_m: shaft.wall_mm * 1e-3 },
        };
        Self {
            stiffness_n_m_rad: printed.stiffness_n_m_per_rad(),
            ultimate_n_m: printed.ultimate_torque_n_m(),
            backlash_deg: shaft.backlash_deg,
            length_mm: shaft.twisting_length_mm,
            shear_modulus_pa: printed.shear_modulus_pa,
            bending_m4,
        }
    }

    /// Force over sideways offset of its end, N/mm: `3 E I / L³`.
    pub(crate) fn bending_n_mm(&self) -> f64 {
        let length_m = self.length_mm * 1e-3;
        let young = YOUNG_OVER_SHEAR * self.shear_modulus_pa;
        3.0 * young * self.bending_m4 / (length_m * length_m * length_m) * 1e-3
    }
}
