//! The engine's own camera frames, developed off the main thread: coarse at
//! once, full when nothing newer has been asked for.

mod views;

use std::sync::mpsc::{Receiver, Sender, TryRecvError, channel};
use std::sync::{Arc, Mutex};
use std::thread;
use std::time::{Duration, Instant};

use dryturn_console::locked;
use dryturn_cube::Stickering;
use dryturn_handoff::Frame;
use dryturn_optics::Shot;
use dryturn_scene::Scene;
use dryturn_units::noise::Seed;

use self::views::{Views, coarse};

/// Longest that full frames wait until the coarse ones are drawn.
const COARSE_WAIT: Duration = Duration::from_millis(100);

/// What shall be photographed.
#[derive(Clone)]
pub(crate) struct Order {
    pub(crate) scene: Arc<Scene>,
    /// Which build of the rig: its mount errors and noise.
    pub(crate) trial: u64,
    pub(crate) shown: Stickering,
    /// When the change was made.
    pub(crate) asked: Instant,
    /// Tells its frames from those of other orders.
    pub(crate) number: u64,
}

/// A developed frame of one camera.
pub(crate) struct Developed {
    pub(crate) camera: usize,
    pub(crate) frame: Frame,
    pub(crate) coarse: bool,
    /// The order it was developed for.
    pub(crate) number: u64,
    /// When the change was made.
    pub(crate) asked: Instant,
}

/// The frame worker has ended, which it never should.
#[derive(Debug)]
pub(crate) struct BrokenDown;

/// The worker and its letter box, which holds only the newest order.
#[derive(bevy::prelude::Resource)]
pub(crate) struct Darkroom {
    order: Arc<Mutex<Option<Order>>>,
    bell: Sender<()>,
    /// Says which order's coarse frames have been seen.
    seen: Sender<u64>,
    finished: Mutex<Receiver<Developed>>,
}

impl Darkroom {
    /// Starts the worker. `wake` is called after each frame, so that a sleeping
    /// window looks for it.
    pub(crate) fn open(seed: Seed, wake: impl Fn() + Send + 'static) -> std::io::Result<Self> {
        let order = Arc::new(Mutex::new(None::<Order>));
        let (bell, rung) = channel();
        let (out, finished) = channel();
        let (seen, coarse_seen) = channel();
        let letter_box = order.clone();
        thread::Builder::new().name("darkroom".to_owned()).spawn(move || {
            let (mut rough, mut fine) = (None, None);
            while rung.recv().is_ok() {
                let next = locked(&letter_box).take();
                let Some(order) = next else { continue };
                let newer = || letter_box.lock().is_ok_and(|waiting| waiting.is_some());
                let deliver = |scene: &Scene, kept: &mut Option<Views>, coarse| {
                    let Order { trial, number, asked, .. } = order;
                    Views::refresh(kept, scene, seed, trial);
                    let Some(kept) = kept else { return false };
                    for (camera, view) in kept.views.iter().enumerate() {
                        let shot = Shot { seed, name: "scan", trial, second: false };
                        let frame = view.expose(scene, &kept.built, &order.shown, shot);
                        let sent = out.send(Developed { camera, frame, coarse, number, asked });
                        // Coarse frames are always finished: while a figure is being
                        // dragged there is a newer order all the time.
                        if sent.is_err() || (!coarse && newer()) {
                            return false;
                        }
                    }
                    // Once for all cameras: drawing the window takes time too.
                    wake();
                    true
                };
                if let Some(small) = coarse(&order.scene) {
                    deliver(&small, &mut rough, true);
                }
                // Drawing the coarse ones comes first: it needs the same processor.
                let until = Instant::now() + COARSE_WAIT;
                while !newer()
                    && let Ok(number) =
                        coarse_seen.recv_timeout(until.saturating_duration_since(Instant::now()))
                    && number < order.number
                {}
                if !newer() {
                    deliver(&order.scene, &mut fine, false);
                }
            }
        })?;
        Ok(Self { order, bell, seen, finished: Mutex::new(finished) })
    }

    /// Asks for frames; an order that is still waiting is forgotten.
    pub(crate) fn ask(&self, order: Order) {
        *locked(&self.order) = Some(order);
        // A worker that has broken down is noticed when frames are collected.
        let _ = self.bell.send(());
    }

    /// The coarse frames of an order are about to be drawn.
    pub(crate) fn coarse_seen(&self, number: u64) {
        // As with the bell.
        let _ = self.seen.send(number);
    }

    /// The next finished frame, if there is one; an error when the worker has broken
    /// down.
    pub(crate) fn collect(&self) -> Result<Option<Developed>, BrokenDown> {
        match locked(&self.finished).try_recv() {
            Ok(developed) => Ok(Some(developed)),
            Err(TryRecvError::Empty) => Ok(None),
            Err(TryRecvError::Disconnected) => Err(BrokenDown),
        }
    }
}

#[cfg(test)]
mod tests {
    use dryturn_cube::CubeState;
    use dryturn_rehearsal::BuiltRig;
    use serde_json::json;

    use super::*;

    fn scene() -> Arc<Scene> {
        let text = include_str!("../../../../../../scenes/workbench.ron");
        Arc::new(Scene::parse(text, "workbench.ron").unwrap())
    }

    fn order(scene: &Arc<Scene>, trial: u64, number: u64) -> Order {
        let shown = Stickering::from(&CubeState::SOLVED);
        Order { scene: scene.clone(), trial, shown, asked: Instant::now(), number }
    }

    fn wait_for_full(darkroom: &Darkroom, cameras: usize) -> Vec<Frame> {
        let mut frames = vec![None; cameras];
        while frames.iter().any(Option::is_none) {
            if let Some(developed) = darkroom.collect().unwrap() {
                if !developed.coarse {
                    frames[developed.camera] = Some(developed.frame);
                }
            } else {
                thread::sleep(Duration::from_millis(2));
            }
        }
        frames.into_iter().flatten().collect()
    }

    /// The window's picture is the engine's, byte for byte, also after a change for which
    /// the traced views were kept, or lit anew by a lamp.
    #[test]
    fn frames_are_the_engines_own() {
        let seed = Seed::new(3);
        let darkroom = Darkroom::open(seed, || ()).unwrap();
        let shown = Stickering::from(&CubeState::SOLVED);
        let mut scene = scene();
        let name = scene.file().cameras[0].name.clone();
        let camera = |field: &str| format!("cameras.{name}.{field}");
        let [x, y, z] = scene.file().lamps[0].position_mm;
        // One after the other, each on top of those before.
        let changes = [
            ("name".to_owned(), json!("as it is")),
            ("lamps.panel.flux_lm".to_owned(), json!(900.0)),
            ("lamps.panel.position_mm".to_owned(), json!([x - 30.0, y, z])),
            ("lamps.panel.shape".to_owned(), json!("Disc")),
            ("lamps.panel.flicker_depth_share".to_owned(), json!(0.8)),
            ("surroundings.backdrop_reflectance_share".to_owned(), json!(0.6)),
            ("surroundings.ambient_spectrum".to_owned(), json!("LedB1")),
            ("cube.finish".to_owned(), json!("Matt")),
            ("cube.wear_share".to_owned(), json!(0.5)),
            (camera("f_number_ratio"), json!(2.8)),
            (camera("focus_mm"), json!(150.0)),
            (camera("f_number_ratio"), json!(2.0)),
            (camera("mosaic"), json!("Gbrg")),
            (camera("corner_loss_share"), json!(0.4)),
            (camera("white_balance"), json!("GreyWorld")),
            (camera("saturation_ratio"), json!(1.4)),
            (camera("jpeg_quality_percent"), json!(60)),
            ("surroundings.ambient_shadows".to_owned(), json!(false)),
        ];
        for (field, value) in changes {
            scene = Arc::new(scene.with(&field, value).unwrap());
            darkroom.ask(order(&scene, 2, 0));
            let engine = BuiltRig::new(&scene, seed, 2).scan(&shown).frames;
            assert!(wait_for_full(&darkroom, 2) == engine, "{field}");
        }
    }

    /// While a figure is dragged orders come faster than frames: every camera must
    /// still be seen to change.
    #[test]
    fn every_camera_gets_coarse_frames_while_orders_pour_in() {
        let darkroom = Darkroom::open(Seed::new(1), || ()).unwrap();
        let mut seen = [false; 2];
        for number in 0..200 {
            let flux = 500 + 10 * number;
            let scene = Arc::new(scene().with("lamps.panel.flux_lm", flux.into()).unwrap());
            darkroom.ask(order(&scene, 0, number));
            thread::sleep(Duration::from_millis(8));
            while let Some(developed) = darkroom.collect().unwrap() {
                seen[developed.camera] |= developed.coarse;
            }
        }
        assert_eq!(seen, [true; 2]);
    }

    #[test]
    fn coarse_frames_come_first() {
        let darkroom = Darkroom::open(Seed::new(1), || ()).unwrap();
        darkroom.ask(order(&scene(), 0, 0));
        let first = loop {
            if let Some(developed) = darkroom.collect().unwrap() {
                break developed;
            }
            thread::sleep(Duration::from_millis(1));
        };
        assert!(first.coarse);
        assert_eq!((first.frame.width, first.frame.height), (160, 120));
    }
}
