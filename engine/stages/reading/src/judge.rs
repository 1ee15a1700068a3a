//! Why a scan is not read: the weakest facelets, and what is the matter with them.

use dryturn_cube::Facelet;
use dryturn_handoff::{FaceletReading, Outcome, RefusalKind, Source};
use dryturn_scene::file::Pigment;

use crate::pixels::Patches;

/// How many of the weakest facelets an unreadable outcome names.
const WEAKEST: usize = 6;
/// More hidden facelets than one a corner are worth a word.
const MANY_HIDDEN: usize = 8;
/// Below this brightest channel a facelet is called dark.
const DARK: u8 = 24;
/// Above this share of saturated pixels a facelet is called glaring.
const GLARE_SHARE: f64 = 0.3;
/// From this margin on a facelet needs no help.
const CLEAR: f64 = 0.9;

/// An outcome without a cube; `law` says why, as a clause.
pub(crate) fn unreadable(
    patches: &Patches,
    facelets: &[FaceletReading],
    (refusal, law): (RefusalKind, String),
) -> Outcome {
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
    let hidden = patches.hidden().len();
    if hidden > MANY_HIDDEN {
        because.push_str(&format!("; {hidden} of 48 facelets are hidden from all cameras"));
    }
    Outcome::Unreadable { refusal, because, weakest }
}

/// Why a facelet is weak, and what would help, in words.
fn doubt(patches: &Patches, facelet: Facelet, reading: &FaceletReading) -> Option<String> {
    let Source::Seen { colour, margin, runner_up, saturated_share, .. } = reading.source else {
        return None;
    };
    let best = reading.colour?;
    let twins = [Pigment::Red, Pigment::Orange];
    let (why, help) = if saturated_share > GLARE_SHARE {
        ("glaring, ", "; move or diffuse the lamp that it mirrors, or expose less")
    } else if colour.0.iter().all(|&v| v < DARK) {
        ("dark, ", "; more light or a longer exposure would help")
    } else if margin > CLEAR {
        ("", "")
    } else if [best, runner_up].iter().all(|face| twins.contains(&patches.pigment(*face))) {
        ("", "; calibrate in this light, or light it with a lamp that has more green")
    } else {
        ("", "; calibrate in this light, or take more pictures")
    };
    let [best, runner_up] = [best, runner_up].map(|face| patches.colour_name(face));
    Some(format!("{facelet}: {why}between {best} and {runner_up} (margin {margin:.2}){help}"))
}
