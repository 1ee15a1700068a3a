//! What a set shall hold.

use std::sync::Arc;

use dryturn_scene::{Place, Scene, SceneError, Variation};
use dryturn_units::stop::carried;
use rayon::prelude::*;
use thiserror::Error;

use dryturn_rehearsal::Rehearser;

/// What a set shall hold.
#[derive(Clone, Debug)]
pub struct SetRequest {
    /// The scene, with the pictures' size and samples already set.
    pub scene: Arc<Scene>,
    /// Scans; each gives the pictures of every camera.
    pub scans: usize,
    /// Different scrambles; scan number n shows scramble n modulo this.
    pub scrambles: u64,
    /// What varies from scan to scan, beside mounts, facelets and noise.
    pub vary: Vec<Variation>,
    /// Share of the scans with one face part-turned, by up to 45° either way.
    pub turned_share: f64,
    /// Share of the scrambles that are kept for validation.
    pub validation_share: f64,
}

/// Why a set cannot be made.
#[derive(Clone, Debug, PartialEq, Error)]
pub enum SetFault {
    /// Text that is no variation.
    #[error(
        "{given:?} is no variation: must be {}, as in lamps.upper.flux_lm=100..400 or \
         lamps.*.spectrum=LedB1,LedB3",
        Variation::FORM
    )]
    Variation {
        /// What was given.
        given: String,
    },
    /// A value that the scene does not allow.
    #[error("cannot vary {path}: {error}")]
    Scene {
        /// The field.
        path: String,
        /// What the scene says.
        error: SceneError,
    },
    /// The same field twice, under one name or two.
    #[error("{path} is varied twice: {other} is the same field")]
    Twice {
        /// The field.
        path: String,
        /// The path that led to it before.
        other: String,
    },
    /// Values, each allowed, that the scene does not allow together or in between.
    #[error("scan {scan} would draw what the scene does not allow: {error}")]
    Drawn {
        /// Number of the scan.
        scan: usize,
        /// What the scene says.
        error: SceneError,
    },
}

/// Reads a variation.
///
/// # Errors
/// Text of another form.
pub fn variation(text: &str) -> Result<Variation, SetFault> {
    let fault = || SetFault::Variation { given: text.chars().take(80).collect() };
    Variation::parse(text).ok_or_else(fault)
}

impl SetRequest {
    /// Whether the scene allows everything that will be drawn.
    ///
    /// # Errors
    /// The first field whose ends it does not, a field that is named twice, or the first
    /// scan whose values it does not allow.
    pub fn check(&self, rehearser: &Rehearser) -> Result<(), SetFault> {
        let mut before: Vec<(Place, &str)> = Vec::new();
        for Variation { path, values } in &self.vary {
            let fault = |error| SetFault::Scene { path: path.clone(), error };
            for value in values.ends() {
                self.scene.with(path, value).map_err(fault)?;
            }
            for place in self.scene.places(path).map_err(fault)? {
                if let Some((_, other)) = before.iter().find(|(other, _)| other.is(&place)) {
                    return Err(SetFault::Twice { path: place.path, other: (*other).to_owned() });
                }
                before.push((place, path.as_str()));
            }
        }
        if self.vary.is_empty() {
            return Ok(());
        }
        let fault = |scan: usize| Some((scan, self.scene_of(rehearser, scan).err()?));
        match (0..self.scans).into_par_iter().find_map_first(carried(fault)) {
            Some((scan, error)) => Err(SetFault::Drawn { scan, error }),
            None => Ok(()),
        }
    }
}
