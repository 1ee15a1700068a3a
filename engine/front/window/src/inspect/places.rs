//! Where things are on the screen.

use bevy::prelude::*;
use dryturn_cube::{Face, Facelet};
use serde_json::{Value as Json, json};

use crate::view::stand;

/// Where the 3D view shows the middles of the corner facelets nearest to the eye.
pub(super) fn of_corners(
    camera: &Camera,
    transform: &GlobalTransform,
    [left, top, ..]: [f32; 4],
    edge_mm: f64,
) -> Json {
    let eye = transform.translation();
    let seen = Facelet::all().filter_map(|facelet| {
        let face: Face = facelet.face();
        let normal = Vec3::from_array(face.normal().map(|v| v as f32));
        let position = facelet.piece_position().map(f64::from);
        let along = normal * (edge_mm as f32 * 0.005);
        let pitch = edge_mm / 3.0;
        let on_piece = stand::units(position.map(|c| c * pitch));
        let at = on_piece * (Vec3::ONE - normal.abs()) + along;
        let corner = position.iter().all(|c| *c != 0.0);
        let towards = (eye - at).normalize().dot(normal);
        (corner && towards > 0.25).then_some((facelet, at))
    });
    let list: Vec<Json> = seen
        .filter_map(|(facelet, at)| {
            let p = camera.world_to_viewport(transform, at).ok()? + Vec2::new(left, top);
            let (facelet, face) = (facelet.name(), facelet.face().to_string());
            Some(json!({ "facelet": facelet, "face": face, "x": p.x, "y": p.y }))
        })
        .collect();
    json!(list)
}
