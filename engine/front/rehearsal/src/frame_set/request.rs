//! What a set shall hold.

use std::sync::Arc;

use dryturn_scene::{Scene, SceneError};
use rayon::prelude::*;
use serde_json::{Value as Json, json};
use thiserror::Error;

use crate::ledger::digest;
use crate::pass::Rehearser;

/// A field of the scene that is drawn anew for each scan, uniformly.
#[derive(Clone, Debug, PartialEq)]
pub struct Variation {
    /// Dotted path, as with `changed` in scripts.
    pub path: String,
    /// Least value.
    pub low: f64,
    /// Greatest value.
    pub high: f64,
}

/// What a set shall hold.
#[derive(Clone, Debug)]
pub struct SetRequest {
    /// The scene, with the pictures' size and samples already set.
    pub scene: Arc<Scene>,
    /// Scans; each gives one picture of every camera.
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
        "{given:?} is no variation: must be FIELD=LOW..HIGH, as in lamps.upper.flux_lm=100..400"
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
        /// The name that came before.
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

impl Variation {
    /// Reads `FIELD=LOW..HIGH`.
    ///
    /// # Errors
    /// Text of another form.
    pub fn parse(text: &str) -> Result<Self, SetFault> {
        let parsed = || {
            let (path, range) = text.split_once('=')?;
            let (low, high) = range.split_once("..")?;
            let number = |text: &str| text.trim().parse().ok().filter(|v: &f64| v.is_finite());
            let (low, high) = (number(low)?, number(high)?);
            let path = path.trim().to_owned();
            (!path.is_empty() && low <= high).then_some(Self { path, low, high })
        };
        parsed().ok_or_else(|| SetFault::Variation { given: text.chars().take(80).collect() })
    }
}

impl SetRequest {
    /// Whether the scene allows everything that will be drawn.
    ///
    /// # Errors
    /// The first field whose ends it does not, a field that is named twice, or the first
    /// scan whose values it does not allow.
    pub fn check(&self, rehearser: &Rehearser) -> Result<(), SetFault> {
        for (i, Variation { path, low, high }) in self.vary.iter().enumerate() {
            for value in [*low, *high] {
                let fault = |error| SetFault::Scene { path: path.clone(), error };
                self.scene.with(path, value.into()).map_err(fault)?;
            }
            let same = |other: &&Variation| self.same_field(path, &other.path, [*low, *high]);
            if let Some(other) = self.vary[..i].iter().find(same) {
                let (path, other) = (path.clone(), other.path.clone());
                return Err(SetFault::Twice { path, other });
            }
        }
        if self.vary.is_empty() {
            return Ok(());
        }
        let fault = |scan: usize| Some((scan, rehearser.set_scene(self, scan).err()?));
        match (0..self.scans).into_par_iter().find_map_first(fault) {
            Some((scan, error)) => Err(SetFault::Drawn { scan, error }),
            None => Ok(()),
        }
    }

    /// Whether two paths lead to one field: setting either to a new value then makes the
    /// same scene.
    fn same_field(&self, one: &str, other: &str, values: [f64; 2]) -> bool {
        one == other
            || values.into_iter().any(|value| {
                let set = |path| self.scene.with(path, value.into()).ok();
                let (Some(a), Some(b)) = (set(one), set(other)) else { return false };
                a.file() == b.file() && a.file() != self.scene.file()
            })
    }

    /// The request as JSON: equal requests make equal sets.
    #[must_use]
    pub fn json(&self, seed: u64) -> Json {
        let vary: Vec<Json> = self
            .vary
            .iter()
            .map(|v| json!({ "field": v.path, "low": v.low, "high": v.high }))
            .collect();
        let file = self.scene.file();
        json!({
            "dryturn": env!("CARGO_PKG_VERSION"), "seed": seed, "scene": file.name,
            "scene_sha256": digest(self.scene.identity().as_bytes()),
            "cameras": file.cameras.iter().map(|c| json!({
                "name": c.name, "width_px": c.width_px, "height_px": c.height_px,
                "samples_px": c.samples_px,
            })).collect::<Vec<Json>>(),
            "scans": self.scans, "scrambles": self.scrambles, "vary": vary,
            "turned_share": self.turned_share, "validation_share": self.validation_share,
        })
    }
}
