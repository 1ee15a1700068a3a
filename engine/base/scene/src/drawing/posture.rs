//! Which layers are turned, and how they turn while a picture is taken.

use dryturn_cube::Face;
use dryturn_units::radians;

/// A face's angle over time, degrees clockwise as seen from outside.
#[derive(Clone, Debug, PartialEq)]
pub struct Course {
    /// Time between two angles, s; above 0.
    pub step_s: f64,
    /// From the start of the first row's exposure on; linear between, and constant
    /// after the last. At least one.
    pub angles_deg: Vec<f64>,
}

impl Course {
    /// Standing at an angle.
    #[must_use]
    pub fn at(angle_deg: f64) -> Self {
        Self { step_s: 1.0, angles_deg: vec![angle_deg] }
    }

    /// Turning evenly from an angle, for longer than any picture takes: 1 s of exposure
    /// and 4096 rows of 100 ms.
    #[must_use]
    pub fn turning(from_deg: f64, speed_deg_per_s: f64) -> Self {
        let step_s = 1000.0;
        Self { step_s, angles_deg: vec![from_deg, from_deg + step_s * speed_deg_per_s] }
    }

    /// The angle at a time.
    #[must_use]
    pub fn angle_deg(&self, time_s: f64) -> f64 {
        let last = self.angles_deg.len() - 1;
        let place = (time_s / self.step_s).clamp(0.0, last as f64);
        let before = (place as usize).min(last);
        let after = (before + 1).min(last);
        let (a, b) = (self.angles_deg[before], self.angles_deg[after]);
        a + (place - before as f64) * (b - a)
    }

    fn moves(&self) -> bool {
        self.angles_deg.windows(2).any(|pair| pair[0] != pair[1])
    }
}

/// The turned layers: none, one face's, or those of two opposite faces.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Posture {
    turned: Vec<(Face, Course)>,
}

impl Posture {
    /// Every layer at rest.
    pub const REST: Self = Self { turned: Vec::new() };

    /// One face turned.
    #[must_use]
    pub fn of(face: Face, course: Course) -> Self {
        Self { turned: vec![(face, course)] }
    }

    /// Several faces turned; `None` unless they are different faces of one axis.
    #[must_use]
    pub fn new(turned: Vec<(Face, Course)>) -> Option<Self> {
        let fits = |i: usize| {
            let face = turned[i].0;
            turned[..i].iter().all(|(other, _)| *other == face.opposite())
        };
        (0..turned.len()).all(fits).then_some(Self { turned })
    }

    /// The turned faces.
    #[must_use]
    pub fn faces(&self) -> Vec<Face> {
        self.turned.iter().map(|(face, _)| *face).collect()
    }

    /// Whether every layer is at rest.
    #[must_use]
    pub fn is_rest(&self) -> bool {
        self.turned.is_empty()
    }

    /// Whether any layer moves.
    #[must_use]
    pub fn moves(&self) -> bool {
        self.turned.iter().any(|(_, course)| course.moves())
    }

    /// Angles of the turned faces at a time, degrees clockwise from outside.
    #[must_use]
    pub fn angles_deg(&self, time_s: f64) -> Vec<f64> {
        self.turned.iter().map(|(_, course)| course.angle_deg(time_s)).collect()
    }

    /// The same about the world's axes, radians by the right-hand rule.
    #[must_use]
    pub fn angles_rad(&self, time_s: f64) -> Vec<f64> {
        let about_axis = |(face, course): &(Face, Course)| {
            let outwards: i32 = face.normal().iter().sum();
            -f64::from(outwards) * radians(course.angle_deg(time_s))
        };
        self.turned.iter().map(about_axis).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn courses_are_followed() {
        let course = Course { step_s: 0.5, angles_deg: vec![0.0, 10.0, 10.0, -20.0] };
        let at = |t| course.angle_deg(t);
        assert_eq!(
            [at(-1.0), at(0.0), at(0.25), at(0.75), at(1.25), at(9.0)],
            [0.0, 0.0, 5.0, 10.0, -5.0, -20.0]
        );
        assert!(course.moves() && !Course::at(3.0).moves());
    }

    #[test]
    fn only_faces_of_one_axis_turn_together() {
        let at = |faces: &[Face]| {
            Posture::new(faces.iter().map(|&face| (face, Course::at(5.0))).collect())
        };
        assert!(at(&[]).is_some() && at(&[Face::U]).is_some() && at(&[Face::U, Face::D]).is_some());
        assert!(at(&[Face::U, Face::R]).is_none() && at(&[Face::U, Face::U]).is_none());
        // Clockwise from outside: about +y backwards for U, forwards for D.
        let both = at(&[Face::U, Face::D]).unwrap().angles_rad(0.0);
        assert!(both[0] < 0.0 && both[0] == -both[1]);
    }
}
