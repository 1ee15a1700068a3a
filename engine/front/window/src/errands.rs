//! What the desk has its workers do: scripts and frames, ordered and heard of.

use std::sync::Arc;
use std::time::Instant;

use bevy::prelude::*;
use bevy::window::RequestRedraw;
use dryturn_cube::{CubeState, Stickering};
use dryturn_units::noise::Seed;

use crate::desk::Desk;
use crate::desk::wall::Hung;
use crate::workers::clerk::Clerk;
use crate::workers::darkroom::{BrokenDown, Darkroom, Developed, Order};

/// What has been ordered.
#[derive(Resource)]
pub(crate) struct Errands {
    seed: Seed,
    /// Wakes a sleeping window.
    pub(crate) wake: Arc<dyn Fn() + Send + Sync>,
    /// Edition of the scene and exhibit whose frames have been ordered.
    ordered: Option<(u64, Option<usize>)>,
    /// Whether it has been said that the frame worker broke down.
    frames_ended: bool,
    /// Number of the last order of frames.
    number: u64,
}

impl Errands {
    pub(crate) fn new(seed: Seed, wake: Arc<dyn Fn() + Send + Sync>) -> Self {
        Self { seed, wake, ordered: None, frames_ended: false, number: 0 }
    }

    /// Starts the script that lies on the desk.
    pub(crate) fn start_script(&self, desk: &mut Desk) {
        let wake = self.wake.clone();
        // As it is on disk now, not as it was when it was picked.
        let path = desk.script.path.clone();
        if !desk.pick_script(&path) {
            return;
        }
        let text = desk.script.text.clone();
        match Clerk::start(&desk.script.path, text, self.seed, move || wake()) {
            Ok(clerk) => {
                desk.script.clerk = Some(clerk);
                desk.script.error_line = None;
            }
            Err(error) => desk.complain(format!("the script cannot be started: {error}")),
        }
    }
}

/// Hears the workers, plays on.
pub(crate) fn listen(
    mut desk: ResMut<Desk>,
    mut errands: ResMut<Errands>,
    darkroom: Res<Darkroom>,
    time: Res<Time>,
    mut redraw: MessageWriter<RequestRedraw>,
) {
    let mut again = desk.hear_clerk();
    loop {
        let developed = match darkroom.collect() {
            Ok(Some(developed)) => developed,
            Ok(None) => break,
            Err(BrokenDown) => {
                if !errands.frames_ended {
                    errands.frames_ended = true;
                    desk.complain(
                        "this is our fault: the frame worker broke down; pictures stand still",
                    );
                }
                break;
            }
        };
        if developed.number != errands.number {
            continue;
        }
        let Developed { camera, frame, coarse, asked, .. } = developed;
        desk.wall.hang(camera, Hung { frame, coarse, asked });
        if coarse && camera + 1 == desk.wall.frames.len() {
            darkroom.coarse_seen(errands.number);
        }
    }
    again |= desk.play_on(time.delta_secs_f64());
    if again {
        redraw.write(RequestRedraw);
    }
}

/// Orders frames of what has changed, in the same drawing.
pub(crate) fn order(mut desk: ResMut<Desk>, mut errands: ResMut<Errands>, darkroom: Res<Darkroom>) {
    let wanted = (desk.edition, desk.pass().map(|_| desk.script.shown));
    if errands.ordered != Some(wanted) {
        // A change of the scene has its own time; another pass is picked now.
        let of_scene = errands.ordered.is_none_or(|before| before.0 != wanted.0);
        errands.ordered = Some(wanted);
        let (trial, state) = desk.pass().map_or((0, CubeState::SOLVED), |p| (p.trial, p.truth));
        errands.number += 1;
        desk.wall.outdate();
        darkroom.ask(Order {
            scene: desk.scene.clone(),
            trial,
            shown: Stickering::from(&state),
            asked: if of_scene { desk.changed } else { Instant::now() },
            number: errands.number,
        });
    }
}
