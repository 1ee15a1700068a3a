//! Which camera sees enough of which facelet to tell its colour. The one rule: the reader,
//! the survey, `check` and scripts all ask it.
//!
//! Of the pixels whose centres show a facelet by the drawing, those count that still show
//! it when the picture is shifted by as much as the mount's tolerance allows. A facelet has
//! evidence in a camera where at least [`Visibility::LEAST_PX`] such pixels are left, and at
//! least [`Visibility::LEAST_SHARE`] of what its square would fill if nothing stood in
//! front. What has evidence in no camera is hidden, and must be inferred.

use dryturn_cube::{Facelet, FaceletKind};
use dryturn_units::radians;

use crate::file::{FixtureUse, Tolerances};
use crate::material::Material;
use crate::rig::Rig;
use crate::scene::Scene;

/// A code that is neither a facelet's nor another surface's.
const MIXED: u8 = u8::MAX;

/// How far off its drawn place a camera may be mounted without a facelet losing its
/// evidence: so many standard deviations of the scene's tolerances.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MountTolerance {
    /// Standard deviations that are allowed for.
    pub sigmas_ratio: f64,
    /// Shift along each axis, mm.
    pub shift_mm: f64,
    /// Turn about each axis, degrees.
    pub turn_deg: f64,
}

impl MountTolerance {
    /// How many standard deviations of a mount's error are left out at rims: 95 % of
    /// mounts lie within, axis by axis (normal distribution).
    pub const SIGMAS: f64 = 2.0;

    /// What is allowed for where mounts are as exact as this.
    #[must_use]
    pub fn of(tolerances: &Tolerances) -> Self {
        Self {
            sigmas_ratio: Self::SIGMAS,
            shift_mm: Self::SIGMAS * tolerances.mount_shift_sigma_mm,
            turn_deg: Self::SIGMAS * tolerances.mount_turn_sigma_deg,
        }
    }
}

/// What one camera sees.
#[derive(Clone, Debug, PartialEq)]
struct Seen {
    /// Pixels by which the picture may be shifted against the drawing, and one.
    rim_px: usize,
    /// What each pixel's centre shows by the drawing.
    codes: Vec<u8>,
    /// By facelet: pixels that show it wherever the mount is within its tolerance.
    sure: Vec<Vec<u32>>,
    /// By facelet: the fewest of them that are evidence.
    needed: Vec<usize>,
    /// Pixels that show a grey patch, likewise.
    grey: Vec<u32>,
}

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

impl Seen {
    fn by(scene: &Scene, camera: usize) -> Self {
        let settings = &scene.file().cameras[camera];
        let (width, height) = (settings.width_px as usize, settings.height_px as usize);
        let codes = codes(scene, camera, width, height);
        let rim_px = rim_px(scene, camera);
        let eroded = eroded(&codes, width, height, rim_px);
        let mut sure: Vec<Vec<u32>> = vec![Vec::new(); Facelet::COUNT];
        let mut grey = Vec::new();
        for (pixel, &code) in (0u32..).zip(&eroded) {
            if let Some(pixels) = sure.get_mut(usize::from(code)) {
                pixels.push(pixel);
            } else if code == Visibility::GREY_CODE {
                grey.push(pixel);
            }
        }
        let needed = |facelet: Facelet| {
            let share_px = Visibility::LEAST_SHARE * area_px(scene, camera, facelet);
            Visibility::LEAST_PX.max(share_px as usize)
        };
        Self { rim_px, codes, sure, needed: Facelet::all().map(needed).collect(), grey }
    }
}

fn codes(scene: &Scene, camera: usize, width: usize, height: usize) -> Vec<u8> {
    let sight = scene.rig().sight(&scene.views()[camera], width, height);
    let fixtures = &scene.file().fixtures;
    let is_grey = |material: &Material| {
        let fixture = material.fixture_index().and_then(|i| fixtures.get(i));
        fixture.is_some_and(|fixture| fixture.role == FixtureUse::GreyPatch)
    };
    let code = |m: &Material| if is_grey(m) { Visibility::GREY_CODE } else { m.surface().code() };
    sight.materials.iter().map(code).collect()
}

/// Pixels by which the picture may be shifted against the drawing: the turn shifts it
/// everywhere alike, the shift most where the cube is nearest.
fn rim_px(scene: &Scene, camera: usize) -> usize {
    let view = &scene.views()[camera];
    let tolerances = &scene.file().tolerances;
    let focal = view.lens.focal_px.x;
    let turn = focal * radians(tolerances.mount_turn_sigma_deg);
    let cube_reach = scene.file().cube.edge_mm / 2.0 * 3.0f64.sqrt();
    let nearest_mm = (view.pose.position.length() - cube_reach).max(1.0);
    let shift = focal * tolerances.mount_shift_sigma_mm / nearest_mm;
    (MountTolerance::SIGMAS * (turn * turn + shift * shift).sqrt()).ceil() as usize + 1
}

/// Keeps a code only where all pixels within `reach` rows and columns have it;
/// elsewhere, and at the picture's rim, puts a code that is no facelet's.
fn eroded(codes: &[u8], width: usize, height: usize, reach: usize) -> Vec<u8> {
    let pass = |from: &[u8], length: usize, lines: usize, at: &dyn Fn(usize, usize) -> usize| {
        let mut to = vec![MIXED; from.len()];
        for line in 0..lines {
            let mut run_start = 0;
            for end in 1..=length {
                let code = from[at(line, run_start)];
                if end == length || from[at(line, end)] != code {
                    for k in run_start + reach..end.saturating_sub(reach) {
                        to[at(line, k)] = code;
                    }
                    run_start = end;
                }
            }
        }
        to
    };
    let across = pass(codes, width, height, &|row, column| row * width + column);
    pass(&across, height, width, &|column, row| row * width + column)
}

/// Area of a facelet's square in the picture, px², as if nothing hid it; 0 if it
/// is not in front of the camera.
fn area_px(scene: &Scene, camera: usize, facelet: Facelet) -> f64 {
    let view = &scene.views()[camera];
    let corners = scene.rig().facelet_corners_mm(facelet).map(|corner| view.project(corner));
    let [Some(a), Some(b), Some(c), Some(d)] = corners else {
        return 0.0;
    };
    ((c - a).perp_dot(d - b) / 2.0).abs()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn workbench() -> Scene {
        let text = include_str!("../../../../scenes/workbench.ron");
        Scene::parse(text, "workbench").unwrap()
    }

    #[test]
    fn a_rim_is_left_out_on_every_side() {
        // A square of 5 in a picture of 7 × 7.
        let inside = |k: usize| (1..6).contains(&k);
        let code = |i: usize| if inside(i / 7) && inside(i % 7) { 3 } else { 57 };
        let codes: Vec<u8> = (0..49).map(code).collect();
        let kept = |reach| eroded(&codes, 7, 7, reach).iter().filter(|c| **c == 3).count();
        assert_eq!([0, 1, 2, 3].map(kept), [25, 9, 1, 0]);
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
