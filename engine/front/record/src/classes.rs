//! Colour classes for other programs.

use dryturn_cube::Face;
use dryturn_reading::{CameraLight, PooledClass, PooledClasses};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// One class, in logarithms of light.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ClassRecord {
    /// What a person calls the colour.
    pub colour: String,
    /// Its face.
    pub face: Face,
    /// Mean of ln(light + floor): red, green, blue.
    pub mean: [f64; 3],
    /// Inverse of the covariance: rr, rg, rb, gg, gb, bb.
    pub precision: [f64; 6],
    /// Logarithm of the covariance's determinant.
    pub log_determinant: f64,
}

impl ClassRecord {
    fn of(class: &PooledClass) -> Self {
        Self {
            colour: class.name.clone(),
            face: class.face,
            mean: class.mean,
            precision: class.precision,
            log_determinant: class.log_determinant,
        }
    }
}

/// How picture colours become light on a camera's sensor.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct LightRecord {
    /// Name of the camera.
    pub camera: String,
    /// Matrix from linear sRGB to light on the sensor, row by row.
    pub light: [[f64; 3]; 3],
}

impl LightRecord {
    fn of((camera, light): &CameraLight) -> Self {
        Self { camera: camera.clone(), light: *light }
    }
}

/// Classes for a program that knows no places.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ClassesDocument {
    /// Name of the scene of the calibration.
    pub made_under: String,
    /// Added to light before its logarithm is taken.
    pub floor: f64,
    /// In the order U R F D L B.
    pub classes: Vec<ClassRecord>,
    /// By camera.
    pub cameras: Vec<LightRecord>,
}

impl ClassesDocument {
    /// Of a calibration's pooled classes.
    #[must_use]
    pub fn of(own: &PooledClasses) -> Self {
        Self {
            made_under: own.made_under.clone(),
            floor: own.floor,
            classes: own.classes.iter().map(ClassRecord::of).collect(),
            cameras: own.cameras.iter().map(LightRecord::of).collect(),
        }
    }

    /// As a file holds it.
    #[must_use]
    pub fn text(&self) -> String {
        crate::json_text(self)
    }
}
