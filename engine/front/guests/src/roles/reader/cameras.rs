//! Cameras as the drawing has them: what a builder knows of his own.

use dryturn_cube::Facelet;
use dryturn_geometry::DVec3;
use dryturn_scene::{Scene, View};
use schemars::JsonSchema;
use serde::Serialize;

/// A camera as drawn, never as built.
#[derive(Debug, Serialize, JsonSchema)]
pub(crate) struct CameraDrawn {
    /// Its name.
    name: String,
    /// Width of its pictures, pixels.
    width_px: u32,
    /// Height of its pictures, pixels.
    height_px: u32,
    /// Centre of projection, mm from the middle of the cube: x right, y up, z front.
    position_mm: [f64; 3],
    /// Direction of the picture's rows, of length 1.
    right: [f64; 3],
    /// Direction of the picture's columns, of length 1.
    down: [f64; 3],
    /// Direction of the optical axis, of length 1.
    forward: [f64; 3],
    /// Focal length, pixels.
    focal_length_px: f64,
    /// Where the optical axis meets the picture, pixels right and down; the centre of the top left
    /// pixel is 0, 0.
    principal_point_px: [f64; 2],
    /// Brown–Conrady k1, k2, k3, p1, p2.
    distortion: [f64; 5],
    /// Facelets that face the camera, hidden ones included.
    facelets: Vec<FaceletDrawn>,
}

/// Where a camera sees a facelet.
#[derive(Debug, Serialize, JsonSchema)]
pub(crate) struct FaceletDrawn {
    /// Its name.
    facelet: Facelet,
    /// Corners of its coloured square in the picture, pixels right and down, from the top left of
    /// its net round by the top right, as if nothing stood in front.
    polygon_px: Vec<[f64; 2]>,
}

/// The cameras of a scene, in its order.
pub(super) fn as_drawn(scene: &Scene) -> Vec<CameraDrawn> {
    let one = |(camera, view): (&dryturn_scene::file::Camera, &View)| {
        let direction = |axis: DVec3| view.pose.direction_to_world(axis).to_array();
        let bent = view.lens.distortion;
        CameraDrawn {
            name: camera.name.clone(),
            width_px: camera.width_px,
            height_px: camera.height_px,
            position_mm: view.pose.position.to_array(),
            right: direction(DVec3::X),
            down: direction(DVec3::Y),
            forward: direction(DVec3::Z),
            // As drawn, pixels are square.
            focal_length_px: view.lens.focal_px.x,
            principal_point_px: view.lens.centre_px.to_array(),
            distortion: [bent.k1, bent.k2, bent.k3, bent.p1, bent.p2],
            facelets: Facelet::all().filter_map(|facelet| drawn(scene, view, facelet)).collect(),
        }
    };
    scene.file().cameras.iter().zip(scene.views()).map(one).collect()
}

/// `None` where it faces away, or reaches behind the camera.
fn drawn(scene: &Scene, view: &View, facelet: Facelet) -> Option<FaceletDrawn> {
    let corners = scene.rig().facelet_corners_mm(facelet);
    let normal = DVec3::from_array(facelet.face().normal().map(f64::from));
    if (view.pose.position - corners[0]).dot(normal) <= 0.0 {
        return None;
    }
    let polygon: Option<Vec<_>> =
        corners.into_iter().map(|corner| Some(view.project(corner)?.to_array())).collect();
    Some(FaceletDrawn { facelet, polygon_px: polygon? })
}
