//! A rig as another renderer can build it: boxes, cylinders, stickers, lamps, a camera.
//! Reflectances are those that the camera's channels see in the light of the first lamp.

use dryturn_cube::{Facelet, Stickering};
use dryturn_geometry::{DVec3, Shape};
use dryturn_optics::Response;
use dryturn_optics::pigment::gloss_width;
use dryturn_optics::surface::COAT_INDEX;
use dryturn_scene::lamp::Panel;
use dryturn_scene::{Part, Scene};
use serde_json::{Value as Json, json};

/// Highlight width of everything but facelets, as the engine has it.
const PLAIN_WIDTH: f64 = 0.5;
/// Stickers float so far above their pieces, mm, where another renderer needs it.
const FLOAT_MM: f64 = 0.002;

/// The rig as another renderer can build it.
pub(crate) fn exported(scene: &Scene, shown: &Stickering) -> Json {
    let file = scene.file();
    let array = |v: DVec3| json!(v.to_array());
    let grey =
        |rho: f64| json!({ "rho": [rho, rho, rho], "alpha": PLAIN_WIDTH, "index": COAT_INDEX });
    let solids: Vec<Json> = scene
        .rig()
        .parts()
        .iter()
        .zip(scene.rig().shapes())
        .map(|(part, shape)| {
            let shaft = |face| file.shafts.iter().find(|s| s.face.face() == face).unwrap();
            let surface = grey(match part {
                Part::Piece(_) => file.cube.body_reflectance_share,
                Part::Shaft(face) => shaft(*face).reflectance_share,
                Part::Motor(face) => shaft(*face).motor_reflectance_share,
                Part::Fixture(i) => file.fixtures[*i].reflectance_share,
            });
            match *shape {
                Shape::Box { min, max } => json!({
                    "shape": "box", "min": array(min), "max": array(max), "surface": surface,
                }),
                Shape::Cylinder { axis, centre, radius, half_length } => {
                    let mut along = DVec3::ZERO;
                    along[axis.index()] = half_length;
                    json!({
                        "shape": "cylinder", "from": array(centre - along),
                        "to": array(centre + along), "radius": radius, "surface": surface,
                    })
                }
                _ => panic!("this rig has boxes and cylinders only"),
            }
        })
        .collect();
    let response = Response::of(scene, 0, 0);
    let colours = shown.colours();
    let alpha = gloss_width(&file.cube);
    let stickers: Vec<Json> = Facelet::all()
        .map(|facelet| {
            let normal = DVec3::from_array(facelet.face().normal().map(f64::from));
            let corners = scene.rig().facelet_corners_mm(facelet);
            let rho = response.pigments[colours[facelet.index()].index()];
            json!({
                "facelet": facelet.name(),
                "corners": corners.map(|corner| array(corner + normal * FLOAT_MM)),
                "surface": { "rho": rho, "alpha": alpha, "index": COAT_INDEX },
            })
        })
        .collect();
    let lamps: Vec<Json> = file
        .lamps
        .iter()
        .map(|lamp| {
            let panel = Panel::of(lamp);
            // Seen from the side that shines: so that the normal is cross(right, up).
            let corners = [(-1.0, 1.0), (1.0, 1.0), (1.0, -1.0), (-1.0, -1.0)]
                .map(|(across, up)| array(panel.point(across, up)));
            json!({ "corners": corners, "flux_lm": lamp.flux_lm })
        })
        .collect();
    let (camera, view) = (&file.cameras[0], &scene.views()[0]);
    json!({
        "solids": solids, "stickers": stickers, "lamps": lamps,
        "ambient_lux": file.surroundings.ambient_lux,
        "camera": {
            "position": camera.position_mm, "target": camera.aim_mm, "up": camera.up_ratio,
            "focal_px": view.lens.focal_px.x, "width": camera.width_px, "height": camera.height_px,
        },
    })
}
