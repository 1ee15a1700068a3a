//! How far a face may be off before its neighbour can no longer turn.
//!
//! Half-size H, pitch p = 2H/3, play c, edge radius r, lift s. The pieces'
//! corners of a face that is off by δ stand into the neighbour's path by
//! `o(δ) = z sin δ − x (1 − cos δ) − c − s` with `x = p/2 − c/2 − r` and
//! `z = p + x`. Up to o = 0 nothing touches; up to 2r the rounded edges meet and
//! the neighbour's push realigns the late face (corner cutting), at a contact
//! angle α with `cos α = 1 − o/2r`; beyond, flat meets flat. With friction angle
//! ϕ the neighbour needs `T_A tan(α + ϕ)` to push the late face that resists
//! with T_A: it jams when it has no such torque, or α + ϕ reaches 90°. (Derived
//! for this project; checked against box distances.)

use dryturn_scene::file::{Cube, Drive};
use dryturn_units::{degrees, maths};

use crate::axis::Axis;

/// The angle within which neighbouring faces may overlap, both off their stops.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interlock {
    /// Below this nothing touches, degrees.
    pub free_deg: f64,
    /// Above this a turning neighbour jams, degrees.
    pub jam_deg: f64,
    /// A turn engages with a face that is off once it has moved this far from
    /// its own stop, degrees.
    pub engage_deg: f64,
}

/// First contact happens after about 1.4° of the turning face for a neighbour
/// that is 2° off (box distances, tight cube); taken for all.
const ENGAGE_DEG: f64 = 1.4;

impl Interlock {
    /// The interlock of a cube turned by such an axis, while a stopped face is
    /// held with the drive's hold torque.
    #[must_use]
    pub fn of(cube: &Cube, drive: &Drive) -> Self {
        let axis = Axis::of(drive);
        let hold = axis.torque_limit() * drive.hold_torque_share;
        Self::with_torques(cube, drive.friction_torque_n_m, axis.torque_limit(), hold)
    }

    /// The same from torques, N·m: friction of a layer, the turning axis's limit
    /// and what the late face's axis holds with.
    #[must_use]
    pub fn with_torques(cube: &Cube, friction: f64, limit: f64, hold: f64) -> Self {
        let (c, r, s) = (cube.clearance_mm, cube.edge_radius_mm, cube.lift_mm);
        let pitch = cube.edge_mm / 3.0;
        let x = (pitch / 2.0 - c / 2.0 - r).max(0.0);
        let z = pitch + x;
        let overlap = |angle: f64| z * maths::sin(angle) - x * (1.0 - maths::cos(angle)) - c - s;
        let angle_for = |wanted: f64| {
            // The overlap grows up to 45°, far beyond any angle of interest.
            let angle = maths::bisect_increasing(0.0, core::f64::consts::FRAC_PI_4, |angle| {
                overlap(angle) - wanted
            });
            degrees(angle)
        };
        let friction_angle = maths::atan(cube.friction_ratio);
        let resisting = friction + hold;
        let by_torque = if resisting > 0.0 {
            maths::atan((limit - friction) / resisting) - friction_angle
        } else {
            core::f64::consts::FRAC_PI_2
        };
        let self_locking = core::f64::consts::FRAC_PI_2 - friction_angle;
        let contact = by_torque.min(self_locking).max(0.0);
        let jam_overlap = 2.0 * r * (1.0 - maths::cos(contact));
        Self { free_deg: angle_for(0.0), jam_deg: angle_for(jam_overlap), engage_deg: ENGAGE_DEG }
    }
}

#[cfg(test)]
mod tests {
    use dryturn_scene::file::{Colours, Pigment};

    use super::*;

    fn cube(c: f64, r: f64, s: f64, friction_ratio: f64) -> Cube {
        let (clearance_mm, edge_radius_mm, lift_mm) = (c, r, s);
        let colours = Colours {
            up: Pigment::White,
            right: Pigment::Red,
            front: Pigment::Green,
            down: Pigment::Yellow,
            left: Pigment::Orange,
            back: Pigment::Blue,
        };
        Cube {
            edge_mm: 56.0,
            gap_mm: 0.4,
            facelet_edge_mm: 16.0,
            body: dryturn_scene::file::Body::Black,
            gloss_width_ratio: 0.3,
            colours,
            clearance_mm,
            edge_radius_mm,
            lift_mm,
            friction_ratio,
        }
    }

    /// A worked example, computed apart from this program: tight and loose cube
    /// on an axis of 0.479 N·m.
    #[test]
    fn worked_example_of_tight_and_loose_cube() {
        let tight = cube(0.1, 1.0, 0.2, 0.25);
        let loose = cube(0.4, 3.0, 1.0, 0.15);
        let near = |value: f64, wanted: f64| {
            assert!((value - wanted).abs() < 0.06, "{value} instead of {wanted}");
        };
        let jam = |cube: &Cube, friction: f64, hold: f64| {
            Interlock::with_torques(cube, friction, 0.479, hold).jam_deg
        };
        near(Interlock::with_torques(&tight, 0.156, 0.479, 0.0).free_deg, 0.64);
        near(jam(&tight, 0.156, 0.479), 0.75);
        near(jam(&tight, 0.156, 0.2), 1.15);
        near(jam(&tight, 0.156, 0.0), 2.2);
        near(Interlock::with_torques(&loose, 0.04, 0.479, 0.0).free_deg, 3.3);
        near(jam(&loose, 0.04, 0.479), 5.4);
        near(jam(&loose, 0.04, 0.2), 8.9);
        near(jam(&loose, 0.04, 0.0), 14.4);
    }

    #[test]
    fn more_hold_torque_never_allows_more() {
        let tight = cube(0.1, 1.0, 0.2, 0.25);
        let jams: Vec<f64> = [0.0, 0.1, 0.2, 0.3, 0.479]
            .map(|hold| Interlock::with_torques(&tight, 0.156, 0.479, hold).jam_deg)
            .to_vec();
        assert!(jams.is_sorted_by(|a, b| a > b), "{jams:?}");
    }
}
