//! Documents about a real camera, measured.

use std::collections::BTreeMap;

use dryturn_metrology::lens::LensFit;
use dryturn_metrology::sensor::SensorFit;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A value with its standard error.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Uncertain {
    /// The value.
    pub value: f64,
    /// Its standard error.
    pub error: f64,
}

impl From<(f64, f64)> for Uncertain {
    fn from((value, error): (f64, f64)) -> Self {
        Self { value, error }
    }
}

/// A figure of a lens that was left out.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LeftOutFigure {
    /// Which.
    pub figure: String,
    /// Why.
    pub because: String,
}

/// How well one picture fits.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PictureRms {
    /// The picture's file.
    pub file: String,
    /// Root mean square distance of its corners.
    pub rms_px: f64,
}

/// A lens.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LensRecord {
    /// Corners of the board, in all pictures.
    pub corners: usize,
    /// Root mean square distance of all of them.
    pub rms_px: f64,
    /// By picture.
    pub pictures: Vec<PictureRms>,
    /// Angle of view across the picture's width.
    pub horizontal_fov_deg: Uncertain,
    /// Optical centre from the picture's middle, right and down.
    pub optical_centre_px: [f64; 2],
    /// What was fitted, by name with unit.
    pub found: BTreeMap<String, Uncertain>,
    /// What was left out.
    pub left_out: Vec<LeftOutFigure>,
    /// Largest angle between two boards.
    pub tilt_deg: f64,
    /// How far the corners reach from the middle, of the way to the picture's corner.
    pub reach_share: f64,
}

impl LensRecord {
    /// Of a fit to these pictures.
    #[must_use]
    pub fn of(fit: &LensFit, pictures: Vec<String>) -> Self {
        let rms = pictures.into_iter().zip(&fit.rms_by_picture_px);
        let found = fit.found.iter();
        let left_out = fit.left_out.iter();
        Self {
            corners: fit.corners,
            rms_px: fit.rms_px,
            pictures: rms.map(|(file, rms_px)| PictureRms { file, rms_px: *rms_px }).collect(),
            horizontal_fov_deg: fit.fov_deg.into(),
            optical_centre_px: fit.centre_off_px.to_array(),
            found: found.map(|f| (f.unknown.key().to_owned(), (f.value, f.error).into())).collect(),
            left_out: left_out
                .map(|(unknown, why)| LeftOutFigure {
                    figure: unknown.key().to_owned(),
                    because: why.clone(),
                })
                .collect(),
            tilt_deg: fit.tilt_deg,
            reach_share: fit.reach_share,
        }
    }
}

/// A clicked point.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MountPoint {
    /// Its name.
    pub point: String,
    /// How far it is off the fit.
    pub residual_px: f64,
}

/// Where a camera stands.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MountRecord {
    /// Root mean square distance of the clicked points.
    pub rms_px: f64,
    /// How far clicks were taken to be off, column and row.
    pub click_px: f64,
    /// Error of a click by what the fit leaves.
    pub left_px: f64,
    /// By point.
    pub points: Vec<MountPoint>,
    /// How far it stands from the drawing, x y z.
    pub shift_mm: [f64; 3],
    /// Standard errors of that.
    pub shift_error_mm: [f64; 3],
    /// The same along its own axes: right, down, ahead.
    pub shift_camera_mm: [f64; 3],
    /// Standard errors of that.
    pub shift_camera_error_mm: [f64; 3],
    /// How far it is turned about its own axes.
    pub turn_camera_deg: [f64; 3],
    /// Standard errors of that.
    pub turn_camera_error_deg: [f64; 3],
    /// Where it stands.
    pub position_mm: [f64; 3],
    /// Where it looks.
    pub aim_mm: [f64; 3],
    /// Which way is up in its picture.
    pub up_ratio: [f64; 3],
}

/// One colour plane of a sensor.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlaneRecord {
    /// Column and row of its first pixel; null without a mosaic.
    pub place: Option<[usize; 2]>,
    /// Codes per electron.
    pub codes_per_e: Uncertain,
    /// Levels that were used.
    pub levels: usize,
    /// Dark noise; null where the converter's steps hide it.
    pub dark_noise_e: Option<Uncertain>,
    /// Largest and mean deviation from a straight line; null with too few levels.
    pub linearity_share: Option<[f64; 2]>,
    /// By level: mean code above black, and variance.
    pub mean_and_variance: Vec<[f64; 2]>,
}

/// A sensor.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SensorRecord {
    /// Bits of the converter.
    pub bits: u32,
    /// Codes per electron (EMVA's K).
    pub codes_per_e: Uncertain,
    /// Electrons per code.
    pub e_per_code: Uncertain,
    /// Dark noise; null where the converter's steps hide it.
    pub read_noise_e: Option<Uncertain>,
    /// Mean code without light.
    pub black_code: f64,
    /// Electrons at which a pixel saturates, or that the converter can still count.
    pub full_well_e: f64,
    /// Whether a level shows saturation.
    pub saturation_seen: bool,
    /// The scene's gain that goes with it.
    pub gain_ratio: f64,
    /// Largest and mean deviation from a straight line, of the worst plane.
    pub linearity_share: Option<[f64; 2]>,
    /// The colour planes.
    pub planes: Vec<PlaneRecord>,
}

impl SensorRecord {
    /// Of a fit.
    #[must_use]
    pub fn of(fit: &SensorFit) -> Self {
        let planes = fit.planes.iter().map(|plane| PlaneRecord {
            place: plane.place,
            codes_per_e: plane.codes_per_e.into(),
            levels: plane.levels,
            dark_noise_e: plane.dark_noise_e.map(Uncertain::from),
            linearity_share: plane.linearity_share,
            mean_and_variance: plane.transfer.clone(),
        });
        Self {
            bits: fit.bits,
            codes_per_e: fit.codes_per_e.into(),
            e_per_code: fit.e_per_code.into(),
            read_noise_e: fit.dark_noise_e.map(Uncertain::from),
            black_code: fit.black_code,
            full_well_e: fit.full_well_e,
            saturation_seen: fit.saturation_seen,
            gain_ratio: fit.gain_ratio,
            linearity_share: fit.linearity_share,
            planes: planes.collect(),
        }
    }
}

/// What of the camera was measured.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "what", rename_all = "snake_case")]
pub enum MeasuredPart {
    /// `camera lens`.
    Lens(LensRecord),
    /// `camera mount`.
    Mount(MountRecord),
    /// `camera sensor`.
    Sensor(SensorRecord),
}

/// A real camera, measured.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CameraDocument {
    /// The scene's file.
    pub scene: String,
    /// The camera's name in it.
    pub camera: String,
    /// What a person should know.
    pub warnings: Vec<String>,
    /// Why it is not to be relied on; null where nothing speaks against it.
    pub objection: Option<String>,
    /// The camera's block for the scene file; null where there is an objection.
    pub block: Option<String>,
    /// What was measured.
    #[serde(flatten)]
    pub part: MeasuredPart,
}
