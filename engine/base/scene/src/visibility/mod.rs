//! Which camera sees enough of which facelet to tell its colour. The one rule: the reader,
//! the survey, `check` and scripts all ask it.
//!
//! Of the pixels whose centres show a facelet by the drawing, those count that still show
//! it when the picture is shifted by as much as the mount's tolerance allows. A facelet has
//! evidence in a camera where at least [`Visibility::LEAST_PX`] such pixels are left, and at
//! least [`Visibility::LEAST_SHARE`] of what its square would fill if nothing stood in
//! front. What has evidence in no camera is hidden, and must be inferred.

mod mount;
mod seen;

use dryturn_cube::{Facelet, FaceletKind};

use crate::drawing::Rig;
use crate::scene::Scene;

pub use mount::MountTolerance;
use seen::Seen;

/// Which camera sees enough of which facelet, by the drawing.
#[derive(Clone, Debug, PartialEq)]
pub struct Visibility {
    tolerance: MountTolerance,
    cameras: Vec<Seen>,
}

impl Visibility {
    /// Fewest pixels that are evidence of a facelet's colour.
    pub const LEAST_PX: usize = 40;
    /// Smallest share of a facelet's whole square that is.
    pub const LEAST_SHARE: f64 = 0.06;
    /// Code of a pixel that shows a grey patch; the others are those of
    /// [`crate::Surface::code`].
    pub const GREY_CODE: u8 = 200;

    /// Of a scene as drawn, at rest.
    #[must_use]
    pub fn of(scene: &Scene) -> Self {
        Self {
            tolerance: MountTolerance::of(&scene.file().tolerances),
            cameras: (0..scene.file().cameras.len()).map(|i| Seen::by(scene, i)).collect(),
        }
    }

    /// What mounts may be off by.
    #[must_use]
    pub fn tolerance(&self) -> MountTolerance {
        self.tolerance
    }

    /// By how many pixels that may shift a camera's picture, rounded up, and one for the
    /// pixel's own size: so much is left out round every facelet.
    #[must_use]
    pub fn rim_px(&self, camera: usize) -> usize {
        self.cameras[camera].rim_px
    }

    /// What each of a camera's pixels shows at its centre by the drawing, row-major.
    #[must_use]
    pub fn codes(&self, camera: usize) -> &[u8] {
        &self.cameras[camera].codes
    }

    /// The pixels of a camera that show a facelet wherever its mount is within the
    /// tolerance, ascending.
    #[must_use]
    pub fn pixels(&self, camera: usize, facelet: Facelet) -> &[u32] {
        &self.cameras[camera].sure[facelet.index()]
    }

    /// The fewest of them that are evidence.
    #[must_use]
    pub fn needed_px(&self, camera: usize, facelet: Facelet) -> usize {
        self.cameras[camera].needed[facelet.index()]
    }

    /// The pixels of a camera that surely show a grey patch, ascending.
    #[must_use]
    pub fn grey_pixels(&self, camera: usize) -> &[u32] {
        &self.cameras[camera].grey
    }

    /// Whether a camera sees enough of a facelet to tell its colour.
    #[must_use]
    pub fn is_evidence(&self, camera: usize, facelet: Facelet) -> bool {
        self.pixels(camera, facelet).len() >= self.needed_px(camera, facelet)
    }

    /// The camera that reads a facelet: of those with evidence the one with most pixels,
    /// the first of equals. `None` where no camera has any.
    #[must_use]
    pub fn camera_of(&self, facelet: Facelet) -> Option<usize> {
        let with = (0..self.cameras.len()).filter(|&camera| self.is_evidence(camera, facelet));
        let count = |camera: &usize| self.pixels(*camera, facelet).len();
        with.max_by(|a, b| count(a).cmp(&count(b)).then(b.cmp(a)))
    }

    /// Facelets other than centres that no camera has evidence of, in facelet order: they
    /// must be inferred.
    #[must_use]
    pub fn hidden(&self) -> Vec<Facelet> {
        Rig::facelets_to_read().filter(|&f| self.camera_of(f).is_none()).collect()
    }

    /// Whether any camera has evidence of any facelet other than a centre. Where none has, no
    /// cube can be read.
    #[must_use]
    pub fn reads_anything(&self) -> bool {
        Rig::facelets_to_read().any(|facelet| self.camera_of(facelet).is_some())
    }

    /// Facelets of all 54 that some camera has evidence of.
    #[must_use]
    pub fn evident(&self) -> Vec<Facelet> {
        Facelet::all().filter(|&f| self.camera_of(f).is_some()).collect()
    }

    /// Centres that no camera has evidence of: the mounting fixes their colours.
    #[must_use]
    pub fn hidden_centres(&self) -> Vec<Facelet> {
        let centre = |f: &Facelet| f.kind() == FaceletKind::Centre;
        Facelet::all().filter(centre).filter(|&f| self.camera_of(f).is_none()).collect()
    }
}

#[cfg(test)]
mod tests {
    use dryturn_units::radians;

    use super::*;

    fn workbench() -> Scene {
        let text = include_str!("../../../../../scenes/workbench.ron");
        Scene::parse(text, "workbench").unwrap()
    }

    /// The rim in the picture is the focal length times two standard deviations of turn and
    /// of shift over the nearest distance, in quadrature, rounded up, and one pixel.
    #[test]
    fn the_tolerance_is_stated_and_allowed_for() {
        let scene = workbench();
        let seen = Visibility::of(&scene);
        let MountTolerance { sigmas_ratio, shift_mm, turn_deg } = seen.tolerance();
        assert_eq!((sigmas_ratio, shift_mm, turn_deg), (2.0, 0.6, 0.4));
        let focal = 320.0 / dryturn_units::maths::tan(radians(18.0));
        let near = (127.0 - 28.0) * 3.0f64.sqrt();
        let (turn, shift) = (focal * radians(0.4), focal * 0.6 / near);
        let wanted = (turn * turn + shift * shift).sqrt().ceil() as usize + 1;
        assert_eq!(seen.rim_px(0), wanted);
        // Whatever is sure is seen by the drawing, with the rim between.
        for camera in 0..2 {
            for facelet in Facelet::all() {
                let sure = seen.pixels(camera, facelet);
                let codes = seen.codes(camera);
                assert!(sure.iter().all(|&p| codes[p as usize] == facelet.index() as u8));
            }
        }
        let exact = workbench()
            .with_all(&[
                ("tolerances.mount_shift_sigma_mm", 0.0.into()),
                ("tolerances.mount_turn_sigma_deg", 0.0.into()),
            ])
            .unwrap();
        assert_eq!(Visibility::of(&exact).rim_px(0), 1);
        let loose = workbench().with("tolerances.mount_turn_sigma_deg", 5.0.into()).unwrap();
        assert_eq!(Visibility::of(&loose).hidden().len(), 48, "nothing is sure any more");
    }
}
