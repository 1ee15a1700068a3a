//! More pictures never make a reading worse: rigs and lights drawn at random, each scan read with
//! all its pictures and, from the same ones, with fewer.
//!
//! The long forms: `cargo test --release --test dryturn -- --ignored --nocapture
//! two_hundred_rigs`; `DRYTURN_RIGS_SEED` draws others.

/// A camera that takes two exposures.
mod bracket;
/// Another camera.
mod third_camera;

use std::sync::Arc;

use dryturn_cube::CubeState;
use dryturn_handoff::Frame;
use dryturn_reading::{Calibration, KnownScan, Patches, read};
use dryturn_rehearsal::Rehearser;
use dryturn_scene::Scene;
use dryturn_scene::file::SceneFile;
use dryturn_units::maths;
use dryturn_units::noise::{Noise, Seed};
use rayon::prelude::*;

use crate::help;

/// How a scan was read.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Read {
    Right,
    Refused,
    Wrong,
}

/// A rig, what it is calibrated in and what it is scanned in besides, and the same with fewer
/// pictures.
struct Drawn {
    all: SceneFile,
    other_light: SceneFile,
    fewer: SceneFile,
    /// Whether a picture by its number is among the fewer.
    kept: fn(usize) -> bool,
}

/// A number below another.
fn below(draw: &mut Noise, count: usize) -> usize {
    (draw.bits() % count as u64) as usize
}

/// One of the scenes with its first two cameras.
fn some_rig(draw: &mut Noise) -> SceneFile {
    let name = ["foyer_morning", "foyer_evening", "workbench"][below(draw, 3)];
    let mut file = help::scene(name).file().clone();
    file.cameras.truncate(2);
    file
}

/// The same rig in another light.
fn relit(file: &SceneFile, draw: &mut Noise) -> SceneFile {
    let mut file = file.clone();
    for lamp in &mut file.lamps {
        lamp.flux_lm *= maths::exp(draw.between(-0.7, 0.7));
    }
    if below(draw, 4) == 0 {
        let dead = below(draw, file.lamps.len());
        file.lamps[dead].flux_lm = 0.0;
    }
    file
}

/// One way to look at a rig's pictures.
struct Way {
    patches: Patches,
    calibration: Calibration,
    kept: fn(usize) -> bool,
}

impl Way {
    fn of(scene: &Scene, solved: &[KnownScan], kept: fn(usize) -> bool) -> Self {
        let patches = Patches::of(scene);
        let few =
            |scan: &KnownScan| KnownScan { shown: scan.shown, frames: some(&scan.frames, kept) };
        let known: Vec<KnownScan> = solved.iter().map(few).collect();
        let calibration = Calibration::learn(&patches, &known, false).unwrap();
        Self { patches, calibration, kept }
    }

    fn read(&self, truth: CubeState, frames: &[Frame]) -> Read {
        let frames = some(frames, self.kept);
        match read(&self.patches, &self.calibration, &frames).unwrap().state() {
            None => Read::Refused,
            Some(state) if *state == truth => Read::Right,
            Some(_) => Read::Wrong,
        }
    }
}

fn some(frames: &[Frame], kept: fn(usize) -> bool) -> Vec<Frame> {
    frames.iter().enumerate().filter(|(k, _)| kept(*k)).map(|(_, frame)| frame.clone()).collect()
}

/// Two scans of a rig, in the light of its calibration and in another: how each is read with fewer
/// pictures, and with all.
fn compared(seed: u64, number: u64, drawn: Drawn) -> Vec<[Read; 2]> {
    let base = help::scene("workbench");
    let all = Arc::new(base.with_file(drawn.all).unwrap());
    let other = Arc::new(base.with_file(drawn.other_light).unwrap());
    let fewer = base.with_file(drawn.fewer).unwrap();

    let rehearser = Rehearser::new(Seed::new(seed));
    let rig = rehearser.build(&all, number);
    let solved: Vec<KnownScan> = rig.scan_solved().collect();
    let ways = [Way::of(&fewer, &solved, drawn.kept), Way::of(&all, &solved, |_| true)];
    let relit = rig.moved_to(&other);
    let truth = [0, 1].map(|k| rehearser.random_cube(2 * number + k));
    let scans = [rig.scan(&(&truth[0]).into()).frames, relit.scan(&(&truth[1]).into()).frames];
    let both = |(frames, truth): (&Vec<Frame>, &CubeState)| {
        [ways[0].read(*truth, frames), ways[1].read(*truth, frames)]
    };
    scans.iter().zip(&truth).map(both).collect()
}

/// Scans that both read, that only the fewer or only all pictures read, and that some read wrong.
fn counts(scans: &[[Read; 2]]) -> [usize; 4] {
    let of = |wanted: &dyn Fn(&[Read; 2]) -> bool| scans.iter().filter(|s| wanted(s)).count();
    [
        of(&|s| *s == [Read::Right; 2]),
        of(&|s| s[0] == Read::Right && s[1] != Read::Right),
        of(&|s| s[1] == Read::Right && s[0] != Read::Right),
        of(&|s| s.contains(&Read::Wrong)),
    ]
}

/// The long form: 200 rigs, whose counts are told; none may be read worse with all pictures.
fn two_hundred(rig: impl Fn(u64, u64) -> Vec<[Read; 2]> + Sync) {
    let seed = help::setting("DRYTURN_RIGS_SEED", 42);
    let told = |number: u64| {
        let scans = rig(seed, number);
        let [_, only_fewer, _, wrong] = counts(&scans);
        if only_fewer + wrong > 0 {
            println!("rig {number}: {scans:?}");
        }
        scans
    };
    let all: Vec<_> = (0..200).into_par_iter().flat_map_iter(told).collect();
    let [both, only_fewer, only_all, wrong] = counts(&all);
    println!(
        "seed {seed}, 400 scans of 200 rigs: {both} read by both, {only_fewer} only by fewer \
         pictures, {only_all} only by all, {wrong} wrong"
    );
    assert_eq!((only_fewer, wrong), (0, 0));
}
