use std::sync::Arc;

use dryturn_rehearsal::{Rehearser, StartToStop};
use dryturn_scene::file::Finish;
use dryturn_units::maths;
use dryturn_units::noise::Seed;

use super::{Drawn, Read, Way, below, compared, counts, relit, some_rig, two_hundred};
use crate::help;

/// A rig whose cameras take a second, darker picture; in the other light the first may be far
/// too bright.
fn rig(seed: u64, number: u64) -> Vec<[Read; 2]> {
    let draw = &mut Seed::new(seed).stream("bracket", number, 0);
    let mut fewer = some_rig(draw);
    help::with_small_pictures(&mut fewer);
    if below(draw, 2) == 0 {
        fewer.cube.finish = Finish::Glossy;
    }
    let mut all = fewer.clone();
    let share = [0.1, 0.25, 0.5][below(draw, 3)];
    all.cameras.iter_mut().for_each(|camera| camera.bracket_share = share);
    let mut other_light = relit(&all, draw);
    let brighter = maths::exp(draw.between(1.0, 3.2));
    other_light.lamps.iter_mut().for_each(|lamp| lamp.flux_lm *= brighter);
    other_light.surroundings.ambient_lux *= brighter;
    compared(seed, number, Drawn { all, other_light, fewer, kept: |picture| picture % 2 == 0 })
}

#[test]
fn a_second_exposure_makes_no_reading_worse() {
    let scans: Vec<_> = (0..6).flat_map(|number| rig(41, number)).collect();
    let [both, only_first, only_both, wrong] = counts(&scans);
    assert_eq!((only_first, wrong), (0, 0), "{scans:?}");
    assert!(both + only_both >= 10 && only_both > 0, "{scans:?}");
}

#[test]
#[ignore = "minutes"]
fn two_hundred_rigs() {
    two_hundred(rig);
}

/// Whoever mixes up a camera's two pictures gets no wrong cube.
#[test]
fn swapped_exposures_are_never_read_wrong() {
    let mut file = help::scene("foyer_morning").file().clone();
    help::with_small_pictures(&mut file);
    file.cameras.iter_mut().for_each(|camera| camera.bracket_share = 0.25);
    let scene = Arc::new(help::scene("foyer_morning").with_file(file).unwrap());
    let rehearser = Rehearser::new(Seed::new(43));
    let rig = rehearser.build(&scene, 0);
    let way = Way::of(&scene, &rig.scan_solved().collect::<Vec<_>>(), |_| true);
    for number in 0..3 {
        let truth = rehearser.random_cube(number);
        let mut frames = rig.scan(&(&truth).into()).frames;
        assert_eq!(way.read(truth, &frames), Read::Right);
        frames.swap(0, 1);
        assert_ne!(way.read(truth, &frames), Read::Wrong, "one camera's, cube {number}");
        frames.swap(2, 3);
        assert_ne!(way.read(truth, &frames), Read::Wrong, "both cameras', cube {number}");
    }
}

/// Exposure, read-out and transfer of both pictures are paid for.
#[test]
fn the_clock_pays_for_both() {
    let one = help::scene("foyer_morning");
    let two = one.with_text("cameras.*.bracket_share", "0.25").unwrap();
    let [before, after] = [&one, &two].map(|scene| StartToStop::of(scene, 0.0));
    assert!((after.exposure_s / before.exposure_s - 1.25).abs() < 1e-9);
    assert!((after.read_out_s / before.read_out_s - 2.0).abs() < 1e-9);
    assert!((after.transfer_s / before.transfer_s - 2.0).abs() < 1e-9);
}

/// Pictures come camera by camera, each with its darker one, and have noise of their own.
#[test]
fn pictures_come_in_pairs() {
    let scene = help::scene("foyer_morning");
    let two = scene.with_text("cameras.high.bracket_share", "0.25").unwrap();
    let mut file = two.file().clone();
    help::with_small_pictures(&mut file);
    let two = Arc::new(two.with_file(file).unwrap());
    let rig = Rehearser::new(Seed::new(3)).build(&two, 0);
    let scan = rig.scan(&dryturn_cube::Stickering::solved_in(dryturn_cube::MOUNTINGS[0]));
    let names: Vec<&str> = scan.frames.iter().map(|frame| frame.camera.as_str()).collect();
    assert_eq!(names, ["high", "high-dark", "low"]);
    assert_eq!(scan.labels.len(), 3);
    let mean = |k: usize| -> f64 {
        let sums = scan.labels[k].facelets.iter().map(|f| f.mean_linear[1]);
        sums.sum::<f64>()
    };
    let share = mean(1) / mean(0);
    assert!((share - 0.25).abs() < 0.02, "{share}");
}

#[test]
fn what_does_not_fit_is_said() {
    let call = ["read", "--scene", "scenes/foyer_morning.ron", "a.png", "b.png", "c.png"];
    let folder = tempfile::tempdir().unwrap();
    let text = std::fs::read_to_string(help::root().join("scenes/foyer_morning.ron")).unwrap();
    let text = text.replacen("name: \"high\",", "name: \"high\", bracket_share: 0.25,", 1);
    let scene = folder.path().join("bracketed.ron");
    std::fs::write(&scene, &text).unwrap();
    let shown = scene.display().to_string();
    let two = ["read", "--scene", &shown, call[3], call[4]];
    let run = help::call(&help::root(), &two);
    assert_eq!(run.code, 2);
    assert!(run.stderr.contains("in this order: high, high-dark, low"), "{}", run.stderr);

    std::fs::write(&scene, text.replace("name: \"low\"", "name: \"high-dark\"")).unwrap();
    let run = help::call(&help::root(), &["check", &shown]);
    assert_eq!(run.code, 2);
    assert!(run.stderr.contains("no camera called high-dark"), "{}", run.stderr);
}
