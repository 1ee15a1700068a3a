//! A survey of a layout, as `survey.json` and the ledger hold it.

mod facelets;
mod margins;
mod mounts;

use dryturn_cube::Facelet;
use dryturn_studies::{Change, Surveyed};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

pub use self::facelets::{FaceletRecord, HiddenBy};
pub use self::margins::{ApartRecord, ExpectedRecord, MarginRecord, MarginsRecord};
pub use self::mounts::{MountAllowance, MountsRecord, ShiftPx};

/// What one camera sees.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CameraRecord {
    /// Its name.
    pub name: String,
    /// The facelets that face it.
    pub facelets: Vec<FaceletRecord>,
}

/// A survey of a layout.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SurveyRecord {
    /// Name of the scene.
    pub scene: String,
    /// Its lamps' names.
    pub lamps: Vec<String>,
    /// How many facelets are seen well enough.
    pub evidence: usize,
    /// Centres that are not seen; the mounting fixes them.
    pub known_by_mounting: Vec<Facelet>,
    /// Facelets that must be inferred.
    pub without_evidence: Vec<Facelet>,
    /// What mounts may be off by before a facelet that is called seen is not.
    pub mount_tolerance: MountAllowance,
    /// By camera, in the scene's order.
    pub cameras: Vec<CameraRecord>,
    /// What is lost over mount errors; null where that was not asked for.
    pub mounts: Option<MountsRecord>,
    /// What to look at first, one sentence each.
    pub findings: Vec<String>,
    /// How far apart colours are; null where too little is seen to calibrate.
    pub margins: Option<MarginsRecord>,
}

impl SurveyRecord {
    /// Of a survey.
    #[must_use]
    pub fn of(own: &Surveyed) -> Self {
        let survey = &own.survey;
        let visibility = &survey.visibility;
        let tolerance = visibility.tolerance();
        let cameras = || survey.cameras.iter().enumerate();
        Self {
            scene: own.scene.file().name.clone(),
            lamps: own.scene.file().lamps.iter().map(|lamp| lamp.name.clone()).collect(),
            evidence: visibility.evident().len(),
            known_by_mounting: visibility.hidden_centres().to_vec(),
            without_evidence: visibility.hidden().to_vec(),
            mount_tolerance: MountAllowance {
                sigmas: tolerance.sigmas_ratio,
                shift_mm: tolerance.shift_mm,
                turn_deg: tolerance.turn_deg,
                rim_px: cameras().map(|(i, c)| (c.name.clone(), visibility.rim_px(i))).collect(),
            },
            cameras: cameras()
                .map(|(_, camera)| CameraRecord {
                    name: camera.name.clone(),
                    facelets: camera.facelets.iter().map(|f| FaceletRecord::of(own, f)).collect(),
                })
                .collect(),
            mounts: own.losses.as_ref().map(MountsRecord::of),
            findings: own.findings(),
            margins: own.margins.as_ref().map(|margins| MarginsRecord::of(own, margins)),
        }
    }
}

/// How one facelet in one camera changed from one layout to another.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ChangeRecord {
    /// Name of the camera.
    pub camera: String,
    /// The facelet.
    pub facelet: Facelet,
    /// Before; null where it did not face the camera.
    pub before: Option<FaceletRecord>,
    /// After.
    pub after: Option<FaceletRecord>,
}

impl ChangeRecord {
    /// All changes from an earlier layout.
    #[must_use]
    pub fn all(survey: &Surveyed, before: &Surveyed) -> Vec<Self> {
        let one = |change: Change| Self {
            camera: change.camera,
            facelet: change.facelet,
            before: change.before.as_ref().map(|f| FaceletRecord::of(before, f)),
            after: change.after.as_ref().map(|f| FaceletRecord::of(survey, f)),
        };
        survey.changes_from(before).into_iter().map(one).collect()
    }
}
