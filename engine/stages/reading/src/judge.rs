//! Why a scan is not read: the weakest facelets, and what is the matter with them.

use dryturn_cube::Facelet;
use dryturn_handoff::{FaceletReading, Outcome, Source};

use crate::patches::Patches;

/// How many of the weakest facelets an unreadable outcome names.
const WEAKEST: usize = 6;
/// Below this brightest channel a facelet is called dark.
const DARK: u8 = 24;
/// Above this share of saturated pixels a facelet is called glaring.
const GLARE_SHARE: f64 = 0.3;

/// An outcome without a cube; `law` says why, as a clause.
pub(crate) fn unreadable(patches: &Patches, facelets: &[FaceletReading], law: String) -> Outcome {
    let mut seen: Vec<(f64, Facelet)> = Facelet::all()
        .filter_map(|facelet| match facelets[facelet.index()].source {
            Source::Seen { margin, .. } => Some((margin, facelet)),
            _ => None,
        })
        .collect();
    seen.sort_by(|a, b| a.0.total_cmp(&b.0).then(a.1.cmp(&b.1)));
    let weakest: Vec<Facelet> = seen.iter().take(WEAKEST).map(|&(_, facelet)| facelet).collect();
    let mut because = law;
    if let Some(doubt) = weakest.first().and_then(|&f| doubt(patches, f, &facelets[f.index()])) {
        because.push_str("; the weakest facelet is ");
        because.push_str(&doubt);
    }
    Outcome::Unreadable { because, weakest }
}

/// Why a facelet is weak, in words.
fn doubt(patches: &Patches, facelet: Facelet, reading: &FaceletReading) -> Option<String> {
    let Source::Seen { colour, margin, runner_up, saturated_share, .. } = reading.source else {
        return None;
    };
    let best = reading.colour?;
    let why = if saturated_share > GLARE_SHARE {
        "glaring, "
    } else if colour.0.iter().all(|&v| v < DARK) {
        "dark, "
    } else {
        ""
    };
    let [best, runner_up] = [best, runner_up].map(|face| patches.colour_name(face));
    Some(format!("{facelet}: {why}between {best} and {runner_up} (margin {margin:.2})"))
}
