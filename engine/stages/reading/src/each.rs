//! Each facelet by itself: it takes its likeliest colour, and what is hidden follows from the
//! rest of its piece. Colours that make no cube are unreadable.

use dryturn_cube::{Face, Facelet, FaceletKind};
use dryturn_handoff::{FaceletReading, Outcome, Reading, RefusalKind, Source};

use crate::complete::{Completion, complete};
use crate::judge::unreadable;
use crate::models::ColourModel;
use crate::pixels::{Patches, Sampled};

/// Reads one scan by what a model makes of each sample.
pub(crate) fn read_each(patches: &Patches, sampled: &Sampled, model: &dyn ColourModel) -> Reading {
    let mut facelets: Vec<FaceletReading> = Facelet::all()
        .map(|facelet| {
            if facelet.kind() == FaceletKind::Centre {
                return FaceletReading { colour: Some(facelet.face()), source: Source::Mounted };
            }
            let Some(sample) = &sampled.samples[facelet.index()] else {
                return FaceletReading { colour: None, source: Source::Unknown };
            };
            let log_likelihoods = model.log_likelihoods(facelet, sample);
            let (best, runner_up) = best_two(&log_likelihoods);
            let source = Source::Seen {
                camera: sample.camera,
                colour: sample.pixels.median,
                margin: model.margin(facelet, sample, [best, runner_up]),
                runner_up,
                saturated_share: sample.pixels.saturated_share,
                log_likelihoods,
            };
            FaceletReading { colour: Some(best), source }
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
        Completion::None(law) => unreadable(patches, &facelets, (RefusalKind::Illegal, law)),
        Completion::Several(open) => {
            let names: Vec<&str> = open.iter().map(|f| f.name()).collect();
            let because = format!("more than one cube fits: nothing decides {}", names.join(", "));
            unreadable(patches, &facelets, (RefusalKind::Several, because))
        }
        Completion::TooMany => {
            let hidden = facelets.iter().filter(|f| f.colour.is_none()).count();
            let because = format!("too much is hidden: nothing shows {hidden} of 48 facelets");
            unreadable(patches, &facelets, (RefusalKind::Hidden, because))
        }
    };
    Reading {
        facelets,
        outcome,
        most_probable: None,
        probability: None,
        runner_up: None,
        steps: 6 * sampled.samples.iter().flatten().count() as u64,
        without_calibration: false,
        centres: Face::ALL,
        cameras: sampled.cameras.clone(),
        plane: model.plane(sampled),
    }
}

/// The likeliest colour and the next, the first of equals first.
fn best_two(log_likelihoods: &[f64; 6]) -> (Face, Face) {
    let mut ranked = Face::ALL;
    ranked.sort_by(|a, b| log_likelihoods[b.index()].total_cmp(&log_likelihoods[a.index()]));
    (ranked[0], ranked[1])
}
