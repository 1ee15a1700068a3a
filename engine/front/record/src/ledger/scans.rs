//! The lines of one cube: calibrated, scanned, read, scored, planned for.

use std::collections::BTreeMap;

use dryturn_cube::{CubeState, Face, Facelet, FaceletKind, net, notation};
use dryturn_handoff::{CameraFound, Frame, Outcome, Plan, Reading, RefusalKind, Scan, Source};
use dryturn_reading::Calibration;
use dryturn_rehearsal::{Mistake, Score};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::digest;

/// A calibration.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CalibrateLine {
    /// Number of the trial whose errors the rig was built with.
    pub trial: u64,
    /// Scans that it was learnt from.
    pub scans: usize,
    /// Name of the scene in whose light it was made.
    pub made_under: String,
    /// The lamps then: name, flux and spectrum of each.
    pub lamps: String,
    /// Sightings that were left out in turn.
    pub left_out: usize,
    /// How many of them were taken for another colour: by summed RGB difference, by
    /// chromaticity, in CIELAB, by Gaussian classes.
    pub wrong_when_left_out: [usize; 4],
    /// Share of the common covariance in each colour's, 0 to 1.
    pub shrinkage_share: f64,
}

impl CalibrateLine {
    /// Of a calibration from so many scans.
    #[must_use]
    pub fn of(calibration: &Calibration, trial: u64, scans: usize) -> Self {
        let checked = calibration.cross_validation();
        Self {
            trial,
            scans,
            made_under: calibration.made_under().to_owned(),
            lamps: calibration.lamps(),
            left_out: checked.sightings,
            wrong_when_left_out: checked.wrong,
            shrinkage_share: calibration.shrinkage_share(),
        }
    }
}

/// A picture, by its digest.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FrameRecord {
    /// Name of the camera.
    pub camera: String,
    /// Width of the picture.
    pub width_px: usize,
    /// Height of the picture.
    pub height_px: usize,
    /// SHA-256 of its pixels, row by row, red green blue.
    pub pixels_sha256: String,
}

/// A scan.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ScanLine {
    /// Number of the trial whose errors the rig was built with.
    pub trial: u64,
    /// Its pictures.
    pub frames: Vec<FrameRecord>,
}

impl ScanLine {
    /// Of a scan.
    #[must_use]
    pub fn of(scan: &Scan, trial: u64) -> Self {
        let frame = |frame: &Frame| FrameRecord {
            camera: frame.camera.clone(),
            width_px: frame.width,
            height_px: frame.height,
            pixels_sha256: digest(&frame.pixels),
        };
        Self { trial, frames: scan.frames.iter().map(frame).collect() }
    }
}

/// A reading, by itself.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ReadLine {
    /// Whether the pictures make a cube.
    pub readable: bool,
    /// Why they do not, in words; null where they do.
    pub because: Option<String>,
    /// The same by a name that does not change.
    pub refusal: Option<RefusalKind>,
    /// Six named faces of three rows; `?` where nothing is known.
    pub faces: String,
    /// Hidden facelets that follow from the rest of their piece.
    pub inferred: Vec<Facelet>,
    /// Hidden facelets that do not.
    pub unknown: Vec<Facelet>,
    /// The least margin of any facelet seen, 0 (a toss-up) to 1 (certain); null where none is.
    pub smallest_margin: Option<f64>,
    /// The facelets with the least margins, where no cube was read.
    pub weakest: Vec<Facelet>,
    /// How probable the most probable cube is, 0 to 1; null from readers that look at each
    /// facelet by itself.
    pub probability: Option<f64>,
    /// Logarithm of how many times more probable it is than the next; likewise.
    pub log_odds: Option<f64>,
    /// Whether it rests on what cube colours usually look like, not on a calibration.
    pub without_calibration: bool,
    /// Elementary steps that making a cube of the samples took; the clock charges them.
    pub steps: u64,
    /// By face of the rig, the face whose colour its centre shows.
    pub centres: BTreeMap<Face, Face>,
    /// By camera, in the scene's order.
    pub cameras: Vec<CameraFound>,
    /// What the guest calls itself that read; absent where the built-in reader did.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub guest: Option<String>,
}

/// Six named faces of three rows; `?` where nothing is known.
fn faces_of(reading: &Reading) -> String {
    let letter = |facelet: Facelet| reading.colour(facelet).map_or('?', Face::letter);
    let face = |face: Face| {
        let row = |r| (0..3).map(|c| letter(Facelet::new(face, r, c))).collect::<String>();
        format!("{face}={}/{}/{}", row(0), row(1), row(2))
    };
    Face::ALL.map(face).join(" ")
}

impl ReadLine {
    /// Of a reading.
    #[must_use]
    pub fn of(reading: &Reading) -> Self {
        let with = |wanted: fn(&Source) -> bool| {
            let facelets = Facelet::all().filter(|f| f.kind() != FaceletKind::Centre);
            facelets.filter(|f| wanted(&reading.facelets[f.index()].source)).collect()
        };
        let margin = |source: &Source| match source {
            Source::Seen { margin, .. } => Some(*margin),
            _ => None,
        };
        let margins = reading.facelets.iter().filter_map(|f| margin(&f.source));
        let (because, weakest) = refused(reading);
        Self {
            readable: because.is_none(),
            because,
            refusal: reading.refusal(),
            faces: faces_of(reading),
            inferred: with(|source| matches!(source, Source::Inferred)),
            unknown: with(|source| matches!(source, Source::Unknown)),
            smallest_margin: margins.min_by(f64::total_cmp),
            weakest,
            probability: reading.probability,
            log_odds: reading.runner_up.and_then(|next| crate::finite(next.log_odds)),
            without_calibration: reading.without_calibration,
            steps: reading.steps,
            centres: centres_of(reading),
            cameras: reading.cameras.clone(),
            guest: None,
        }
    }

    /// The same, read by a guest of this name, if any.
    #[must_use]
    pub fn read_by(self, guest: Option<&str>) -> Self {
        Self { guest: guest.map(str::to_owned), ..self }
    }
}

/// Why a reading has no cube, and the facelets with the least margins then.
pub(crate) fn refused(reading: &Reading) -> (Option<String>, Vec<Facelet>) {
    match &reading.outcome {
        Outcome::Read(_) => (None, Vec::new()),
        Outcome::Unreadable { because, weakest, .. } => (Some(because.clone()), weakest.clone()),
    }
}

/// By face of the rig, the face whose colour its centre shows.
#[must_use]
pub fn centres_of(reading: &Reading) -> BTreeMap<Face, Face> {
    Face::ALL.into_iter().zip(reading.centres).collect()
}

/// A reading against the truth.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ScoreLine {
    /// The true cube: six named faces of three rows.
    pub truth: String,
    /// Whether it was read.
    pub right: bool,
    /// Facelets, seen or inferred, that came out wrong.
    pub mistakes: Vec<Mistake>,
}

impl ScoreLine {
    /// Of a score.
    #[must_use]
    pub fn of(score: &Score, truth: &CubeState) -> Self {
        Self {
            truth: net::write_faces(&truth.colours()),
            right: score.right(),
            mistakes: score.mistakes.clone(),
        }
    }
}

/// A plan and the state it is for.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct PlanLine {
    /// How many turns, half turns counting once.
    pub turns: usize,
    /// One or two turns each, in WCA notation.
    pub beats: Vec<String>,
    /// Whether turning them solves the state, by turning them.
    pub solves: bool,
    /// What the guest calls itself that planned; absent where the built-in planner did.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub guest: Option<String>,
}

impl PlanLine {
    /// Of a plan for a state.
    #[must_use]
    pub fn of(plan: &Plan, state: &CubeState) -> Self {
        Self {
            turns: plan.turns().len(),
            beats: plan.beats.iter().map(|b| notation::format(&b.turns)).collect(),
            solves: state.turned_by(&plan.turns()) == CubeState::SOLVED,
            guest: None,
        }
    }

    /// The same, planned by a guest of this name, if any.
    #[must_use]
    pub fn planned_by(self, guest: Option<&str>) -> Self {
        Self { guest: guest.map(str::to_owned), ..self }
    }
}
