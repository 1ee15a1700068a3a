//! Reflectance of the cube's colours. Smooth curves, invented for the demo: a dye's
//! edge is a logistic step, a hump a Gaussian. No measured stickers were available.

use dryturn_scene::Scene;
use dryturn_scene::file::{Cube, Finish, Make, Pigment};
use dryturn_units::maths;

use super::spectrum::{Beyond, Curve, curve, resampled};

/// The pigments in the order of a table's columns.
pub const PIGMENTS: [Pigment; 6] =
    [Pigment::White, Pigment::Yellow, Pigment::Orange, Pigment::Red, Pigment::Green, Pigment::Blue];

fn step(nm: f64, edge_nm: f64, width_nm: f64) -> f64 {
    1.0 / (1.0 + maths::exp((edge_nm - nm) / width_nm))
}

fn hump(nm: f64, centre_nm: f64, width_nm: f64) -> f64 {
    let z = (nm - centre_nm) / width_nm;
    maths::exp(-0.5 * z * z)
}

fn vivid(pigment: Pigment, nm: f64) -> f64 {
    match pigment {
        Pigment::White => 0.08 + 0.76 * step(nm, 408.0, 8.0),
        Pigment::Yellow => 0.05 + 0.72 * step(nm, 508.0, 11.0),
        Pigment::Orange => 0.045 + 0.62 * step(nm, 577.0, 12.0),
        Pigment::Red => 0.04 + 0.54 * step(nm, 602.0, 11.0) + 0.015 * hump(nm, 430.0, 30.0),
        Pigment::Green => 0.035 + 0.38 * hump(nm, 525.0, 34.0) + 0.12 * step(nm, 740.0, 14.0),
        Pigment::Blue => 0.03 + 0.36 * hump(nm, 452.0, 36.0) + 0.15 * step(nm, 725.0, 14.0),
    }
}

fn soft(pigment: Pigment, nm: f64) -> f64 {
    match pigment {
        Pigment::White => 0.10 + 0.70 * step(nm, 414.0, 12.0),
        Pigment::Yellow => 0.07 + 0.66 * step(nm, 500.0, 16.0),
        Pigment::Orange => 0.055 + 0.58 * step(nm, 585.0, 15.0),
        Pigment::Red => 0.05 + 0.50 * step(nm, 606.0, 14.0) + 0.02 * hump(nm, 440.0, 34.0),
        Pigment::Green => 0.05 + 0.34 * hump(nm, 532.0, 40.0) + 0.10 * step(nm, 735.0, 18.0),
        Pigment::Blue => 0.045 + 0.32 * hump(nm, 460.0, 42.0) + 0.12 * step(nm, 720.0, 18.0),
    }
}

/// Reflectance of a new facelet, 0 to 1. A matt print scatters a little grey over
/// every colour.
#[must_use]
pub fn reflectance(make: Make, finish: Finish, pigment: Pigment) -> Curve {
    let of_make = |nm: f64| match make {
        Make::Vivid => vivid(pigment, nm),
        Make::Soft => soft(pigment, nm),
    };
    match finish {
        Finish::Glossy => curve(of_make),
        Finish::Matt => curve(|nm| 0.015 + 0.97 * of_make(nm)),
    }
}

/// What a reflectance becomes when it is worn out: paler, with dust of reflectance
/// 0.25 over it.
#[must_use]
pub fn worn(new: &Curve) -> Curve {
    new.map(|r| 0.70 * r + 0.30 * 0.25)
}

/// Reflectance of a pigment of the scene's cube when new: its table's where it names
/// one.
pub(crate) fn of_scene(scene: &Scene, pigment: Pigment) -> Curve {
    let cube = &scene.file().cube;
    let column = PIGMENTS.iter().position(|&p| p == pigment).unwrap_or(0);
    match scene.curve(&cube.pigments_csv) {
        Some(table) => resampled(table, column, Beyond::Last),
        None => reflectance(cube.make, cube.finish, pigment),
    }
}

/// Width of the facelets' highlight, alpha of the GGX distribution. Scratches widen
/// it.
#[must_use]
pub fn gloss_width(cube: &Cube) -> f64 {
    let new = match (cube.gloss_width_ratio, cube.finish) {
        (width, _) if width > 0.0 => width,
        (_, Finish::Glossy) => 0.12,
        (_, Finish::Matt) => 0.35,
    };
    new + cube.wear_share * 0.3 * (1.0 - new)
}
