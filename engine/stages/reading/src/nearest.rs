//! The baseline: each facelet takes the nearest reference.

use dryturn_cube::{Face, Facelet, FaceletKind};
use dryturn_handoff::{FaceletReading, Frame, Outcome, Reading, Source};
use dryturn_units::colour::EncodedRgb8;

use crate::calibration::Calibration;
use crate::complete::{Completion, complete};
use crate::judge::unreadable;
use crate::patches::{Patches, Standing};

/// Reads one scan, whose frames fit the scene.
pub(crate) fn read_nearest(
    patches: &Patches,
    calibration: &Calibration,
    frames: &[Frame],
) -> Reading {
    let mut facelets: Vec<FaceletReading> = Facelet::all()
        .map(|facelet| {
            if facelet.kind() == FaceletKind::Centre {
                return FaceletReading { colour: Some(facelet.face()), source: Source::Mounted };
            }
            match patches.sample(frames, &Standing::Drawn, facelet) {
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
    Reading { facelets, outcome, probability: None }
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
