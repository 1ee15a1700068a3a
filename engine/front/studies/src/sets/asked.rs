//! What a set was asked for, as documents hold it: equal requests make equal sets.

use dryturn_scene::file::Camera;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::SetRequest;
use crate::scene_sha256;
use crate::varied::Varied;

/// The pictures of a camera.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PictureSize {
    /// Name of the camera.
    pub name: String,
    /// Width.
    pub width_px: u32,
    /// Height.
    pub height_px: u32,
    /// Rays for each pixel.
    pub samples_px: u32,
}

impl PictureSize {
    fn of(camera: &Camera) -> Self {
        let Camera { width_px, height_px, samples_px, .. } = *camera;
        Self { name: camera.name.clone(), width_px, height_px, samples_px }
    }
}

/// What a set was asked for.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SetAsked {
    /// Version of the program.
    pub dryturn: String,
    /// Seed of everything that is drawn.
    pub seed: u64,
    /// Name of the scene.
    pub scene: String,
    /// SHA-256 of the scene as used.
    pub scene_sha256: String,
    /// By camera.
    pub cameras: Vec<PictureSize>,
    /// Scans; each gives the pictures of every camera.
    pub scans: usize,
    /// Different scrambles; scan number n shows scramble n modulo this.
    pub scrambles: u64,
    /// What varies from scan to scan, beside mounts, facelets and noise.
    pub vary: Vec<Varied>,
    /// Share of the scans with one face part-turned.
    pub turned_share: f64,
    /// Share of the scrambles that are kept for validation.
    pub validation_share: f64,
}

impl SetRequest {
    /// The request as documents hold it.
    #[must_use]
    pub fn asked(&self, seed: u64) -> SetAsked {
        let file = self.scene.file();
        SetAsked {
            dryturn: env!("CARGO_PKG_VERSION").to_owned(),
            seed,
            scene: file.name.clone(),
            scene_sha256: scene_sha256(&self.scene),
            cameras: file.cameras.iter().map(PictureSize::of).collect(),
            scans: self.scans,
            scrambles: self.scrambles,
            vary: self.vary.iter().map(Varied::of).collect(),
            turned_share: self.turned_share,
            validation_share: self.validation_share,
        }
    }
}
