//! On what a reading rests, and how much doubt is allowed it for that.

use dryturn_scene::file::Reader;

use super::prior::Moved;

/// Share of the doubt that the scene allows which is allowed a reading by the calibration alone
/// where the light has changed, and one without a calibration that finds the same cube as one with
/// it. (Of 700 rendered scans in lights that change, 627 claimed 99 % by the calibration, and three of
/// them were wrong, at 99.1, 99.3 and 99.9 %, in light that filled a sensor of wide channels. The reading
/// without it found another cube each time; of 41 right ones that claimed less than 99.9 %, it found
/// the same for 32.)
const DOUBT_ALONE: f64 = 0.1;
/// The same of a reading without a calibration by itself. (Of 4,860 rendered scans in lights that
/// change 3,929 claimed 99.9 %, and 17 of them were wrong; 3,431 claimed 99.99 %, and four were, all
/// of a cube whose red and orange were pulled together. Two thirds were read when spreads without
/// a calibration were slightly other ones.)
const DOUBT_BLIND: f64 = 0.01;

/// On what a reading rests.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Belief {
    /// On a calibration alone.
    Alone,
    /// On a calibration, and on what cube colours usually look like, which finds the same cube.
    Confirmed,
    /// On what cube colours usually look like, beside a reading by a calibration.
    Beside,
    /// On what cube colours usually look like alone.
    Blind,
}

impl Belief {
    /// How improbable a cube may be and still be believed, in light that has moved so far.
    pub(super) fn most_doubt(self, reader: &Reader, moved: Moved) -> f64 {
        let doubt = 1.0 - reader.certainty_share;
        match self {
            Self::Confirmed => doubt,
            Self::Alone if moved == Moved::Not => doubt,
            Self::Alone | Self::Beside => doubt * DOUBT_ALONE,
            Self::Blind => doubt * DOUBT_BLIND,
        }
    }
}
