//! Known pictures for a reader.

use std::sync::Arc;

use dryturn_cube::{CubeState, net};
use dryturn_handoff::{Frame, Outcome};
use dryturn_reading::KnownScan;
use dryturn_scene::Scene;

use super::Asking;
use crate::command::{GuestCommand, Limits};
use crate::roles::GuestReader;

/// Pictures of a scene that a reader is checked with.
#[derive(Clone, Debug, Default)]
pub struct Pictures {
    /// The scene that they show; without one a reader is only asked who it is.
    pub scene: Option<Arc<Scene>>,
    /// What it may learn from.
    pub calibration: Vec<KnownScan>,
    /// What it is to read, with the cubes that they show.
    pub scans: Vec<(CubeState, Vec<Frame>)>,
}

pub(super) fn check(
    command: &GuestCommand,
    limits: Limits,
    pictures: &Pictures,
    asking: &mut Asking,
) {
    let Some(scene) = &pictures.scene else {
        let why = "there are no pictures to show it";
        asking.wrong("hello", why, "a scene with pictures");
        return;
    };
    let Some(mut guest) = asking.ask("hello", || GuestReader::start(command, limits, scene)) else {
        return;
    };
    asking.met(guest.session().name());
    asking.ask("calibrate", || guest.calibrate(&pictures.calibration));
    let mut first = None;
    for (number, (cube, frames)) in pictures.scans.iter().enumerate() {
        let what = format!("read of known cube {}", number + 1);
        let Some(reading) = asking.ask(&what, || guest.read(frames)) else { continue };
        let shown = net::write_faces(&cube.colours());
        match &reading.outcome {
            Outcome::Read(read) if read == cube => {}
            Outcome::Read(read) => {
                let read = net::write_faces(&read.colours());
                asking.wrong(&what, format!("it read {read}"), shown);
            }
            Outcome::Unreadable { because, .. } => {
                asking.wrong(&what, format!("it refused, because {because}"), shown);
            }
        }
        first = first.or((number == 0).then_some(reading));
    }
    if let Some((_, frames)) = pictures.scans.first() {
        let what = "read of known cube 1 again";
        let again = asking.ask(what, || guest.read(frames));
        asking.same(what, first.as_ref(), again.as_ref());
    }
    asking.ask("goodbye", || guest.goodbye());
}
