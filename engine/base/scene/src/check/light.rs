//! Lamps and the room, and what stands inside something else.

use dryturn_geometry::DVec3;

use crate::drawing::Rig;
use crate::fault::{Faults, FieldError};
use crate::file::{Lamp, LampShape, SceneFile, Spectrum};

pub(super) fn check(file: &SceneFile, found: &mut Faults) {
    for (i, lamp) in file.lamps.iter().enumerate() {
        let field = |name: &str| format!("lamps[{i}].{name}");
        let [spectrum, cct] = ["spectrum", "cct_k"].map(field);
        check_spectrum([&spectrum, &cct], (lamp.spectrum, lamp.cct_k), found);
        let [shape, position, aim] = ["shape", "position_mm", "aim_mm"].map(field);
        let reach = DVec3::from(lamp.aim_mm).distance(lamp.position_mm.into());
        let sound = found.sound(&[&shape, &position, &aim]);
        if sound && lamp.shape != LampShape::Point && reach < 1.0 {
            let value = format!("{:?}, {reach} mm from the lamp", lamp.aim_mm);
            found.push(FieldError::new(aim, value, "a point at least 1 mm from the lamp"));
        }
    }
    let room = &file.surroundings;
    let fields = ["surroundings.ambient_spectrum", "surroundings.ambient_cct_k"];
    check_spectrum(fields, (room.ambient_spectrum, room.ambient_cct_k), found);
}

fn check_spectrum(
    [kind, field]: [&str; 2],
    (spectrum, cct_k): (Spectrum, f64),
    found: &mut Faults,
) {
    if spectrum == Spectrum::Daylight && cct_k < 4000.0 && found.sound(&[kind, field]) {
        let allowed = "4000 to 25000 for Daylight (CIE 15); Thermal goes lower";
        found.push(FieldError::new(field, cct_k, allowed));
    }
}

/// What must not be inside something else.
pub(crate) fn check_places(file: &SceneFile, rig: &Rig, found: &mut Faults) {
    if let Some((one, other)) = rig.crossing() {
        let value = format!("{one} and {other} on crossing shafts");
        let allowed = "so that couplers, rods and motors of different faces do not meet";
        found.push(FieldError::new("shafts", value, allowed));
    }
    let cameras = file.cameras.iter().map(|c| c.position_mm).enumerate().map(|p| ("cameras", p));
    let lamps = file.lamps.iter().map(|l| l.position_mm).enumerate().map(|p| ("lamps", p));
    for (list, (i, position)) in cameras.chain(lamps) {
        let field = format!("{list}[{i}].position_mm");
        if let (Some(solid), true) = (rig.solid_at(position.into()), found.sound(&[&field])) {
            let value = format!("{position:?}, inside {solid}");
            let allowed = "outside the cube, shafts, motors and fixtures";
            found.push(FieldError::new(field, value, allowed));
        }
    }
    for i in rig.in_the_cubes_way() {
        let field = format!("fixtures[{i}].position_mm");
        let value = format!("{:?}, in the way of a turning layer", file.fixtures[i].position_mm);
        found.push(FieldError::new(field, value, "clear of the space that the layers turn in"));
    }
    for (i, lamp) in file.lamps.iter().enumerate() {
        let field = |name: &str| format!("lamps[{i}].{name}");
        let position = field("position_mm");
        let needed = ["shape", "aim_mm", "width_mm", "height_mm"].map(field);
        let needed = needed.iter().all(|field| found.sound(&[field]));
        if needed && found.sound(&[&position]) && cuts_the_cube(file, lamp) {
            let value = format!("{:?} with a panel that cuts the cube", lamp.position_mm);
            found.push(FieldError::new(position, value, "a panel clear of the cube"));
        }
    }
}

/// Whether a panel's plane cuts the cube and the panel is not far enough to one side.
fn cuts_the_cube(file: &SceneFile, lamp: &Lamp) -> bool {
    let (position, aim) = (DVec3::from(lamp.position_mm), DVec3::from(lamp.aim_mm));
    let normal = (aim - position).normalize();
    let cube_reach = file.cube.edge_mm / 2.0;
    let plane_cuts = position.dot(normal).abs() <= cube_reach * (normal.abs().element_sum());
    let panel_reach = match lamp.shape {
        LampShape::Rectangle => {
            (lamp.width_mm * lamp.width_mm + lamp.height_mm * lamp.height_mm).sqrt() / 2.0
        }
        LampShape::Disc => lamp.width_mm / 2.0,
        LampShape::Point => return false,
    };
    plane_cuts && position.length() < panel_reach + cube_reach * 3.0f64.sqrt()
}
