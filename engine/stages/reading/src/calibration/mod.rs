//! What each colour looks like at each facelet, and how far samples stray from that: learnt
//! from pictures of cubes that somebody knows.

mod cross_validation;
mod export;
mod left_out;
mod lessons;

use dryturn_cube::{Face, Facelet, FaceletKind, Stickering};
use dryturn_handoff::Frame;
use dryturn_scene::file::Lamp;
use dryturn_units::colour::EncodedRgb8;
use serde::{Deserialize, Serialize};
use thiserror::Error;

pub use self::cross_validation::Checked;
use self::cross_validation::cross_validated;
pub use self::export::{CameraLight, PooledClass, PooledClasses};
pub use self::left_out::{LEFT_OUT_WAYS, LeftOut};
pub use self::lessons::Lessons;
use crate::looks::{References, Scales, Sighting};
use crate::pixels::{FrameError, Patches};

/// Version of the stored form.
const VERSION: u32 = 4;
/// Parts into which samples that come one by one are divided.
const FOLDS: usize = 10;

/// Pictures of a cube that somebody knows, or of several such sets one after the other.
#[derive(Clone, Debug)]
pub struct KnownScan {
    /// What is mounted where.
    pub shown: Stickering,
    /// The frames of each camera, as
    /// [`dryturn_scene::file::SceneFile::picture_names`] has them.
    pub frames: Vec<Frame>,
}

/// A colour that somebody marked in a picture.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct KnownColour {
    /// The facelet that shows it; `None` where that is not known.
    pub facelet: Option<Facelet>,
    /// The colour, as its face.
    pub colour: Face,
    /// How it looks: the median of its pixels.
    pub seen: EncodedRgb8,
}

/// Why a calibration cannot be made or used.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum CalibrationError {
    /// The frames do not fit the scene.
    #[error(transparent)]
    Frame(#[from] FrameError),
    /// No facelet of some colour was seen.
    #[error(
        "no facelet with the colour of face {face} was seen: mount the solved cube so that every \
         colour shows, and place the cameras so that facelets are more than a few pixels wide \
         (what the mount tolerances leave of them counts)"
    )]
    ColourUnseen {
        /// The colour's face.
        face: Face,
    },
    /// A stored calibration of another version or shape.
    #[error("this calibration has {what}: it must have {wanted}")]
    Stored {
        /// What it has.
        what: String,
        /// What it must have.
        wanted: String,
    },
}

/// A lamp, as far as it says in which light a calibration was made.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
struct LampNote {
    name: String,
    flux_lm: f64,
    spectrum: String,
    cct_k: f64,
}

impl LampNote {
    fn of(lamp: &Lamp) -> Self {
        let (name, spectrum) = (lamp.name.clone(), format!("{:?}", lamp.spectrum));
        Self { name, flux_lm: lamp.flux_lm, spectrum, cct_k: lamp.cct_k }
    }
}

/// References for all six colours, with their spread. Stored as RON.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Calibration {
    version: u32,
    /// Name of the scene it was made under.
    made_under: String,
    /// The lamps of that scene.
    lamps: Vec<LampNote>,
    /// By facelet index: shares of each of them, and of the room, in its light, as drawn.
    shares: Vec<Vec<f64>>,
    /// By camera: how the grey patch looked.
    grey: Vec<Option<[u8; 3]>>,
    references: References,
    scales: Scales,
    checked: Checked,
}

/// The version of a stored calibration, which any version can be asked for.
#[derive(Clone, Copy, Debug, Deserialize)]
pub struct StoredVersion {
    version: u32,
}

impl StoredVersion {
    /// Whether this program reads it.
    ///
    /// # Errors
    /// Another version.
    pub fn check(self) -> Result<(), CalibrationError> {
        if self.version == VERSION {
            return Ok(());
        }
        let (what, wanted) = (format!("version {}", self.version), format!("version {VERSION}"));
        Err(CalibrationError::Stored { what, wanted })
    }
}

impl Calibration {
    /// Learns from scans of cubes that somebody knows; see [`Lessons`].
    ///
    /// # Errors
    /// Frames that do not fit the scene, or a colour that no scan shows.
    pub fn learn(
        patches: &Patches,
        scans: &[KnownScan],
        each_rig: bool,
    ) -> Result<Self, CalibrationError> {
        let mut lessons = Lessons::new(patches, each_rig);
        scans.iter().try_for_each(|scan| lessons.add(scan))?;
        lessons.learn()
    }

    /// Learns from colours that somebody marked in pictures.
    ///
    /// # Errors
    /// A colour that is not among them.
    pub fn learn_colours(
        patches: &Patches,
        marked: &[KnownColour],
    ) -> Result<Self, CalibrationError> {
        let sighting = |(number, known): (usize, &KnownColour)| Sighting {
            fold: number % FOLDS,
            facelet: known.facelet.filter(|f| f.kind() != FaceletKind::Centre),
            camera: None,
            colour: known.colour.index(),
            seen: known.seen,
        };
        let sightings = marked.iter().enumerate().map(sighting).collect();
        Self::of_sightings(patches, vec![None; patches.camera_count()], sightings, FOLDS)
    }

    fn of_sightings(
        patches: &Patches,
        grey: Vec<Option<[u8; 3]>>,
        mut sightings: Vec<Sighting>,
        scans: usize,
    ) -> Result<Self, CalibrationError> {
        let all: Vec<&Sighting> = sightings.iter().collect();
        let references = References::of(patches, &all)
            .map_err(|face| CalibrationError::ColourUnseen { face })?;
        let folds = if scans < 2 {
            // One scan: each facelet is left out in turn.
            (0..).zip(&mut sightings).for_each(|(fold, sighting)| sighting.fold = fold);
            sightings.len()
        } else {
            scans
        };
        let (scales, checked, _) = cross_validated(patches, &sightings, folds);
        let (name, lamps) = patches.light();
        Ok(Self {
            version: VERSION,
            made_under: name.to_owned(),
            lamps: lamps.iter().map(LampNote::of).collect(),
            shares: patches.shares().to_vec(),
            grey,
            references,
            scales,
            checked,
        })
    }

    /// Checks what came from a file.
    ///
    /// # Errors
    /// Another version, lists of the wrong length, spreads that are none.
    pub fn checked(self) -> Result<Self, CalibrationError> {
        let stored = |what: String, wanted: String| Err(CalibrationError::Stored { what, wanted });
        StoredVersion { version: self.version }.check()?;
        let (cameras, facelets) = self.references.size();
        if cameras != self.grey.len() {
            return stored(
                format!("{cameras} cameras"),
                format!("{}, as of grey", self.grey.len()),
            );
        }
        if let Some(facelets) = facelets.iter().find(|facelets| **facelets != Facelet::COUNT) {
            return stored(format!("{facelets} facelets"), format!("{} facelets", Facelet::COUNT));
        }
        let lights = self.lamps.len() + 1;
        let sound = |own: &Vec<f64>| {
            own.len() == lights && own.iter().all(|share| (0.0..=1.0).contains(share))
        };
        if self.shares.len() != Facelet::COUNT || !self.shares.iter().all(sound) {
            let wanted = format!("{} facelets with {lights} shares of 0 to 1 each", Facelet::COUNT);
            return stored("other shares of lamps".to_owned(), wanted);
        }
        if !self.scales.sound() {
            let what = "a spread that is none".to_owned();
            return stored(what, "scales above 0 and positive definite covariances".to_owned());
        }
        Ok(self)
    }

    /// Name of the scene it was made under.
    #[must_use]
    pub fn made_under(&self) -> &str {
        &self.made_under
    }

    /// The scene's lamps in one line: name, flux and spectrum.
    #[must_use]
    pub fn lamps(&self) -> String {
        let one = |lamp: &LampNote| format!("{} {} lm {}", lamp.name, lamp.flux_lm, lamp.spectrum);
        self.lamps.iter().map(one).collect::<Vec<_>>().join(", ")
    }

    /// What cross-validation found.
    #[must_use]
    pub fn cross_validation(&self) -> &Checked {
        &self.checked
    }

    /// Share of the pooled covariance in each class's, as cross-validation chose it.
    #[must_use]
    pub fn shrinkage_share(&self) -> f64 {
        self.scales.shrinkage_share
    }

    /// What the six colours, in the order U R F D L B, look like at a facelet: as seen there
    /// where all were, else as seen anywhere.
    #[must_use]
    pub fn references_at(&self, facelet: Facelet) -> [EncodedRgb8; 6] {
        self.references.encoded(facelet)
    }

    /// By facelet index: shares of each lamp and of the room in the light that it was made in.
    pub(crate) fn shares(&self) -> &[Vec<f64>] {
        &self.shares
    }

    pub(crate) fn references(&self) -> &References {
        &self.references
    }

    pub(crate) fn scales(&self) -> &Scales {
        &self.scales
    }

    /// How the grey patch looked to a camera.
    pub(crate) fn grey(&self, camera: usize) -> Option<EncodedRgb8> {
        self.grey.get(camera).copied().flatten().map(EncodedRgb8)
    }
}
