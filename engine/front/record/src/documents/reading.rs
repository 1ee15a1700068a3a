//! Documents about reading pictures.

use std::collections::BTreeMap;

use dryturn_cube::{Face, Facelet, net};
use dryturn_handoff::{CameraFound, FaceletReading, Reading, RefusalKind, RunnerUp, Source};
use dryturn_scene::Scene;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::finite;
use crate::ledger::{centres_of, refused};

/// How the colour at a place came to be known.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum FaceletSource {
    /// A centre: known by how the cube is mounted.
    Mounted,
    /// Classified from pixels.
    Seen,
    /// Hidden: follows from the rest of its piece.
    Inferred,
    /// Hidden, and the rest leaves more than one possibility.
    Unknown,
    /// A guest says so.
    Told,
}

/// The reading of one place.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SeenFacelet {
    /// The place.
    pub facelet: Facelet,
    /// The colour, as its face; null where unknown.
    pub colour: Option<Face>,
    /// How it came to be known. All keys below are absent unless it was seen;
    /// a guest that tells it may give `log_likelihoods`.
    pub source: FaceletSource,
    /// Name of the camera.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub camera: Option<String>,
    /// Median colour of its usable pixels, 0 to 255.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub rgb: Option<[u8; 3]>,
    /// How clearly it is this colour and not the second, 0 (a toss-up) to 1 (certain).
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub margin: Option<f64>,
    /// The second-best colour, as its face.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub runner_up: Option<Face>,
    /// Share of its usable pixels with a channel at its end.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub saturated_share: Option<f64>,
    /// Log-likelihood of each colour, U R F D L B, from this facelet alone; null where none.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub log_likelihoods: Option<[Option<f64>; 6]>,
}

impl SeenFacelet {
    fn of(scene: &Scene, facelet: Facelet, entry: &FaceletReading) -> Self {
        let plain = |source| Self {
            facelet,
            colour: entry.colour,
            source,
            camera: None,
            rgb: None,
            margin: None,
            runner_up: None,
            saturated_share: None,
            log_likelihoods: None,
        };
        match &entry.source {
            Source::Mounted => plain(FaceletSource::Mounted),
            Source::Inferred => plain(FaceletSource::Inferred),
            Source::Unknown => plain(FaceletSource::Unknown),
            Source::Told { log_likelihoods } => Self {
                log_likelihoods: log_likelihoods.map(|logs| logs.map(finite)),
                ..plain(FaceletSource::Told)
            },
            Source::Seen {
                camera,
                colour,
                margin,
                runner_up,
                saturated_share,
                log_likelihoods,
            } => Self {
                camera: Some(scene.file().cameras[*camera].name.clone()),
                rgb: Some(colour.0),
                margin: Some(*margin),
                runner_up: Some(*runner_up),
                saturated_share: Some(*saturated_share),
                log_likelihoods: Some(log_likelihoods.map(finite)),
                ..plain(FaceletSource::Seen)
            },
        }
    }
}

/// The next most probable cube.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RunnerUpRecord {
    /// The cube: six named faces of three rows.
    pub faces: String,
    /// Logarithm of how many times more probable the most probable cube is.
    pub log_odds: Option<f64>,
}

impl RunnerUpRecord {
    fn of(next: RunnerUp) -> Self {
        let faces = net::write_faces(&next.state.colours());
        Self { faces, log_odds: finite(next.log_odds) }
    }
}

/// What was read.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ReadDocument {
    /// Name of the scene.
    pub scene: String,
    /// Name of the scene in whose light the calibration was made; null without one.
    pub calibrated_under: Option<String>,
    /// Whether it rests on what cube colours usually look like, not on a calibration.
    pub without_calibration: bool,
    /// Elementary steps that making a cube of the samples took.
    pub steps: u64,
    /// Whether the pictures make a cube.
    pub readable: bool,
    /// Why they do not, in words; null where they do.
    pub because: Option<String>,
    /// The same by a name that does not change.
    pub refusal: Option<RefusalKind>,
    /// The facelets with the least margins, where no cube was read.
    pub weakest: Vec<Facelet>,
    /// How probable the most probable cube is, 0 to 1; null from readers that look at each
    /// facelet by itself.
    pub probability: Option<f64>,
    /// The next most probable cube; likewise.
    pub runner_up: Option<RunnerUpRecord>,
    /// By face of the rig, the face whose colour its centre shows.
    pub centres: BTreeMap<Face, Face>,
    /// By camera, in the scene's order.
    pub cameras: Vec<CameraFound>,
    /// The cube: six named faces of three rows; null where none was read.
    pub faces: Option<String>,
    /// The net, line by line; `?` where nothing is known.
    pub net: Vec<String>,
    /// All 54 places.
    pub facelets: Vec<SeenFacelet>,
}

impl ReadDocument {
    /// Of a reading with the calibration of a scene of this name, if any.
    #[must_use]
    pub fn of(scene: &Scene, under: Option<&str>, reading: &Reading) -> Self {
        let (because, weakest) = refused(reading);
        let drawing = net::draw(|facelet| reading.colour(facelet).map_or('?', Face::letter));
        let facelet =
            |facelet: Facelet| SeenFacelet::of(scene, facelet, &reading.facelets[facelet.index()]);
        Self {
            scene: scene.file().name.clone(),
            calibrated_under: under.map(str::to_owned),
            without_calibration: reading.without_calibration,
            steps: reading.steps,
            readable: because.is_none(),
            because,
            refusal: reading.refusal(),
            weakest,
            probability: reading.probability,
            runner_up: reading.runner_up.map(RunnerUpRecord::of),
            centres: centres_of(reading),
            cameras: reading.cameras.clone(),
            faces: reading.state().map(|state| net::write_faces(&state.colours())),
            net: drawing.lines().map(str::to_owned).collect(),
            facelets: Facelet::all().map(facelet).collect(),
        }
    }
}

/// Sightings that were left out and taken for another colour, by way to tell colours apart.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct WrongByWay {
    /// By summed RGB difference.
    #[serde(rename = "Nearest")]
    pub nearest: usize,
    /// By chromaticity.
    #[serde(rename = "Chromaticity")]
    pub chromaticity: usize,
    /// In CIELAB.
    #[serde(rename = "Lab")]
    pub lab: usize,
    /// By Gaussian classes.
    #[serde(rename = "Gaussian")]
    pub gaussian: usize,
}

/// What was learnt.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CalibrateDocument {
    /// Name of the scene.
    pub made_under: String,
    /// The lamps then: name, flux and spectrum of each.
    pub lamps: String,
    /// Scans, or patches, that it was learnt from.
    pub scans_or_patches: usize,
    /// Facelets that have seen every colour, of 48.
    pub complete_facelets: usize,
    /// Sightings that were left out in turn.
    pub left_out: usize,
    /// In so many parts.
    pub parts: usize,
    /// How many of them were taken for another colour.
    pub wrong: WrongByWay,
    /// Mean log-likelihood of the sightings left out; null where none was.
    pub log_likelihood: Option<f64>,
    /// Share of the common covariance in each colour's, 0 to 1.
    pub shrinkage_share: f64,
    /// Sightings by true colour (row) and what Gaussian classes took them for, U R F D L B.
    pub confusion_true_by_read: [[usize; 6]; 6],
    /// The same for the nearest colour by summed RGB difference.
    pub confusion_nearest_true_by_read: [[usize; 6]; 6],
    /// What a person calls the colours, U R F D L B.
    pub colours: [String; 6],
}
