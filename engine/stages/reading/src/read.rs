//! The reading itself: classify, infer, judge.

use dryturn_cube::{Face, Facelet, FaceletKind};
use dryturn_handoff::{FaceletReading, Frame, Outcome, Reading, Source};
use dryturn_units::colour::EncodedRgb8;

use crate::calibration::Calibration;
use crate::complete::{Completion, complete};
use crate::patches::{FrameError, Patches};

/// How many of the weakest facelets an unreadable outcome names.
const WEAKEST: usize = 6;
/// Below this brightest channel a facelet is called dark.
const DARK: u8 = 24;
/// Above this share of saturated pixels a facelet is called glaring.
const GLARE_SHARE: f64 = 0.3;

/// Reads one scan: a frame of each camera, in the scene's order.
///
/// # Errors
/// Frames that do not fit the scene. Colours that make no cube are no error but
/// an outcome.
pub fn read(
    patches: &Patches,
    calibration: &Calibration,
    frames: &[Frame],
) -> Result<Reading, FrameError> {
    patches.check(frames)?;
    let mut facelets: Vec<FaceletReading> = Facelet::all()
        .map(|facelet| {
            if facelet.kind() == FaceletKind::Centre {
                return FaceletReading { colour: Some(facelet.face()), source: Source::Mounted };
            }
            match patches.sample(frames, facelet) {
                None => FaceletReading { colour: None, source: Source::Unknown },
                Some(sample) => {
                    let (best, runner_up, margin) =
                        nearest(sample.median, &calibration.references(facelet));
                    let source = Source::Seen {
                        camera: sample.camera,
                        colour: sample.median,
                        margin,
                        runner_up,
                        saturated_share: sample.saturated_share,
                    };
                    FaceletReading { colour: Some(best), source }
                }
            }
        })
        .collect();
    let seen: [Option<Face>; Facelet::COUNT] = core::array::from_fn(|i| facelets[i].colour);
    let outcome = match complete(&seen) {
        Completion::Only(state) => {
            for (reading, colour) in facelets.iter_mut().zip(state.colours()) {
                if reading.colour.is_none() {
                    *reading = FaceletReading { colour: Some(colour), source: Source::Inferred };
                }
            }
            Outcome::Read(state)
        }
        Completion::None(law) => unreadable(patches, &facelets, law),
        Completion::Several(open) => {
            let names: Vec<&str> = open.iter().map(|f| f.name()).collect();
            let because = format!("more than one cube fits: nothing decides {}", names.join(", "));
            unreadable(patches, &facelets, because)
        }
        Completion::TooMany => {
            let hidden = facelets.iter().filter(|f| f.colour.is_none()).count();
            let because = format!("too much is hidden: nothing shows {hidden} of 48 facelets");
            unreadable(patches, &facelets, because)
        }
    };
    Ok(Reading { facelets, outcome })
}

/// The colour with the smallest summed absolute RGB difference, the runner-up
/// and the margin between them.
fn nearest(colour: EncodedRgb8, references: &[EncodedRgb8; 6]) -> (Face, Face, f64) {
    let mut ranked: Vec<(u32, Face)> = Face::ALL
        .into_iter()
        .map(|face| (colour.summed_difference(references[face.index()]), face))
        .collect();
    ranked.sort();
    let (first, second) = (ranked[0], ranked[1]);
    let sum = f64::from(first.0 + second.0);
    let margin = if sum > 0.0 { f64::from(second.0 - first.0) / sum } else { 0.0 };
    (first.1, second.1, margin)
}

fn unreadable(patches: &Patches, facelets: &[FaceletReading], law: String) -> Outcome {
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
