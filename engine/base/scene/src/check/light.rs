//! Lamps and the room, and what stands inside something else.

use dryturn_geometry::DVec3;

use crate::error::FieldError;
use crate::file::{Lamp, LampShape, SceneFile, Spectrum};
use crate::rig::Rig;

pub(super) fn check(file: &SceneFile) -> Result<(), FieldError> {
    for (i, lamp) in file.lamps.iter().enumerate() {
        check_spectrum(&format!("lamps[{i}].cct_k"), lamp.spectrum, lamp.cct_k)?;
        let reach = DVec3::from(lamp.aim_mm).distance(lamp.position_mm.into());
        if lamp.shape != LampShape::Point && reach < 1.0 {
            let field = format!("lamps[{i}].aim_mm");
            let value = format!("{:?}, {reach} mm from the lamp", lamp.aim_mm);
            return Err(FieldError::new(field, value, "a point at least 1 mm from the lamp"));
        }
    }
    let room = &file.surroundings;
    check_spectrum("surroundings.ambient_cct_k", room.ambient_spectrum, room.ambient_cct_k)
}

fn check_spectrum(field: &str, spectrum: Spectrum, cct_k: f64) -> Result<(), FieldError> {
    if spectrum == Spectrum::Daylight && cct_k < 4000.0 {
        let allowed = "4000 to 25000 for Daylight (CIE 15); Thermal goes lower";
        return Err(FieldError::new(field, cct_k, allowed));
    }
    Ok(())
}

/// What must not be inside something else.
pub(crate) fn check_places(file: &SceneFile, rig: &Rig) -> Result<(), FieldError> {
    if let Some((one, other)) = rig.crossing() {
        let value = format!("{one} and {other} on crossing shafts");
        let allowed = "so that couplers, rods and motors of different faces do not meet";
        return Err(FieldError::new("shafts", value, allowed));
    }
    let cameras = file.cameras.iter().map(|c| c.position_mm).enumerate().map(|p| ("cameras", p));
    let lamps = file.lamps.iter().map(|l| l.position_mm).enumerate().map(|p| ("lamps", p));
    for (list, (i, position)) in cameras.chain(lamps) {
        if let Some(solid) = rig.solid_at(position.into()) {
            let field = format!("{list}[{i}].position_mm");
            let value = format!("{position:?}, inside {solid}");
            let allowed = "outside the cube, shafts, motors and fixtures";
            return Err(FieldError::new(field, value, allowed));
        }
    }
    if let Some(i) = rig.in_the_cubes_way() {
        let field = format!("fixtures[{i}].position_mm");
        let value = format!("{:?}, in the way of a turning layer", file.fixtures[i].position_mm);
        return Err(FieldError::new(field, value, "clear of the space that the layers turn in"));
    }
    let panels = |(_, lamp): &(usize, &Lamp)| lamp.shape != LampShape::Point;
    for (i, lamp) in file.lamps.iter().enumerate().filter(panels) {
        // A panel whose plane cuts the cube must be far enough to one side.
        let (position, aim) = (DVec3::from(lamp.position_mm), DVec3::from(lamp.aim_mm));
        let normal = (aim - position).normalize();
        let cube_reach = file.cube.edge_mm / 2.0;
        let plane_cuts = position.dot(normal).abs() <= cube_reach * (normal.abs().element_sum());
        let panel_reach = match lamp.shape {
            LampShape::Rectangle => {
                (lamp.width_mm * lamp.width_mm + lamp.height_mm * lamp.height_mm).sqrt() / 2.0
            }
            LampShape::Disc => lamp.width_mm / 2.0,
            LampShape::Point => 0.0,
        };
        if plane_cuts && position.length() < panel_reach + cube_reach * 3.0f64.sqrt() {
            let field = format!("lamps[{i}].position_mm");
            let value = format!("{:?} with a panel that cuts the cube", lamp.position_mm);
            return Err(FieldError::new(field, value, "a panel clear of the cube"));
        }
    }
    Ok(())
}
