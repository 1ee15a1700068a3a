//! How far a face may be off before its neighbour can no longer turn.
//!
//! Half-size H, pitch p = 2H/3, play c, edge radius r, lift s. The pieces'
//! corners of a face that is off by δ stand into the neighbour's path by
//! `o(δ) = z sin δ − x (1 − cos δ) − c − s` with `x = p/2 − c/2 − r` and
//! `z = p + x`. Up to o = 0 nothing touches; up to 2r the rounded edges meet and
//! the neighbour's push realigns the late face (corner cutting), at a contact
//! angle α with `cos α = 1 − o/2r`; beyond, flat meets flat. With friction angle
//! ϕ the neighbour needs `T_A tan(α + ϕ)` to push the late face that resists
//! with T_A: it jams when it has no such torque, or α + ϕ reaches 90°.
//!
//! So it is where the neighbour turns against the error. Where it turns with it, the
//! row that both share, askew as the late face is, rubs along that face's wall from
//! `tan(φ/2) = (c + s) / (2 z sin δ)` on. (Derived for this project; compared with
//! distances between rounded cuboids in `tests/against_parry.rs`.)

use core::f64::consts::FRAC_PI_2;

use dryturn_numerics::bisect_increasing;
use dryturn_scene::file::Cube;
use dryturn_units::{degrees, maths, radians};

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
    pub(crate) radius_mm: f64,
    clearance_mm: f64,
    /// c + s: what may be overlapped before anything touches.
    pub(crate) slack_mm: f64,
    x_mm: f64,
    pub(crate) z_mm: f64,
    pitch_mm: f64,
    pub(crate) friction_ratio: f64,
    friction_angle_rad: f64,
    /// Below this nothing touches, degrees.
    pub free_deg: f64,
}

/// Frictionless corners that hardly overlap would push without bound.
const MOST_RATIO: f64 = 20.0;

impl Interlock {
    /// The interlock of a cube.
    #[must_use]
    pub fn of(cube: &Cube) -> Self {
        let (c, r) = (cube.clearance_mm, cube.edge_radius_mm);
        let pitch = cube.edge_mm / 3.0;
        let x_mm = pitch / 2.0 - c / 2.0 - r;
        let mut interlock = Self {
            radius_mm: r,
            clearance_mm: c,
            slack_mm: c + cube.lift_mm / cube.tension_ratio,
            x_mm,
            z_mm: pitch + x_mm,
            pitch_mm: pitch,
            friction_ratio: cube.friction_ratio,
            friction_angle_rad: maths::atan(cube.friction_ratio),
            free_deg: 0.0,
        };
        interlock.free_deg = interlock.angle_deg(0.0);
        interlock
    }

    /// How far the corners of a face that is off by so much stand into its neighbour's
    /// path, mm; negative where nothing does.
    #[must_use]
    pub fn overlap_mm(&self, off_rad: f64) -> f64 {
        let (sin, cos) = sine_and_cosine(off_rad.abs());
        self.z_mm * sin - self.x_mm * (1.0 - cos) - self.slack_mm
    }

    /// From where on, rad of the turning face, its edges are past all corners.
    #[must_use]
    pub fn past_rad(&self) -> f64 {
        (2.0 * self.radius_mm + self.clearance_mm) / self.z_mm
    }

    /// How far a face may be off, rad, where its neighbour has turned so far from its stop
    /// in the sense of that error: no corners meet, but the row that both share rubs along
    /// the wall of the late face. Half of the free angle is left after a quarter turn.
    #[must_use]
    pub fn wedge_rad(&self, turned_rad: f64) -> f64 {
        let turned = turned_rad.abs().min(FRAC_PI_2);
        let (sin, cos) = sine_and_cosine(turned);
        // tan(φ/2) = sin φ / (1 + cos φ)
        let lever = 2.0 * self.z_mm * sin / (1.0 + cos);
        // The arc sine of a small ratio.
        let ratio = self.slack_mm / lever.max(1e-9);
        if ratio < 0.5 { ratio * (1.0 + ratio * ratio / 6.0) } else { ratio.min(1.0) }
    }

    /// Signed gap between the pieces of a late face and of a turning one, mm, at most play
    /// and lift, at least −2r. `turned_rad` is from the stop that the turning face has left.
    #[must_use]
    pub fn gap_mm(&self, late_rad: f64, turned_rad: f64) -> f64 {
        let reach = 2.0 * self.radius_mm;
        let (late, turned) = (late_rad.abs(), turned_rad.abs());
        let (late_sin, late_cos) = sine_and_cosine(late);
        let gap = if late_rad * turned_rad > 0.0 {
            let (sin, cos) = sine_and_cosine(turned.min(FRAC_PI_2));
            let slope = late_sin * sin / (1.0 + cos);
            let lift = self.slack_mm - self.clearance_mm;
            let wall = self.clearance_mm + reach + lift * late_cos - 2.0 * self.z_mm * slope;
            wall / (1.0 + slope * slope).sqrt() - reach
        } else {
            // The late face's corners on the turning one's edges, and the other way round;
            // whichever leaves more, for each knows only its own pair.
            let (x, z, p) = (self.x_mm, self.z_mm, self.pitch_mm);
            let distance = |overlap: f64, along: f64| {
                let (across, along) = ((reach - overlap).max(0.0), along.max(0.0));
                (across * across + along * along).sqrt()
            };
            let (sin, cos) = sine_and_cosine(turned.min(FRAC_PI_2));
            let along = reach + self.clearance_mm
                - (z * late_cos - x * late_sin) * sin
                - (p - x) * (1.0 - cos);
            let one = distance(self.overlap_mm(late), along);
            let (sin, cos) = sine_and_cosine(turned.min(self.past_rad()));
            let lift = self.slack_mm - self.clearance_mm;
            let overlap = (z * cos - x * sin) * late_sin - (p - x + lift) * late_cos + x + reach;
            let along = reach + self.clearance_mm - z * sin + x * (1.0 - cos);
            one.max(distance(overlap, along)) - reach
        };
        gap.clamp(-reach, self.slack_mm)
    }

    /// Torque on a late face over the torque of the face whose corners push it, at an
    /// overlap: `cot(α + ϕ)`; 0 where friction locks them.
    #[must_use]
    pub fn realigning_ratio(&self, overlap_mm: f64) -> f64 {
        let cos = (1.0 - overlap_mm / (2.0 * self.radius_mm)).clamp(0.0, 1.0);
        let sin = (1.0 - cos * cos).sqrt();
        // (cos α − µ sin α) / (sin α + µ cos α), µ = tan ϕ.
        let friction = self.friction_ratio;
        let under = sin + friction * cos;
        if under <= 0.0 {
            MOST_RATIO
        } else {
            ((cos - friction * sin) / under).clamp(0.0, MOST_RATIO)
        }
    }

    /// The angle at which the pieces overlap by so much. The overlap grows up to
    /// 45°, far beyond any angle of interest.
    fn angle_deg(&self, overlap_mm: f64) -> f64 {
        let overlap = |angle: f64| {
            self.z_mm * maths::sin(angle) - self.x_mm * (1.0 - maths::cos(angle)) - self.slack_mm
        };
        degrees(bisect_increasing(0.0, core::f64::consts::FRAC_PI_4, |angle| {
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

    /// The angle at which friction locks the corners by itself, degrees.
    #[must_use]
    pub fn lock_deg(&self) -> f64 {
        let sin = maths::sin(self.friction_angle_rad);
        self.angle_deg(2.0 * self.radius_mm * (1.0 - sin))
    }

    /// How far, degrees, a turning face gets against a neighbour that is off by `off_deg`
    /// before corners meet; 45 where they never do.
    #[must_use]
    pub fn contact_deg(&self, off_deg: f64) -> f64 {
        let off = radians(off_deg.abs());
        let past = self.past_rad();
        if self.gap_mm(off, -past) > 0.0 {
            return 45.0;
        }
        degrees(bisect_increasing(0.0, past, |turned| -self.gap_mm(off, -turned)))
    }

    /// The same by overlap, rad, at equal steps from none to 2r.
    pub(crate) fn first_contacts(&self) -> [f64; CONTACTS] {
        core::array::from_fn(|i| {
            let overlap = 2.0 * self.radius_mm * i as f64 / (CONTACTS - 1) as f64;
            radians(self.contact_deg(self.angle_deg(overlap))).min(self.past_rad())
        })
    }
}

/// How many first contacts are tabled.
pub(crate) const CONTACTS: usize = 65;

/// Of an angle from 0 to a quarter turn, quickly.
fn sine_and_cosine(angle_rad: f64) -> (f64, f64) {
    let sin = maths::quick_sin(angle_rad);
    (sin, (1.0 - sin * sin).max(0.0).sqrt())
}

#[cfg(test)]
mod tests {
    use serde_json::json;

    use super::*;
    use crate::support::workbench;

    fn interlock(c: f64, r: f64, s: f64, friction_ratio: f64) -> Interlock {
        let scene = workbench(&[
            ("cube.clearance_mm", json!(c)),
            ("cube.edge_radius_mm", json!(r)),
            ("cube.lift_mm", json!(s)),
            ("cube.friction_ratio", json!(friction_ratio)),
        ]);
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

    /// The same formulas evaluated in Python (tests/reference/jam_angles.py): a tight cube
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
