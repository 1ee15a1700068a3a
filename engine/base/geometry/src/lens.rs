//! Pinhole projection with Brown–Conrady distortion.

use dryturn_numerics::Symmetric2;
use glam::{DVec2, DVec3};

/// Lens distortion (A. E. Conrady 1919; D. C. Brown, *Close-range camera
/// calibration*, 1971); all coefficients are numbers without a unit, on
/// normalised coordinates. All zero is an ideal pinhole.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Distortion {
    /// Radial, second order.
    pub k1: f64,
    /// Radial, fourth order.
    pub k2: f64,
    /// Radial, sixth order.
    pub k3: f64,
    /// Tangential, first.
    pub p1: f64,
    /// Tangential, second.
    pub p2: f64,
}

/// Focal length, principal point and distortion of a camera.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Lens {
    /// Focal length in pixels, across and down.
    pub focal_px: DVec2,
    /// Where the optical axis meets the picture, in pixels; the centre of the
    /// top-left pixel is (0, 0).
    pub centre_px: DVec2,
    /// Distortion coefficients.
    pub distortion: Distortion,
}

impl Lens {
    /// A point in camera coordinates (any length unit) to pixels. `None` for a
    /// point that is not in front of the camera.
    #[must_use]
    pub fn project(&self, camera: DVec3) -> Option<DVec2> {
        if camera.z <= 0.0 {
            return None;
        }
        let normalised = DVec2::new(camera.x / camera.z, camera.y / camera.z);
        Some(self.distort(normalised) * self.focal_px + self.centre_px)
    }

    /// Pixel to undistorted normalised coordinates (the ray is `(x, y, 1)` in
    /// camera axes), by Newton's method. `None` where the distortion cannot be
    /// undone: beyond the radius at which its polynomial folds back.
    #[must_use]
    pub fn normalise(&self, pixel: DVec2) -> Option<DVec2> {
        let wanted = (pixel - self.centre_px) / self.focal_px;
        if self.distortion == Distortion::default() {
            return Some(wanted);
        }
        let mut guess = wanted;
        for _ in 0..50 {
            let error = self.distort(guess) - wanted;
            let step = self.inverse_slope(guess, error)?;
            if error.length_squared() < 1e-28 {
                return Some(guess);
            }
            guess -= step;
        }
        ((self.distort(guess) - wanted).length() < 1e-9).then_some(guess)
    }

    fn distort(&self, n: DVec2) -> DVec2 {
        let Distortion { k1, k2, k3, p1, p2 } = self.distortion;
        let (x, y, r2) = (n.x, n.y, n.length_squared());
        let radial = 1.0 + r2 * (k1 + r2 * (k2 + r2 * k3));
        DVec2::new(
            x * radial + 2.0 * p1 * x * y + p2 * (r2 + 2.0 * x * x),
            y * radial + p1 * (r2 + 2.0 * y * y) + 2.0 * p2 * x * y,
        )
    }

    /// The inverse Jacobian of `distort` at `n`, applied to `error`; `None` where
    /// the distortion folds, that is where the Jacobian is not positive definite.
    fn inverse_slope(&self, n: DVec2, error: DVec2) -> Option<DVec2> {
        let Distortion { k1, k2, k3, p1, p2 } = self.distortion;
        let (x, y, r2) = (n.x, n.y, n.length_squared());
        let radial = 1.0 + r2 * (k1 + r2 * (k2 + r2 * k3));
        let slope = 2.0 * (k1 + r2 * (2.0 * k2 + 3.0 * k3 * r2));
        let xx = radial + slope * x * x + 2.0 * p1 * y + 6.0 * p2 * x;
        let yy = radial + slope * y * y + 6.0 * p1 * y + 2.0 * p2 * x;
        let xy = slope * x * y + 2.0 * p1 * x + 2.0 * p2 * y;
        let jacobian = Symmetric2 { xx, xy, yy };
        (jacobian.determinant() > 1e-12 && xx + yy > 0.0)
            .then(|| DVec2::from_array(jacobian.solve(error.to_array())))
    }
}
