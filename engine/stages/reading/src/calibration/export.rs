//! A calibration as constants for other programs: six classes, the same at all places.

use core::fmt::Write as _;

use dryturn_cube::{Face, Facelet, FaceletKind};
use dryturn_geometry::{DMat3, DVec3};
use dryturn_units::maths;

use super::Calibration;
use crate::classes::{Scatter, of_six, six_of};
use crate::pixels::Patches;
use crate::rendering::{LIGHT_FLOOR, log_light};

/// Smallest standard deviation of a class in any direction.
const LEAST_SIGMA: f64 = 0.02;

/// A class of all places together.
#[derive(Clone, Debug, PartialEq)]
pub struct PooledClass {
    /// What a person calls the colour.
    pub name: String,
    /// Its face.
    pub face: Face,
    /// Mean of ln(light + floor): red, green, blue.
    pub mean: [f64; 3],
    /// Inverse of the covariance: rr, rg, rb, gg, gb, bb.
    pub precision: [f64; 6],
    /// Logarithm of the covariance's determinant.
    pub log_determinant: f64,
}

/// How linear picture colours become light on the sensor, for one camera.
pub type CameraLight = (String, [[f64; 3]; 3]);

/// Classes for a program that knows no places.
#[derive(Clone, Debug, PartialEq)]
pub struct PooledClasses {
    /// Name of the scene of the calibration.
    pub made_under: String,
    /// Added to light before its logarithm is taken.
    pub floor: f64,
    /// In the order U R F D L B.
    pub classes: [PooledClass; 6],
    /// Matrices from linear sRGB to light on the sensor, by camera.
    pub cameras: Vec<CameraLight>,
}

impl Calibration {
    /// The classes over all places: means, and covariances that hold what places differ.
    #[must_use]
    pub fn pooled_classes(&self, patches: &Patches) -> PooledClasses {
        let own = self.scales.covariances();
        let logs = self.references.logs(patches);
        let best = |facelet: Facelet| logs[patches.camera_of(facelet)?][facelet.index()].as_ref();
        let places: Vec<&[DVec3; 6]> = Facelet::all().filter_map(best).collect();
        let count = places.len().max(1) as f64;
        let class = |face: Face| {
            let c = face.index();
            let mean = places.iter().map(|logs| logs[c]).sum::<DVec3>() / count;
            let mut spread = Scatter::none();
            places.iter().for_each(|logs| spread.add(logs[c] - mean));
            let floor = DMat3::from_diagonal(DVec3::splat(LEAST_SIGMA * LEAST_SIGMA));
            let covariance = own[c] + spread.covariance() + floor;
            PooledClass {
                name: patches.colour_name(face),
                face,
                mean: mean.to_array(),
                precision: six_of(&covariance.inverse()),
                log_determinant: maths::ln(covariance.determinant()),
            }
        };
        let camera = |k: usize| {
            let rows = patches.rendering(k).matrix().inverse().transpose();
            let rows = [rows.x_axis, rows.y_axis, rows.z_axis].map(|row| row.to_array());
            (patches.camera_name(k).to_owned(), rows)
        };
        PooledClasses {
            made_under: self.made_under.clone(),
            floor: LIGHT_FLOOR,
            classes: Face::ALL.map(class),
            cameras: (0..patches.camera_count()).map(camera).collect(),
        }
    }
}

impl PooledClasses {
    /// Log-likelihood of each colour, of a facelet with this light on the sensor.
    #[must_use]
    pub fn log_likelihoods(&self, light: [f64; 3]) -> [f64; 6] {
        let log = log_light(DVec3::from_array(light));
        self.classes.each_ref().map(|class| {
            let off = log - DVec3::from_array(class.mean);
            let square = off.dot(of_six(class.precision) * off);
            -0.5 * (square + class.log_determinant)
        })
    }

    /// A header for C99: constants only.
    #[must_use]
    pub fn c_header(&self) -> String {
        let list = |values: &[f64]| {
            let items: Vec<String> = values.iter().map(|v| format!("{:e}f", *v as f32)).collect();
            format!("{{{}}}", items.join(", "))
        };
        let rows = |rows: Vec<String>| format!("{{\n    {}\n}}", rows.join(",\n    "));
        let names: Vec<&str> = self.classes.iter().map(|class| class.name.as_str()).collect();
        let mut out = format!(
            "/* Colour classes of a cube, calibrated in '{}'. In the order of its faces U R F D L B:\n \
             * {}.\n *\n \
             * light[k] = max(0, sum over j of DRYTURN_LIGHT[camera][k][j] * linear sRGB[j]), 0 to 1;\n \
             * x[k] = logf(light[k] + DRYTURN_FLOOR) - DRYTURN_MEAN[c][k];\n \
             * log-likelihood of class c = -0.5 * (rr x0 x0 + gg x1 x1 + bb x2 x2\n \
             *   + 2 (rg x0 x1 + rb x0 x2 + gb x1 x2) + DRYTURN_LOG_DETERMINANT[c]),\n \
             * with rr rg rb gg gb bb = DRYTURN_PRECISION[c]. */\n\
             #ifndef DRYTURN_COLOURS_H\n#define DRYTURN_COLOURS_H\n\n\
             #define DRYTURN_CAMERAS {}\n#define DRYTURN_FLOOR {:e}f\n\n",
            self.made_under.replace("*/", "* /"),
            names.join(", "),
            self.cameras.len(),
            self.floor as f32,
        );
        let mut table = |name: &str, shape: &str, body: String| {
            // Writing to a String cannot fail.
            let _ = write!(out, "static const float {name}{shape} = {body};\n\n");
        };
        let each = |f: &dyn Fn(&PooledClass) -> String| rows(self.classes.iter().map(f).collect());
        table("DRYTURN_MEAN", "[6][3]", each(&|class| list(&class.mean)));
        table("DRYTURN_PRECISION", "[6][6]", each(&|class| list(&class.precision)));
        let determinants = self.classes.each_ref().map(|class| class.log_determinant);
        table("DRYTURN_LOG_DETERMINANT", "[6]", list(&determinants));
        let cameras = self
            .cameras
            .iter()
            .map(|(_, m)| format!("{{{}}}", m.each_ref().map(|row| list(row)).join(", ")));
        table("DRYTURN_LIGHT", "[DRYTURN_CAMERAS][3][3]", rows(cameras.collect()));
        out.push_str("#endif\n");
        out
    }
}

impl Calibration {
    /// How many facelets of 48 showed every colour to some camera.
    #[must_use]
    pub fn complete_facelets(&self) -> usize {
        let complete = |facelet: &Facelet| self.references.complete(*facelet);
        let read = Facelet::all().filter(|facelet| facelet.kind() != FaceletKind::Centre);
        read.filter(complete).count()
    }
}
