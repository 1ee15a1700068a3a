//! How well a camera sees: how much, how large, how surely, how sharply.

use dryturn_cube::Facelet;

use super::Sighted;
use crate::findings::{Finding, FindingKind as Kind};

/// Below so many pixels a facelet's mean colour is noisy, and its rim is most of it.
const FEW_PX: usize = 150;
/// Facelets that are well seen, but not surely, are worth a word from so many on.
const UNSURE: usize = 4;
/// Blur beyond this share of a facelet's width mixes its colour with its neighbours'.
const MUCH_BLUR: f64 = 0.15;

impl Sighted<'_> {
    pub(super) fn adds_nothing(&self) -> Option<Finding> {
        let others = |f: &Facelet| {
            let mut all = 0..self.scene.file().cameras.len();
            all.any(|other| other != self.camera && self.visibility.is_evidence(other, *f))
        };
        let reads = self.evident().count();
        self.evident().all(|f| others(&f)).then(|| {
            Finding::doubtful(Kind::CameraAddsNothing, self.field("position_mm"))
                .figure("read_facelets", reads as f64)
                .figure("added_facelets", 0.0)
                .says(
                    format!("each of the {reads} facelets that it sees, another camera sees too"),
                    "move it to where it sees what is hidden, or leave it out",
                )
        })
    }

    pub(super) fn cut_off(&self) -> Option<Finding> {
        let beyond = self.corners().into_iter().map(|corner| self.outside_px(corner));
        let worst = beyond.fold(0.0, |most: f64, px| most.max(px.unwrap_or(f64::INFINITY)));
        let [width, _] = self.size();
        (worst > 0.0).then(|| {
            Finding::doubtful(Kind::CubeCutOff, self.field("horizontal_fov_deg"))
                .figure("beyond_px", worst.min(1e6))
                .says(
                    format!(
                        "the cube reaches {} beyond the picture's edge",
                        if worst > width {
                            format!("over {width} px")
                        } else {
                            format!("{worst:.0} px")
                        }
                    ),
                    "widen its view, aim it better, or move it away",
                )
        })
    }

    pub(super) fn small(&self) -> Option<Finding> {
        let largest = self.largest_px();
        (largest < FEW_PX).then(|| {
            let wanted = (4.0 * FEW_PX as f64 / largest.max(1) as f64).sqrt();
            Finding::doubtful(Kind::FaceletsSmall, self.field("horizontal_fov_deg"))
                .figure("largest_facelet_px", largest as f64)
                .says(
                    format!("its largest facelet has {largest} pixels"),
                    format!("bring it {wanted:.1} times as near, or narrow its view so much"),
                )
        })
    }

    pub(super) fn loose(&self) -> Option<Finding> {
        let seen =
            |f: &Facelet| self.visible_px(*f) >= 3 * self.visibility.needed_px(self.camera, *f);
        let hidden = self.visibility.hidden();
        let unsure: Vec<Facelet> = hidden.into_iter().filter(seen).collect();
        (unsure.len() >= UNSURE).then(|| {
            let tolerance = self.visibility.tolerance();
            let rim = self.visibility.rim_px(self.camera);
            let names: Vec<&str> = unsure.iter().map(|f| f.name()).collect();
            Finding::doubtful(Kind::MountTooLoose, "tolerances.mount_turn_sigma_deg")
                .figure("unsure_facelets", unsure.len() as f64)
                .figure("rim_px", rim as f64)
                .says(
                    format!(
                        "{:.1} mm and {:.1}° of mount error may shift the picture of camera {} by \
                         {rim} px, so that {} are not surely seen",
                        tolerance.shift_mm,
                        tolerance.turn_deg,
                        self.scene.file().cameras[self.camera].name,
                        names.join(" ")
                    ),
                    "mount the camera more exactly, or bring it nearer",
                )
        })
    }

    pub(super) fn blurred(&self) -> Option<Finding> {
        let camera = &self.scene.file().cameras[self.camera];
        if camera.focus_mm == 0.0 {
            return None;
        }
        let nearest_mm = self.corners().into_iter().map(|c| self.view().pose.to_camera(c).z);
        let nearest_mm = nearest_mm.fold(f64::INFINITY, f64::min).max(1.0);
        let blur_mm =
            dryturn_optics::sensor::Aperture::of(camera).blur_mm(camera.focus_mm, nearest_mm);
        let blur_px = blur_mm / (camera.pixel_pitch_um * 1e-3);
        let width_px = (self.largest_px() as f64).sqrt();
        (blur_px > MUCH_BLUR * width_px).then(|| {
            Finding::doubtful(Kind::OutOfFocus, self.field("focus_mm"))
                .figure("blur_px", blur_px)
                .figure("facelet_width_px", width_px)
                .says(
                    format!(
                        "the nearest corner, {nearest_mm:.0} mm away, is blurred by {blur_px:.0} px; \
                         a facelet is {width_px:.0} px wide"
                    ),
                    format!("focus on the cube, {nearest_mm:.0} mm or a little more"),
                )
        })
    }
}
