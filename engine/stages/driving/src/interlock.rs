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
//! for this project.)

use dryturn_scene::file::Cube;
use dryturn_units::{degrees, maths};

/// Torques at one meeting of two faces.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Torques {
    /// Friction of the late face's layer.
    pub late_friction_n_m: f64,
    /// What the late face's axis holds with.
    pub late_hold_n_m: f64,
    /// Friction of the turning face's layer.
    pub turning_friction_n_m: f64,
    /// What the turning face's axis can give.
    pub turning_limit_n_m: f64,
}

/// The shape of the pieces where two faces meet.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Interlock {
    radius_mm: f64,
    /// c + s: what may be overlapped before anything touches.
    slack_mm: f64,
    x_mm: f64,
    z_mm: f64,
    friction_angle_rad: f64,
    /// Below this nothing touches, degrees.
    pub free_deg: f64,
}

/// First contact on a tight cube (56 mm, play 0.1, radius 1, lift 0.2 mm; free
/// angle 0.64°), from distances between rounded boxes computed in SciPy: how far
/// off a neighbour is, and how far the turning face gets before it meets it.
const CONTACT: [(f64, f64); 4] = [(1.0, 2.8), (2.0, 1.4), (3.0, 0.7), (4.0, 0.3)];
const CONTACT_FREE_DEG: f64 = 0.64;

impl Interlock {
    /// The interlock of a cube.
    #[must_use]
    pub fn of(cube: &Cube) -> Self {
        let (c, r) = (cube.clearance_mm, cube.edge_radius_mm);
        let pitch = cube.edge_mm / 3.0;
        let x_mm = pitch / 2.0 - c / 2.0 - r;
        let mut interlock = Self {
            radius_mm: r,
            slack_mm: c + cube.lift_mm,
            x_mm,
            z_mm: pitch + x_mm,
            friction_angle_rad: maths::atan(cube.friction_ratio),
            free_deg: 0.0,
        };
        interlock.free_deg = interlock.angle_deg(0.0);
        interlock
    }

    /// The angle at which the pieces overlap by so much. The overlap grows up to
    /// 45°, far beyond any angle of interest.
    fn angle_deg(&self, overlap_mm: f64) -> f64 {
        let overlap = |angle: f64| {
            self.z_mm * maths::sin(angle) - self.x_mm * (1.0 - maths::cos(angle)) - self.slack_mm
        };
        degrees(maths::bisect_increasing(0.0, core::f64::consts::FRAC_PI_4, |angle| {
            overlap(angle) - overlap_mm
        }))
    }

    /// The largest angle, degrees, by which a face may be off without jamming a
    /// neighbour.
    #[must_use]
    pub fn jam_deg(&self, torques: &Torques) -> f64 {
        let resisting = torques.late_friction_n_m + torques.late_hold_n_m;
        let available = torques.turning_limit_n_m - torques.turning_friction_n_m;
        let right_angle = core::f64::consts::FRAC_PI_2;
        let by_torque =
            if resisting > 0.0 { maths::atan(available / resisting) } else { right_angle };
        // At a right angle the friction locks by itself, whatever the torque.
        let contact = (by_torque.min(right_angle) - self.friction_angle_rad).max(0.0);
        self.angle_deg(2.0 * self.radius_mm * (1.0 - maths::cos(contact)))
    }

    /// How far, degrees, a turning face gets before it meets a neighbour that is
    /// off by `off_deg`: the worked example's figures, stretched to this cube's
    /// free angle and joined by straight lines.
    #[must_use]
    pub fn contact_deg(&self, off_deg: f64) -> f64 {
        let off = off_deg * CONTACT_FREE_DEG / self.free_deg.max(0.01);
        let above = CONTACT.iter().position(|&(at, _)| off <= at);
        match above {
            Some(0) => CONTACT[0].1,
            Some(i) => {
                let ((a, from), (b, to)) = (CONTACT[i - 1], CONTACT[i]);
                from + (to - from) * (off - a) / (b - a)
            }
            None => CONTACT[CONTACT.len() - 1].1,
        }
    }
}

#[cfg(test)]
mod tests {
    use dryturn_scene::Scene;
    use serde_json::json;

    use super::*;

    fn interlock(c: f64, r: f64, s: f64, friction_ratio: f64) -> Interlock {
        let text = include_str!("../../../../scenes/workbench.ron");
        let changes = [
            ("cube.clearance_mm", c),
            ("cube.edge_radius_mm", r),
            ("cube.lift_mm", s),
            ("cube.friction_ratio", friction_ratio),
        ];
        let scene = changes
            .iter()
            .fold(Scene::parse(text, "workbench").unwrap(), |scene, (path, value)| {
                scene.with(path, json!(value)).unwrap()
            });
        Interlock::of(&scene.file().cube)
    }

    fn jam(interlock: &Interlock, friction: f64, hold: f64) -> f64 {
        interlock.jam_deg(&Torques {
            late_friction_n_m: friction,
            late_hold_n_m: hold,
            turning_friction_n_m: friction,
            turning_limit_n_m: 0.479,
        })
    }

    /// The same formulas evaluated in Python, with its `math` module: a tight cube
    /// (play 0.1, radius 1, lift 0.2 mm, friction 0.25, 0.156 N·m) and a loose one
    /// (0.4, 3, 1 mm, 0.15, 0.04 N·m), 56 mm, on an axis of 0.479 N·m; free angle,
    /// then the jam angle at hold torques 0.479, 0.2 and 0 N·m. It checks the
    /// algebra, not the model.
    #[test]
    fn tight_and_loose_cube_as_evaluated_in_python() {
        let tight = interlock(0.1, 1.0, 0.2, 0.25);
        let loose = interlock(0.4, 3.0, 1.0, 0.15);
        let near = |value: f64, wanted: f64| {
            assert!((value - wanted).abs() < 1e-4, "{value} instead of {wanted}");
        };
        near(tight.free_deg, 0.6389);
        near(jam(&tight, 0.156, 0.479), 0.747);
        near(jam(&tight, 0.156, 0.2), 1.1454);
        near(jam(&tight, 0.156, 0.0), 2.1805);
        near(loose.free_deg, 3.2591);
        near(jam(&loose, 0.04, 0.479), 5.372);
        near(jam(&loose, 0.04, 0.2), 8.9238);
        near(jam(&loose, 0.04, 0.0), 14.401);
    }

    #[test]
    fn more_hold_torque_never_allows_more() {
        let tight = interlock(0.1, 1.0, 0.2, 0.25);
        let jams: Vec<f64> =
            [0.0, 0.1, 0.2, 0.3, 0.479].map(|hold| jam(&tight, 0.156, hold)).to_vec();
        assert!(jams.is_sorted_by(|a, b| a > b), "{jams:?}");
    }

    #[test]
    fn the_further_off_the_sooner_the_contact() {
        let tight = interlock(0.1, 1.0, 0.2, 0.25);
        let contacts: Vec<f64> =
            [0.5, 1.0, 1.5, 2.5, 3.9, 9.0].map(|off| tight.contact_deg(off)).to_vec();
        assert!(contacts.is_sorted_by(|a, b| a >= b), "{contacts:?}");
    }
}
