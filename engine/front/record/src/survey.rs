//! A survey of a layout, as `survey.json` and the ledger hold it.

use std::collections::BTreeMap;

use dryturn_cube::Facelet;
use dryturn_optics::survey::{FaceletSurvey, Hider, Losses};
use dryturn_scene::file::Method;
use dryturn_statistics::quantile;
use dryturn_studies::{Apart, Change, ExpectedErrors, Margins, PairMargin, Surveyed};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::finite;

/// What stands in front of a facelet.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct HiddenBy {
    /// Its name.
    pub by: String,
    /// Share of the whole facelet that it hides.
    pub share: f64,
}

/// One facelet in one camera.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FaceletRecord {
    /// Which.
    pub facelet: Facelet,
    /// Whether enough of it is seen to tell a colour, wherever the mount is within its tolerance.
    pub evidence: bool,
    /// Pixels that show it.
    pub visible_px: usize,
    /// Those of them that show it wherever the mount is within its tolerance.
    pub sure_px: usize,
    /// Visible share of the whole.
    pub visible_share: f64,
    /// Pixels that it would fill if nothing stood in front.
    pub whole_px: f64,
    /// What hides the rest, most first.
    pub hidden_by: Vec<HiddenBy>,
    /// Angle between the line of sight and its normal.
    pub viewing_deg: f64,
    /// Mean illuminance from all lights.
    pub lux: f64,
    /// The same by lamp in the scene's order, then from the room.
    pub lux_by_lamp_then_room: Vec<f64>,
    /// Share of its pixels under a lamp's reflection, for the colour that suffers most.
    pub glare_share: f64,
    /// The lamp that is mirrored most; null where none is.
    pub glare_lamp: Option<String>,
    /// Share of its pixels that white would saturate.
    pub clipped_white_share: f64,
    /// Mean of white's fullest channel, as a share of what saturates.
    pub white_share: f64,
    /// Diameter of the blur at its centre.
    pub blur_px: f64,
    /// Noise of one pixel over its signal, for the darkest colour; null where nothing arrives.
    pub noise_share: Option<f64>,
    /// The two colours that are hardest to tell apart there; null where nothing is visible.
    pub closest: Option<String>,
    /// How far apart they are, in standard deviations.
    pub closest_sigmas: Option<f64>,
}

impl FaceletRecord {
    /// Of a facelet of a survey.
    #[must_use]
    pub fn of(survey: &Surveyed, f: &FaceletSurvey) -> Self {
        let hidden = |(hider, share): &(Hider, f64)| HiddenBy {
            by: hider.name(&survey.scene),
            share: *share,
        };
        let lamp = |place: usize| survey.scene.file().lamps[place].name.clone();
        Self {
            facelet: f.facelet,
            evidence: f.evidence,
            visible_px: f.visible_px,
            sure_px: f.sure_px,
            visible_share: f.visible_share(),
            whole_px: f.whole_px,
            hidden_by: f.hidden_by.iter().map(hidden).collect(),
            viewing_deg: f.viewing_deg,
            lux: f.total_lux(),
            lux_by_lamp_then_room: f.illuminance_lux.clone(),
            glare_share: f.glare_share,
            glare_lamp: f.glare_lamp.map(lamp),
            clipped_white_share: f.clipped_share,
            white_share: f.white_share,
            blur_px: f.blur_px,
            noise_share: finite(f.noise_share),
            closest: survey.closest_names(f),
            closest_sigmas: f.closest.and_then(|closest| finite(closest.sigmas)),
        }
    }
}

/// What one camera sees.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CameraRecord {
    /// Its name.
    pub name: String,
    /// The facelets that face it.
    pub facelets: Vec<FaceletRecord>,
}

/// What mounts may be off by.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MountAllowance {
    /// So many standard deviations of the scene's tolerances.
    pub sigmas: f64,
    /// A camera's shift.
    pub shift_mm: f64,
    /// A camera's turn.
    pub turn_deg: f64,
    /// By camera, pixels round each facelet that are not counted on.
    pub rim_px: BTreeMap<String, usize>,
}

/// Shifts in the picture over rigs as mounted.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ShiftPx {
    /// Of the middle rig; null without rigs.
    pub median: Option<f64>,
    /// 95 % of the rigs have less.
    pub p95: Option<f64>,
}

/// What is lost over mount errors.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MountsRecord {
    /// Rigs that were built.
    pub draws: usize,
    /// By facelet, in how many of them no camera had evidence of it; facelets never lost are
    /// absent.
    pub lost: BTreeMap<Facelet, usize>,
    /// By camera, in the scene's order.
    pub shift_px: Vec<ShiftPx>,
}

impl MountsRecord {
    fn of(losses: &Losses) -> Self {
        let lost = Facelet::all().map(|f| (f, losses.lost[f.index()]));
        let shift = |camera: &Vec<f64>| {
            let mut sorted = camera.clone();
            sorted.sort_by(f64::total_cmp);
            ShiftPx { median: quantile(&sorted, 0.5), p95: quantile(&sorted, 0.95) }
        };
        Self {
            draws: losses.draws,
            lost: lost.filter(|(_, count)| *count > 0).collect(),
            shift_px: losses.shift_px.iter().map(shift).collect(),
        }
    }
}

/// How far apart two colours are.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ApartRecord {
    /// At the place where they are closest, in standard deviations; below 0 where one is more often
    /// taken for the other than not; null where it is infinite.
    pub worst_sigmas: Option<f64>,
    /// That place.
    pub worst: Facelet,
    /// At the middle one of the places.
    pub median_sigmas: Option<f64>,
    /// Share of the sightings of either that are taken for the other.
    pub mistaken_share: f64,
}

impl ApartRecord {
    fn of(apart: &Apart) -> Self {
        Self {
            worst_sigmas: finite(apart.worst_sigmas),
            worst: apart.worst,
            median_sigmas: finite(apart.median_sigmas),
            mistaken_share: apart.mistaken_share,
        }
    }
}

/// The margin of a pair of colours.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MarginRecord {
    /// What a person calls them.
    pub colours: [String; 2],
    /// For who knows how every colour looks at the place.
    pub known: ApartRecord,
    /// For who takes the nearest colour and does not.
    pub unknown: ApartRecord,
}

impl MarginRecord {
    /// Of a pair of a survey.
    #[must_use]
    pub fn of(survey: &Surveyed, margin: &PairMargin) -> Self {
        Self {
            colours: margin.pair.map(|face| survey.colour_name(face)),
            known: ApartRecord::of(&margin.known),
            unknown: ApartRecord::of(&margin.unknown),
        }
    }
}

/// What a way to tell colours apart is expected to do.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ExpectedRecord {
    /// Share of the sightings left out that it takes for another colour.
    pub wrong_share: f64,
    /// Less in 2.5 % of rigs that differ in their stickers.
    pub low_share: f64,
    /// More in 2.5 % of them.
    pub high_share: f64,
}

impl ExpectedRecord {
    fn of(expected: &ExpectedErrors) -> Self {
        let (low_share, high_share) = expected.range;
        Self { wrong_share: expected.wrong_share, low_share, high_share }
    }
}

/// How far apart colours are, and what a calibration will find.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MarginsRecord {
    /// Sightings that one calibration leaves out.
    pub left_out: usize,
    /// By way to tell colours apart, as `reader.method` names them.
    pub expected: BTreeMap<String, ExpectedRecord>,
    /// The pair that the nearest colour mistakes most often.
    pub most_mistaken: Option<[String; 2]>,
    /// All 15 pairs.
    pub pairs: Vec<MarginRecord>,
}

impl MarginsRecord {
    fn of(survey: &Surveyed, margins: &Margins) -> Self {
        let name = |method: Method| format!("{method:?}");
        let expected = margins.expected.iter();
        let most = margins.most_mistaken();
        Self {
            left_out: margins.sightings,
            expected: expected.map(|e| (name(e.method), ExpectedRecord::of(e))).collect(),
            most_mistaken: most.map(|m| m.pair.map(|face| survey.colour_name(face))),
            pairs: margins.pairs.iter().map(|pair| MarginRecord::of(survey, pair)).collect(),
        }
    }
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
