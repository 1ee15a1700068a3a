//! The cameras' pictures as they hang beside the stage, and how long they took.

use std::time::{Duration, Instant};

use dryturn_handoff::Frame;

/// A camera's newest frame.
#[derive(Clone)]
pub(crate) struct Hung {
    pub(crate) frame: Frame,
    /// Whether it is coarse, or shows what the scene no longer looks like.
    pub(crate) coarse: bool,
    /// When the change that it shows was made.
    pub(crate) asked: Instant,
}

/// Newest frame of each camera.
#[derive(Default)]
pub(crate) struct Wall {
    pub(crate) frames: Vec<Option<Hung>>,
    /// Counts new frames.
    pub(crate) developed: u64,
    /// Where the pictures are drawn: left, top, width, height in pixels.
    pub(crate) rects: Vec<[f32; 4]>,
    /// When the last change was made that all pictures on the screen show, and how
    /// long their coarse and full ones took from it.
    timed: Option<(Instant, Duration, Option<Duration>)>,
}

impl Wall {
    /// Of so many cameras, nothing developed yet.
    pub(crate) fn of(cameras: usize) -> Self {
        Self { frames: vec![None; cameras], ..Self::default() }
    }

    /// Whether every camera's full frame hangs there.
    pub(crate) fn is_full(&self) -> bool {
        let full = |slot: &Option<Hung>| slot.as_ref().is_some_and(|hung| !hung.coarse);
        !self.frames.is_empty() && self.frames.iter().all(full)
    }

    /// Whether the full frames show a change that was made then.
    pub(crate) fn shows(&self, change: Instant) -> bool {
        self.is_full() && self.frames.iter().flatten().all(|hung| hung.asked >= change)
    }

    /// A new frame has come.
    pub(crate) fn hang(&mut self, camera: usize, hung: Hung) {
        if let Some(slot) = self.frames.get_mut(camera) {
            *slot = Some(hung);
            self.developed += 1;
        }
    }

    /// What hangs there is no longer what the scene looks like.
    pub(crate) fn outdate(&mut self) {
        self.frames.iter_mut().flatten().for_each(|hung| hung.coarse = true);
    }

    /// Remembers how long the pictures took from the change that they show, now
    /// that they are handed to the screen.
    pub(crate) fn note_latency(&mut self) {
        let Some(asked) = self.frames.iter().flatten().map(|hung| hung.asked).max() else {
            return;
        };
        let newest = |slot: &Option<Hung>| slot.as_ref().is_some_and(|hung| hung.asked == asked);
        if !self.frames.iter().all(newest) {
            return;
        }
        let after = asked.elapsed();
        let timed = self.timed.filter(|&(change, ..)| change == asked);
        // Where the full ones are there first, nobody waited for coarse ones.
        let coarse = timed.map_or(after, |(_, coarse, _)| coarse);
        let full = timed.and_then(|(.., full)| full).or(self.is_full().then_some(after));
        self.timed = Some((asked, coarse, full));
    }

    /// From a change to the coarse and the full pictures of all cameras handed to
    /// the screen; `None` while they are on their way.
    pub(crate) fn latency(&self, change: Instant) -> Option<(Duration, Duration)> {
        let (asked, coarse, full) = self.timed?;
        Some((coarse, full.filter(|_| asked == change)?))
    }

    /// How long the pictures took, for the person who waits for them.
    pub(crate) fn latency_text(&self) -> Option<String> {
        let (asked, ..) = self.timed?;
        let (coarse, full) = self.latency(asked)?;
        let (coarse, full) = (coarse.as_millis(), full.as_millis());
        Some(format!("after the last change: coarse {coarse} ms, full {full} ms"))
    }
}
