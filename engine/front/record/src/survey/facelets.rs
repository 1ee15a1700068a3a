//! What one camera sees of one facelet.

use dryturn_cube::Facelet;
use dryturn_optics::survey::{FaceletSurvey, Hider};
use dryturn_studies::Surveyed;
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
