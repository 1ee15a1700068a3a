//! Another camera never makes a reading worse: rigs and lights drawn at random, each scan read
//! with all three cameras and, from the same pictures, with the first two.
//!
//! The long form: `cargo test --release -p dryturn --test dryturn -- --ignored --nocapture
//! two_hundred_rigs`; `DRYTURN_RIGS_SEED` draws others.

use std::sync::Arc;

use dryturn_cube::{MOUNTINGS, Stickering};
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

/// A number below another.
fn below(draw: &mut Noise, count: usize) -> usize {
    (draw.bits() % count as u64) as usize
}

/// A rig with a third camera somewhere about the cube.
fn drawn(draw: &mut Noise) -> SceneFile {
    let name = ["foyer_morning", "foyer_evening", "workbench"][below(draw, 3)];
    let mut file = help::scene(name).file().clone();
    file.cameras.truncate(2);
    let mut third = file.cameras[0].clone();
    third.name = "third".to_owned();
    // Anywhere on a ball about the cube, not along a shaft.
    third.position_mm = loop {
        let normal = [draw.gaussian(), draw.gaussian(), draw.gaussian()];
        let length = normal.iter().map(|v| v * v).sum::<f64>().sqrt();
        let towards = normal.map(|v| v / length);
        if towards.iter().all(|v| v.abs() < 0.9) {
            let far = draw.between(190.0, 300.0);
            break towards.map(|v| v * far);
        }
    };
    third.exposure_ms *= draw.between(0.6, 1.4);
    file.cameras.push(third);
    help::with_small_pictures(&mut file);
    if below(draw, 2) == 0 {
        file.cube.finish = dryturn_scene::file::Finish::Glossy;
    }
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

/// Two scans of a rig, in the light of its calibration and in another: how two cameras read each,
/// and how three do.
fn rig(seed: u64, number: u64) -> Vec<[Read; 2]> {
    let mut draw = Seed::new(seed).stream("third-camera", number, 0);
    let file = drawn(&mut draw);
    let base = help::scene("workbench");
    let three = Arc::new(base.with_file(file.clone()).unwrap());
    let other = Arc::new(base.with_file(relit(&file, &mut draw)).unwrap());
    let mut fewer = file;
    fewer.cameras.truncate(2);
    let two = base.with_file(fewer).unwrap();

    let rehearser = Rehearser::new(Seed::new(seed));
    let rig = rehearser.build(&three, number);
    let frames = |shown: &Stickering| rig.scan(shown).frames;
    let solved: Vec<KnownScan> = MOUNTINGS
        .iter()
        .map(|mounting| {
            let shown = Stickering::solved_in(mounting);
            KnownScan { shown, frames: frames(&shown) }
        })
        .collect();
    let way = |scene: &Scene, cameras: usize| {
        let patches = Patches::of(scene);
        let few = |scan: &KnownScan| KnownScan {
            shown: scan.shown,
            frames: scan.frames[..cameras].to_vec(),
        };
        let known: Vec<KnownScan> = solved.iter().map(few).collect();
        let calibration = Calibration::learn(&patches, &known, false).unwrap();
        (patches, calibration)
    };
    let ways = [way(&two, 2), way(&three, 3)];
    let relit = rig.moved_to(&other);
    let truth = [0, 1].map(|k| rehearser.random_cube(2 * number + k));
    let scans = [frames(&(&truth[0]).into()), relit.scan(&(&truth[1]).into()).frames];
    let read_by = |truth, frames: &[Frame], k: usize| {
        let (patches, calibration) = &ways[k];
        match read(patches, calibration, &frames[..2 + k]).unwrap().state() {
            None => Read::Refused,
            Some(state) if state == truth => Read::Right,
            Some(_) => Read::Wrong,
        }
    };
    scans.iter().zip(&truth).map(|(f, t)| [read_by(t, f, 0), read_by(t, f, 1)]).collect()
}

/// Scans that both read, that only two or only three cameras read, and that some read wrong.
fn counts(scans: &[[Read; 2]]) -> [usize; 4] {
    let of = |wanted: &dyn Fn(&[Read; 2]) -> bool| scans.iter().filter(|s| wanted(s)).count();
    [
        of(&|s| *s == [Read::Right; 2]),
        of(&|s| s[0] == Read::Right && s[1] != Read::Right),
        of(&|s| s[1] == Read::Right && s[0] != Read::Right),
        of(&|s| s.contains(&Read::Wrong)),
    ]
}

#[test]
fn a_third_camera_makes_no_reading_worse() {
    let scans: Vec<_> = (0..6).flat_map(|number| rig(41, number)).collect();
    let [both, only_two, only_three, wrong] = counts(&scans);
    assert_eq!((only_two, wrong), (0, 0), "{scans:?}");
    assert!(both + only_three >= 8, "{scans:?}");
}

#[test]
#[ignore = "minutes"]
fn two_hundred_rigs() {
    let seed = help::setting("DRYTURN_RIGS_SEED", 42);
    let told = |number: u64| {
        let scans = rig(seed, number);
        let [_, only_two, _, wrong] = counts(&scans);
        if only_two + wrong > 0 {
            println!("rig {number}: {scans:?}");
        }
        scans
    };
    let all: Vec<_> = (0..200).into_par_iter().flat_map_iter(told).collect();
    let [both, only_two, only_three, wrong] = counts(&all);
    println!(
        "seed {seed}, 400 scans of 200 rigs: {both} read by both, {only_two} only by two cameras, \
         {only_three} only by three, {wrong} wrong"
    );
    assert_eq!((only_two, wrong), (0, 0));
}
