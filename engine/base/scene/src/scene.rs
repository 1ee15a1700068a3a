//! A scene that has passed every check.

use core::fmt;

use dryturn_geometry::{DVec2, DVec3, Distortion, Lens, Pose, Ray};
use dryturn_units::{maths, radians};
use serde_json::Value as Json;

use crate::block::Value as _;
use crate::error::{FieldError, SceneError};
use crate::file::{Camera, SceneFile, Spectrum};
use crate::rig::Rig;

/// A camera as drawn: where it stands and how it projects.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct View {
    /// Place and attitude.
    pub pose: Pose,
    /// Projection.
    pub lens: Lens,
}

impl View {
    /// The ray through a point of the picture, direction not normalised. `None`
    /// where the lens model has no inverse.
    #[must_use]
    pub fn ray(&self, pixel: DVec2) -> Option<Ray> {
        let n = self.lens.normalise(pixel)?;
        let direction = self.pose.direction_to_world(DVec3::new(n.x, n.y, 1.0));
        Some(Ray { origin: self.pose.position, direction })
    }

    /// Where a world point falls in the picture; `None` behind the camera.
    #[must_use]
    pub fn project(&self, world: DVec3) -> Option<DVec2> {
        self.lens.project(self.pose.to_camera(world))
    }
}

/// A valid scene: the file's values, the cameras as drawn and the rig's solids.
pub struct Scene {
    file: SceneFile,
    source_name: String,
    views: Vec<View>,
    rig: Rig,
}

impl fmt::Debug for Scene {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Scene").field("source_name", &self.source_name).finish_non_exhaustive()
    }
}

impl Scene {
    /// Reads a scene file. `source_name` is what messages call it.
    ///
    /// # Errors
    /// The first fault: syntax with line and column, or a value with its field
    /// and allowed range.
    pub fn parse(text: &str, source_name: &str) -> Result<Self, SceneError> {
        let file: SceneFile = ron::from_str(text).map_err(|error| SceneError::Syntax {
            source_name: source_name.to_owned(),
            line: error.span.start.line,
            column: error.span.start.col,
            message: error.code.to_string(),
        })?;
        Self::from_file(file, source_name)
    }

    /// Checks the values of a scene file.
    ///
    /// # Errors
    /// The first value out of range, with its field and allowed range.
    pub fn from_file(file: SceneFile, source_name: &str) -> Result<Self, SceneError> {
        check_values(&file)
            .and_then(|views| {
                let rig = Rig::of(&file);
                check_places(&file, &rig)?;
                Ok((views, rig))
            })
            .map_err(|error| error.in_source(source_name))
            .map(|(views, rig)| Self { file, source_name: source_name.to_owned(), views, rig })
    }

    /// The file's values.
    #[must_use]
    pub fn file(&self) -> &SceneFile {
        &self.file
    }

    /// What messages call the file.
    #[must_use]
    pub fn source_name(&self) -> &str {
        &self.source_name
    }

    /// The cameras as drawn, in file order.
    #[must_use]
    pub fn views(&self) -> &[View] {
        &self.views
    }

    /// The solids as drawn.
    #[must_use]
    pub fn rig(&self) -> &Rig {
        &self.rig
    }

    /// The scene as canonical RON: every field, defaults written out.
    #[must_use]
    pub fn to_ron(&self) -> String {
        ron::ser::to_string_pretty(&self.file, ron::ser::PrettyConfig::default())
            .unwrap_or_default()
    }

    /// The same scene with one value changed. `path` is dotted; a list is
    /// entered by number from 0, or by the name (or face) of its block:
    /// `lamps.window.flux_lm`, `shafts.U.fitted`, `drive.bus_voltage_v`.
    ///
    /// # Errors
    /// A path that leads nowhere, or a value that the scene does not allow.
    pub fn with(&self, path: &str, value: Json) -> Result<Self, SceneError> {
        let no_field = |reason: String| SceneError::NoSuchField {
            source_name: self.source_name.clone(),
            field: path.to_owned(),
            reason,
        };
        let mut whole =
            serde_json::to_value(&self.file).map_err(|error| no_field(error.to_string()))?;
        let place = find(&mut whole, path).map_err(no_field)?;
        let shown = value.to_string();
        // Whole numbers are fine where the field holds a fraction.
        *place = match (&*place, value.as_f64()) {
            (Json::Number(old), Some(new)) if old.is_f64() => Json::from(new),
            _ => value,
        };
        let file = serde_json::from_value(whole).map_err(|error| SceneError::Value {
            source_name: self.source_name.clone(),
            field: path.to_owned(),
            value: shown,
            allowed: format!("of the field's own kind ({error})"),
        })?;
        Self::from_file(file, &self.source_name)
    }
}

fn find<'a>(whole: &'a mut Json, path: &str) -> Result<&'a mut Json, String> {
    let mut place = whole;
    for word in path.split('.') {
        place = match place {
            Json::Object(fields) => {
                let known = fields.keys().cloned().collect::<Vec<_>>().join(", ");
                fields.get_mut(word).ok_or_else(|| format!("'{word}' is not one of {known}"))?
            }
            Json::Array(items) => {
                let named = |item: &Json| {
                    ["name", "face"].iter().any(|key| item.get(key).is_some_and(|v| v == word))
                };
                let index = items.iter().position(named).or_else(|| word.parse().ok());
                let count = items.len();
                index.and_then(|index| items.get_mut(index)).ok_or_else(|| {
                    format!("'{word}' is neither the name of a block nor a number below {count}")
                })?
            }
            _ => return Err(format!("'{word}' is asked of a single value")),
        };
    }
    Ok(place)
}

fn check_values(file: &SceneFile) -> Result<Vec<View>, FieldError> {
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
    if file.cube.facelet_edge_mm > pitch_mm - file.cube.gap_mm {
        let allowed = format!("at most {} (a piece without its gap)", pitch_mm - file.cube.gap_mm);
        return Err(FieldError::new("cube.facelet_edge_mm", file.cube.facelet_edge_mm, allowed));
    }
    for (i, lamp) in file.lamps.iter().enumerate() {
        check_spectrum(&format!("lamps[{i}].cct_k"), lamp.spectrum, lamp.cct_k)?;
        if lamp.position_mm == lamp.aim_mm {
            let field = format!("lamps[{i}].aim_mm");
            return Err(FieldError::new(field, "the lamp's position", "another point"));
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
    file.cameras.iter().enumerate().map(|(i, camera)| view_of(i, camera)).collect()
}

/// The axis must be able to move the cube at all.
fn check_drive(file: &SceneFile) -> Result<(), FieldError> {
    let drive = &file.drive;
    let torque = drive.torque_setting_n_m_per_v * drive.bus_voltage_v * drive.planned_torque_share;
    if torque <= drive.friction_torque_n_m * 1.05 {
        let allowed = format!(
            "below {:.4}: planned_torque_share × torque_setting_n_m_per_v × bus_voltage_v must \
             exceed it by 5 %",
            torque / 1.05
        );
        return Err(FieldError::new(
            "drive.friction_torque_n_m",
            drive.friction_torque_n_m,
            allowed,
        ));
    }
    let stall = drive.bus_voltage_v / drive.resistance_ohm * 60.0
        / (core::f64::consts::TAU * drive.speed_constant_rpm_per_v);
    if stall <= drive.friction_torque_n_m * 1.05 {
        let allowed = format!(
            "low enough for a stall torque above the friction torque; it gives {stall:.4} N·m"
        );
        return Err(FieldError::new("drive.resistance_ohm", drive.resistance_ohm, allowed));
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
            return Err(FieldError::new(field(), format!("{name:?}, given before"), "each name once"));
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
    Ok(View { pose, lens })
}

fn check_places(file: &SceneFile, rig: &Rig) -> Result<(), FieldError> {
    let cameras = file.cameras.iter().map(|c| c.position_mm).enumerate().map(|p| ("cameras", p));
    let lamps = file.lamps.iter().map(|l| l.position_mm).enumerate().map(|p| ("lamps", p));
    for (list, (i, position)) in cameras.chain(lamps) {
        if let Some(solid) = rig.solid_at(position.into()) {
            let field = format!("{list}[{i}].position_mm");
            let value = format!("{position:?}, inside {solid}");
            return Err(FieldError::new(field, value, "outside the cube, shafts and motors"));
        }
    }
    Ok(())
}
