//! A camera that sees nothing of the cube, and what stands in its way.

use dryturn_geometry::{DVec2, DVec3};
use dryturn_scene::Visibility;
use dryturn_units::{degrees, maths};

use super::Sighted;
use crate::findings::{Finding, FindingKind as Kind};

/// What stands in a camera's way is worth a word from this share of the cube on.
const MUCH_HIDDEN: f64 = 0.25;

impl Sighted<'_> {
    /// The finding of a camera that gives no facelet at all.
    pub(super) fn sees_nothing(&self) -> Option<Finding> {
        if self.evident().next().is_some() {
            return None;
        }
        let largest = self.largest_px();
        let corners: Vec<Option<f64>> =
            self.corners().into_iter().map(|corner| self.outside_px(corner)).collect();
        let outside = corners.iter().all(|corner| corner.is_none_or(|px| px > 0.0));
        if largest == 0 && outside {
            let pose = &self.view().pose;
            let towards = pose.to_camera(DVec3::ZERO).normalize();
            let off_deg = degrees(maths::acos(towards.z.clamp(-1.0, 1.0)));
            return Some(
                Finding::wrong(Kind::CameraLooksAway, self.field("aim_mm"))
                    .figure("off_axis_deg", off_deg)
                    .says(
                        format!(
                            "the cube is {off_deg:.0}° off the optical axis, out of the picture"
                        ),
                        "aim it at the cube, (0, 0, 0)",
                    ),
            );
        }
        if largest == 0 {
            let (field, what) = self.blocker()?;
            return Some(
                Finding::wrong(Kind::CameraBlocked, field).figure("hidden_share", 1.0).says(
                    format!(
                        "camera {} sees none of 48 facelets: {what} is in front of them",
                        self.scene.file().cameras[self.camera].name
                    ),
                    "move it, or the camera, so that the cube is in sight",
                ),
            );
        }
        if let Some(loose) = self.loose() {
            return Some(loose);
        }
        Some(
            Finding::wrong(Kind::CameraReadsNothing, self.field("horizontal_fov_deg"))
                .figure("largest_facelet_px", largest as f64)
                .figure("rim_px", self.visibility.rim_px(self.camera) as f64)
                .says(
                    format!(
                        "its largest facelet has {largest} pixels; {} of them must be left at least \
                         when {} round it are given up for the mount's tolerance",
                        Visibility::LEAST_PX,
                        self.visibility.rim_px(self.camera)
                    ),
                    "bring it nearer, narrow its view, or mount it more exactly",
                ),
        )
    }

    /// What is seen most where the cube should be.
    fn blocker(&self) -> Option<(String, String)> {
        let counts = self.before_the_cube();
        let (share, field, what) = counts.into_iter().max_by(|a, b| a.0.total_cmp(&b.0))?;
        (share > 0.0).then_some((field, what))
    }

    /// Fixtures and motors with the share that they hide of where the cube is, as its
    /// outline's box has it; field and name of each.
    fn before_the_cube(&self) -> Vec<(f64, String, String)> {
        let file = self.scene.file();
        let camera = &file.cameras[self.camera];
        let (width, height) = (camera.width_px as usize, camera.height_px as usize);
        let sight = self.scene.rig().sight(self.view(), width, height);
        let corners: Vec<DVec2> =
            self.corners().iter().filter_map(|c| self.view().project(*c)).collect();
        let span = |axis: usize, size: usize| {
            let ends = (size as f64 - 1.0, 0.0);
            let (low, high) =
                corners.iter().fold(ends, |(a, b), p| (p[axis].min(a), p[axis].max(b)));
            low.max(0.0) as usize..(high.max(0.0) as usize + 1).min(size)
        };
        let middle_mm = self.view().pose.to_camera(DVec3::ZERO).z;
        let (mut counts, mut all): (Vec<(usize, String, String)>, usize) = (Vec::new(), 0);
        for row in span(1, height) {
            for column in span(0, width) {
                let pixel = row * width + column;
                let material = sight.materials[pixel];
                let nearer = f64::from(sight.depth_mm[pixel]) < middle_mm;
                all += usize::from(nearer);
                let (field, what) = match (material.fixture_index(), material.motor_of()) {
                    (Some(i), _) if nearer => {
                        let name = &file.fixtures[i].name;
                        (format!("fixtures.{name}.position_mm"), format!("fixture {name}"))
                    }
                    (_, Some(face)) if nearer => {
                        (format!("shafts.{face}.length_mm"), format!("the motor of {face}"))
                    }
                    _ => continue,
                };
                match counts.iter_mut().find(|known| known.1 == field) {
                    Some(known) => known.0 += 1,
                    None => counts.push((1, field, what)),
                }
            }
        }
        let share = |n: usize| n as f64 / all.max(1) as f64;
        counts.into_iter().map(|(n, field, what)| (share(n), field, what)).collect()
    }

    pub(super) fn in_the_way(&self) -> Option<Finding> {
        let most = self.before_the_cube().into_iter().max_by(|a, b| a.0.total_cmp(&b.0))?;
        let (share, field, what) = most;
        (share > MUCH_HIDDEN).then(|| {
            let camera = &self.scene.file().cameras[self.camera].name;
            Finding::doubtful(Kind::FixtureInTheWay, field).figure("hidden_share", share).says(
                format!("{what} hides {:.0} % of the cube from camera {camera}", 100.0 * share),
                "move it out of the way",
            )
        })
    }
}
