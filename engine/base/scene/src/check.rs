//! The checks that look at more than one value at a time.

use dryturn_geometry::{DVec2, DVec3, Distortion, Lens, Pose};
use dryturn_units::{maths, radians};

use crate::block::Value as _;
use crate::error::FieldError;
use crate::file::{Body, Camera, SceneFile, Spectrum};
use crate::rig::Rig;
use crate::scene::View;

/// Ranges, names, and what must fit together; the cameras as drawn.
pub(crate) fn check_values(file: &SceneFile) -> Result<Vec<View>, FieldError> {
    file.check("", &())?;
    check_names("cameras", file.cameras.iter().map(|camera| &camera.name))?;
    check_names("lamps", file.lamps.iter().map(|lamp| &lamp.name))?;
    for (i, shaft) in file.shafts.iter().enumerate() {
        if file.shafts[..i].iter().any(|other| other.face == shaft.face) {
            let allowed = "each of U R F D L B once";
            let value = format!("{:?}, given before", shaft.face);
            return Err(FieldError::new(format!("shafts[{i}].face"), value, allowed));
        }
    }
    let pigments = dryturn_cube::Face::ALL.map(|face| file.cube.colours.of(face));
    for (i, pigment) in pigments.iter().enumerate() {
        if pigments[..i].contains(pigment) {
            let value = format!("{pigment:?} on two faces");
            return Err(FieldError::new("cube.colours", value, "six different pigments"));
        }
    }
    let pitch_mm = file.cube.edge_mm / 3.0;
    if file.cube.gap_mm >= pitch_mm / 2.0 {
        let allowed = format!("below {} (half a piece)", pitch_mm / 2.0);
        return Err(FieldError::new("cube.gap_mm", file.cube.gap_mm, allowed));
    }
    let stickered = file.cube.body == Body::Black;
    if stickered && file.cube.facelet_edge_mm > pitch_mm - file.cube.gap_mm {
        let allowed = format!("at most {} (a piece without its gap)", pitch_mm - file.cube.gap_mm);
        return Err(FieldError::new("cube.facelet_edge_mm", file.cube.facelet_edge_mm, allowed));
    }
    let largest_radius_mm = (pitch_mm - file.cube.clearance_mm) / 2.0;
    if file.cube.edge_radius_mm > largest_radius_mm {
        let allowed = format!("at most {largest_radius_mm:.3} (half a piece)");
        return Err(FieldError::new("cube.edge_radius_mm", file.cube.edge_radius_mm, allowed));
    }
    for (i, lamp) in file.lamps.iter().enumerate() {
        check_spectrum(&format!("lamps[{i}].cct_k"), lamp.spectrum, lamp.cct_k)?;
        let reach = DVec3::from(lamp.aim_mm).distance(lamp.position_mm.into());
        if reach < 1.0 {
            let field = format!("lamps[{i}].aim_mm");
            let value = format!("{:?}, {reach} mm from the lamp", lamp.aim_mm);
            return Err(FieldError::new(field, value, "a point at least 1 mm from the lamp"));
        }
    }
    let room = &file.surroundings;
    check_spectrum("surroundings.ambient_cct_k", room.ambient_spectrum, room.ambient_cct_k)?;
    for (i, shaft) in file.shafts.iter().enumerate() {
        if shaft.coupler_length_mm > shaft.length_mm {
            let field = format!("shafts[{i}].coupler_length_mm");
            let allowed = format!("at most the shaft's length_mm, {}", shaft.length_mm);
            return Err(FieldError::new(field, shaft.coupler_length_mm, allowed));
        }
    }
    check_drive(file)?;
    check_size(file)?;
    file.cameras.iter().enumerate().map(|(i, camera)| view_of(i, camera)).collect()
}

/// The axis must be able to move the cube, in a time that makes sense.
fn check_drive(file: &SceneFile) -> Result<(), FieldError> {
    const LONGEST_HALF_TURN_S: f64 = 5.0;
    let drive = &file.drive;
    let constant = 60.0 / (core::f64::consts::TAU * drive.speed_constant_rpm_per_v);
    let setting = drive.torque_setting_n_m_per_v * drive.bus_voltage_v;
    let stall = constant * drive.bus_voltage_v / drive.resistance_ohm;
    let torque = setting.min(stall) * drive.planned_torque_share;
    let surplus = torque - drive.friction_torque_n_m;
    if surplus <= 0.05 * drive.friction_torque_n_m {
        let allowed = format!(
            "below {:.4}: the planned torque ({torque:.4} N·m of {setting:.4} N·m set and \
             {stall:.4} N·m at stall) must exceed it by 5 %",
            torque / 1.05
        );
        let field = "drive.friction_torque_n_m";
        return Err(FieldError::new(field, drive.friction_torque_n_m, allowed));
    }
    // An upper bound: speed up and slow down with the surplus, cruise at the
    // highest speed that friction, voltage and limit leave.
    let inertia =
        drive.rotor_inertia_kg_m2 + drive.coupler_inertia_kg_m2 + drive.layer_inertia_kg_m2;
    let resisted = constant * constant / drive.resistance_ohm + drive.viscous_friction_n_m_s;
    let top_speed = ((stall - drive.friction_torque_n_m) / resisted)
        .min(surplus / drive.viscous_friction_n_m_s.max(1e-12))
        .min(drive.speed_limit_rad_s);
    let angle = core::f64::consts::PI;
    let half_turn_s = 2.0 * (angle * inertia / surplus).sqrt() + angle / top_speed;
    if half_turn_s > LONGEST_HALF_TURN_S {
        let value = format!("so weak that a half turn may take {half_turn_s:.1} s");
        let allowed = format!("at most {LONGEST_HALF_TURN_S} s a half turn");
        return Err(FieldError::new("drive", value, allowed));
    }
    Ok(())
}

fn check_names<'a>(
    list: &str,
    names: impl Iterator<Item = &'a String> + Clone,
) -> Result<(), FieldError> {
    for (i, name) in names.clone().enumerate() {
        let field = || format!("{list}[{i}].name");
        if !name.chars().all(|c| c.is_ascii_alphanumeric() || c == '-' || c == '_') {
            let allowed = "letters, digits, '-' and '_' (it becomes part of file names)";
            return Err(FieldError::new(field(), format!("{name:?}"), allowed));
        }
        if names.clone().take(i).any(|other| other.eq_ignore_ascii_case(name)) {
            return Err(FieldError::new(
                field(),
                format!("{name:?}, given before"),
                "each name once",
            ));
        }
    }
    Ok(())
}

fn check_spectrum(field: &str, spectrum: Spectrum, cct_k: f64) -> Result<(), FieldError> {
    if spectrum == Spectrum::Daylight && cct_k < 4000.0 {
        let allowed = "4000 to 25000 for Daylight (CIE 15); Thermal goes lower";
        return Err(FieldError::new(field, cct_k, allowed));
    }
    Ok(())
}

fn view_of(index: usize, camera: &Camera) -> Result<View, FieldError> {
    let (position, aim) = (DVec3::from(camera.position_mm), DVec3::from(camera.aim_mm));
    if DVec3::from(camera.up_ratio).length() < 1e-6 {
        let field = format!("cameras[{index}].up_ratio");
        let value = format!("{:?}", camera.up_ratio);
        return Err(FieldError::new(field, value, "a direction, not zero"));
    }
    let pose = Pose::look_at(position, aim, camera.up_ratio.into()).ok_or_else(|| {
        let allowed = "a point apart from position_mm, not straight along up_ratio from it";
        FieldError::new(format!("cameras[{index}].aim_mm"), format!("{:?}", camera.aim_mm), allowed)
    })?;
    let (width, height) = (f64::from(camera.width_px), f64::from(camera.height_px));
    let focal_px = width / (2.0 * maths::tan(radians(camera.horizontal_fov_deg) / 2.0));
    let lens = Lens {
        focal_px: DVec2::splat(focal_px),
        centre_px: DVec2::new((width - 1.0) / 2.0, (height - 1.0) / 2.0),
        distortion: Distortion {
            k1: camera.radial_k1_ratio,
            k2: camera.radial_k2_ratio,
            k3: camera.radial_k3_ratio,
            p1: camera.tangential_p1_ratio,
            p2: camera.tangential_p2_ratio,
        },
    };
    // Where the lens is undone in the corners and at the rims it is everywhere.
    for (column, row) in [(0.0, 0.0), (0.5, 0.0), (1.0, 0.0), (0.0, 0.5), (1.0, 1.0)] {
        let pixel = DVec2::new(column * (width - 1.0), row * (height - 1.0));
        if lens.normalise(pixel).is_none() {
            let value = format!("{}, with the other distortion", camera.radial_k1_ratio);
            let allowed = "so that the distortion does not fold within the picture";
            let field = format!("cameras[{index}].radial_k1_ratio");
            return Err(FieldError::new(field, value, allowed));
        }
    }
    Ok(View { pose, lens })
}

/// Pictures times lights must fit into memory.
fn check_size(file: &SceneFile) -> Result<(), FieldError> {
    const MOST: u64 = 64_000_000;
    let pixels: u64 =
        file.cameras.iter().map(|c| u64::from(c.width_px) * u64::from(c.height_px)).sum();
    let work = pixels * (file.lamps.len() as u64 + 1);
    if work > MOST {
        let value = format!("{pixels} pixels in all, under {} lamps", file.lamps.len());
        let allowed =
            format!("at most {MOST} for pixels of all cameras × (lamps + 1); it is {work}");
        return Err(FieldError::new("cameras", value, allowed));
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
            return Err(FieldError::new(field, value, "outside the cube, shafts and motors"));
        }
    }
    for (i, lamp) in file.lamps.iter().enumerate() {
        // A panel whose plane cuts the cube must be far enough to one side.
        let (position, aim) = (DVec3::from(lamp.position_mm), DVec3::from(lamp.aim_mm));
        let normal = (aim - position).normalize();
        let cube_reach = file.cube.edge_mm / 2.0;
        let plane_cuts = position.dot(normal).abs() <= cube_reach * (normal.abs().element_sum());
        let panel_reach =
            (lamp.width_mm * lamp.width_mm + lamp.height_mm * lamp.height_mm).sqrt() / 2.0;
        if plane_cuts && position.length() < panel_reach + cube_reach * 3.0f64.sqrt() {
            let field = format!("lamps[{i}].position_mm");
            let value = format!("{:?} with a panel that cuts the cube", lamp.position_mm);
            return Err(FieldError::new(field, value, "a panel clear of the cube"));
        }
    }
    Ok(())
}
