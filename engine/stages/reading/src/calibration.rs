//! What each colour looks like at each facelet, learnt from a solved cube.

use dryturn_cube::{Colouring, Face, Facelet, Stickering};
use dryturn_handoff::Frame;
use dryturn_units::colour::EncodedRgb8;
use serde::{Deserialize, Serialize};
use thiserror::Error;

use crate::patches::{FrameError, Patches, Standing};

/// Version of the stored form.
const VERSION: u32 = 1;

/// Pictures of a solved cube, mounted in a known way.
pub struct SolvedScan {
    /// What is mounted where.
    pub shown: Stickering,
    /// One frame of each camera.
    pub frames: Vec<Frame>,
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

/// References for all six colours. Stored as RON.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Calibration {
    version: u32,
    /// Name of the scene, that is of the light, it was made under.
    made_under: String,
    /// Median over all facelets, by colour in the order U R F D L B.
    pooled: [[u8; 3]; 6],
    /// By facelet index and colour: what that colour looked like there; an empty
    /// list where not every colour was seen at that place.
    by_facelet: Vec<Vec<[u8; 3]>>,
}

impl Calibration {
    /// Learns from scans of a solved cube. With the six mountings of
    /// [`dryturn_cube::MOUNTINGS`] every facelet gets its own references, so
    /// uneven light cancels; with fewer, all facelets share the pooled ones.
    ///
    /// # Errors
    /// Frames that do not fit the scene, or a colour that no scan shows.
    pub fn learn(
        patches: &Patches,
        scans: &[SolvedScan],
        made_under: &str,
    ) -> Result<Self, CalibrationError> {
        let mut seen: Vec<[Option<EncodedRgb8>; 6]> = vec![[None; 6]; Facelet::COUNT];
        let mut by_colour: [Vec<EncodedRgb8>; 6] = Default::default();
        scans.iter().try_for_each(|scan| patches.check(&scan.frames))?;
        // The rig does not move between its mountings.
        let standing = scans.first().map(|scan| patches.standing(&scan.frames));
        let standing = standing.unwrap_or(Standing::Drawn);
        for scan in scans {
            let colours: Colouring = scan.shown.colours();
            for facelet in Facelet::all() {
                if let Some(sample) = patches.sample(&scan.frames, &standing, facelet) {
                    let colour = colours[facelet.index()].index();
                    seen[facelet.index()][colour] = Some(sample.median);
                    by_colour[colour].push(sample.median);
                }
            }
        }
        let mut pooled = [[0; 3]; 6];
        for face in Face::ALL {
            let samples = &by_colour[face.index()];
            if samples.is_empty() {
                return Err(CalibrationError::ColourUnseen { face });
            }
            pooled[face.index()] = core::array::from_fn(|c| {
                let mut values: Vec<u8> = samples.iter().map(|s| s.0[c]).collect();
                values.sort_unstable();
                values[values.len() / 2]
            });
        }
        let by_facelet = seen
            .into_iter()
            .map(|colours| {
                let all: Option<Vec<[u8; 3]>> =
                    colours.into_iter().map(|colour| colour.map(|c| c.0)).collect();
                all.unwrap_or_default()
            })
            .collect();
        Ok(Self { version: VERSION, made_under: made_under.to_owned(), pooled, by_facelet })
    }

    /// Checks what came from a file.
    ///
    /// # Errors
    /// Another version, or lists of the wrong length.
    pub fn checked(self) -> Result<Self, CalibrationError> {
        let stored = |what: String, wanted: String| Err(CalibrationError::Stored { what, wanted });
        if self.version != VERSION {
            return stored(format!("version {}", self.version), format!("version {VERSION}"));
        }
        if self.by_facelet.len() != Facelet::COUNT {
            let what = format!("{} facelets", self.by_facelet.len());
            return stored(what, format!("{} facelets", Facelet::COUNT));
        }
        if let Some(odd) = self.by_facelet.iter().find(|list| !matches!(list.len(), 0 | 6)) {
            let what = format!("{} colours at a facelet", odd.len());
            return stored(what, "none or 6".to_owned());
        }
        Ok(self)
    }

    /// Name of the scene it was made under.
    #[must_use]
    pub fn made_under(&self) -> &str {
        &self.made_under
    }

    /// The six references at a facelet, by colour in the order U R F D L B.
    #[must_use]
    pub fn references(&self, facelet: Facelet) -> [EncodedRgb8; 6] {
        let own = &self.by_facelet[facelet.index()];
        core::array::from_fn(|k| EncodedRgb8(*own.get(k).unwrap_or(&self.pooled[k])))
    }
}
