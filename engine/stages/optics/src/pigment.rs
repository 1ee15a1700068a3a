//! Reflectance of the cube's colours and of the rig's plastics. Smooth curves,
//! invented for the demo: a dye's edge is a logistic step, a hump a Gaussian.

use dryturn_scene::file::Pigment;
use dryturn_units::maths;

use crate::spectrum::{Curve, curve};

fn step(nm: f64, edge_nm: f64, width_nm: f64) -> f64 {
    1.0 / (1.0 + maths::exp((edge_nm - nm) / width_nm))
}

fn hump(nm: f64, centre_nm: f64, width_nm: f64) -> f64 {
    let z = (nm - centre_nm) / width_nm;
    maths::exp(-0.5 * z * z)
}

/// Reflectance of a pigment, 0 to 1.
#[must_use]
pub fn reflectance(pigment: Pigment) -> Curve {
    match pigment {
        Pigment::White => curve(|nm| 0.08 + 0.76 * step(nm, 408.0, 8.0)),
        Pigment::Yellow => curve(|nm| 0.05 + 0.72 * step(nm, 508.0, 11.0)),
        Pigment::Orange => curve(|nm| 0.045 + 0.62 * step(nm, 577.0, 12.0)),
        Pigment::Red => {
            curve(|nm| 0.04 + 0.54 * step(nm, 602.0, 11.0) + 0.015 * hump(nm, 430.0, 30.0))
        }
        Pigment::Green => {
            curve(|nm| 0.035 + 0.38 * hump(nm, 525.0, 34.0) + 0.12 * step(nm, 740.0, 14.0))
        }
        Pigment::Blue => {
            curve(|nm| 0.03 + 0.36 * hump(nm, 452.0, 36.0) + 0.15 * step(nm, 725.0, 14.0))
        }
    }
}

/// Black plastic of the cube's body.
pub(crate) const BODY: f64 = 0.035;
/// Grey printed plastic of rods and couplers.
pub(crate) const ROD: f64 = 0.32;
/// Dark metal of motors.
pub(crate) const MOTOR: f64 = 0.08;
