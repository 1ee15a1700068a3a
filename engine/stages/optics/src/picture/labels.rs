//! What a picture truly shows.

use dryturn_cube::{Facelet, Stickering};
use dryturn_geometry::{DVec2, DVec3, rotation};
use dryturn_handoff::{FaceletLabel, Labels};
use dryturn_scene::{Posed, Scene, Sight, axis_of, sight};
use dryturn_units::stop::{self, carried};
use rayon::prelude::*;

use super::develop::Taken;
use super::exposure::{Painted, Shot};
use crate::as_built::AsBuilt;
use crate::camera::sensor::CHANNELS;
use crate::lit_view::LitView;

/// Memory of a pixel's labels while they are made: material, depth, glare, code, whether it is
/// clipped.
const LABELLED_BYTES: usize = 8;

impl LitView {
    /// Materials and depths at the pixels' centres, each row in the middle of its
    /// exposure.
    #[must_use]
    pub fn sight(&self, scene: &Scene) -> Sight {
        let camera = &scene.file().cameras[self.camera];
        let rig = scene.rig();
        let turned = (!self.posture.is_rest()).then(|| rig.turning(&self.posture.faces()));
        let middle = |row: usize| camera.row_start_s(row) + camera.exposure_ms * 1e-3 / 2.0;
        let angles_rad = |row: usize| self.posture.angles_rad(middle(row));
        let posed =
            Posed { assembly: turned.as_ref().unwrap_or(rig.at_rest()), angles_rad: &angles_rad };
        sight(&posed, rig.looks(), &self.view, [self.width, self.height])
    }

    /// Corners of a facelet's coloured square in the picture, as if nothing stood in
    /// front, less what lies behind the camera; `None` where it faces away.
    fn polygon_px(&self, scene: &Scene, facelet: Facelet) -> Option<Vec<DVec2>> {
        let camera = &scene.file().cameras[self.camera];
        let time_s = camera.row_start_s(self.height / 2) + camera.exposure_ms * 1e-3 / 2.0;
        let normal = DVec3::from_array(facelet.face().normal().map(f64::from));
        let place = facelet.piece_position();
        let turns = self.posture.faces().into_iter().zip(self.posture.angles_rad(time_s));
        let with_layer = turns.into_iter().find_map(|(face, angle)| {
            let side: i32 = (0..3).map(|k| place[k] * face.normal()[k]).sum();
            let mut axis = DVec3::ZERO;
            axis[axis_of(face).index()] = 1.0;
            (side > 0).then(|| rotation(axis * angle))
        });
        let turned = |v: DVec3| with_layer.map_or(v, |turn| turn * v);
        let corners = scene.rig().facelet_corners_mm(facelet).map(turned);
        if (self.view.pose.position - corners[0]).dot(turned(normal)) <= 0.0 {
            return None;
        }
        let seen = before_the_camera(&corners.map(|corner| self.view.pose.to_camera(corner)));
        let polygon = seen.into_iter().map(|corner| self.view.lens.project(corner));
        polygon.collect::<Option<Vec<DVec2>>>().filter(|polygon| polygon.len() > 2)
    }

    /// The same, none where it faces away, and the pixels that it would fill; nothing where it
    /// faces away and no pixels are `visible` either.
    pub(crate) fn outline_px(
        &self,
        scene: &Scene,
        facelet: Facelet,
        visible: usize,
    ) -> Option<(Vec<DVec2>, f64)> {
        let polygon = self.polygon_px(scene, facelet);
        if polygon.is_none() && visible == 0 {
            return None;
        }
        let polygon = polygon.unwrap_or_default();
        let whole_px = area(&polygon) * scene.rig().coloured_share();
        Some((polygon, whole_px))
    }

    /// The labels of a picture that was taken of this view.
    ///
    /// # Panics
    /// If the scene has another number of lamps than the traced one.
    #[must_use]
    pub fn labels(
        &self,
        scene: &Scene,
        built: &AsBuilt,
        shown: &Stickering,
        (taken, shot): (&Taken, Shot<'_>),
    ) -> Labels {
        drop(stop::room(LABELLED_BYTES * self.width * self.height));
        let Sight { materials, depth_mm } = self.sight(scene);
        let glare = self.glare(scene, built, shown, (taken, shot));
        let mut sums = vec![Sums::default(); Facelet::COUNT];
        for (i, material) in materials.iter().enumerate() {
            let Some(facelet) = material.facelet() else { continue };
            let sum = &mut sums[facelet.index()];
            sum.pixels += 1;
            sum.glaring += usize::from(glare[i]);
            sum.clipped += usize::from(taken.clipped[i]);
            for (c, linear) in taken.linear_at(i).into_iter().enumerate() {
                sum.linear[c] += f64::from(linear);
                sum.encoded[c] += f64::from(taken.frame.pixels[CHANNELS * i + c]);
            }
        }
        let colours = shown.colours();
        let facelets = Facelet::all()
            .filter_map(|facelet| {
                let sum = &sums[facelet.index()];
                let (polygon, whole_px) = self.outline_px(scene, facelet, sum.pixels)?;
                let pixels = sum.pixels.max(1) as f64;
                Some(FaceletLabel {
                    facelet,
                    colour: colours[facelet.index()],
                    polygon_px: polygon.iter().map(|p| p.to_array()).collect(),
                    visible_px: sum.pixels,
                    visible_share: share_of(sum.pixels, whole_px),
                    glare_share: sum.glaring as f64 / pixels,
                    clipped_share: sum.clipped as f64 / pixels,
                    mean_linear: sum.linear.map(|v| v / pixels),
                    mean_encoded: sum.encoded.map(|v| v / pixels),
                })
            })
            .collect();
        Labels {
            width: self.width,
            height: self.height,
            codes: materials.iter().map(|m| m.surface().code()).collect(),
            depth_mm,
            clipped: taken.clipped.clone(),
            facelets,
        }
    }

    /// Pixels in which the lamps' mirror light is much of all.
    fn glare(
        &self,
        scene: &Scene,
        built: &AsBuilt,
        shown: &Stickering,
        (taken, shot): (&Taken, Shot<'_>),
    ) -> Vec<bool> {
        let camera = &scene.file().cameras[self.camera];
        let painted = Painted::new(self, scene, built, shown, shot);
        let mut glare = vec![false; self.width * self.height];
        let look = |(row, out): (usize, &mut [bool])| {
            let levels = painted.levels(camera, row, taken.exposure_ms * 1e-3);
            painted.row(row, &levels, |column, light| {
                out[column] = light.glares();
            });
        };
        glare.par_chunks_mut(self.width).enumerate().for_each(carried(look));
        glare
    }
}

#[derive(Clone, Default)]
struct Sums {
    pixels: usize,
    glaring: usize,
    clipped: usize,
    linear: [f64; CHANNELS],
    encoded: [f64; CHANNELS],
}

/// Area of a polygon, px²; 0 for none.
fn area(corners: &[DVec2]) -> f64 {
    let next = corners.iter().cycle().skip(1);
    let twice: f64 = corners.iter().zip(next).map(|(a, b)| a.perp_dot(*b)).sum();
    twice.abs() / 2.0
}

/// Pixels over the whole of which they are a part, at most 1; 0 where there is no whole.
pub(crate) fn share_of(pixels: usize, whole_px: f64) -> f64 {
    if whole_px > 0.0 { (pixels as f64 / whole_px).min(1.0) } else { 0.0 }
}

/// What of a polygon, in camera coordinates in mm, lies before the camera.
fn before_the_camera(corners: &[DVec3]) -> Vec<DVec3> {
    const NEAREST_MM: f64 = 1.0;
    let mut kept = Vec::with_capacity(corners.len() + 1);
    for (k, &a) in corners.iter().enumerate() {
        let b = corners[(k + 1) % corners.len()];
        let (beyond_a, beyond_b) = (a.z - NEAREST_MM, b.z - NEAREST_MM);
        if beyond_a > 0.0 {
            kept.push(a);
        }
        if (beyond_a > 0.0) != (beyond_b > 0.0) {
            kept.push(a + (b - a) * (beyond_a / (beyond_a - beyond_b)));
        }
    }
    kept
}
