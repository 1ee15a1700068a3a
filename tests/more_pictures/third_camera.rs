use dryturn_scene::file::Finish;
use dryturn_units::noise::Seed;

use super::{Drawn, Read, below, compared, counts, relit, some_rig, two_hundred};
use crate::help;

/// A rig with a third camera somewhere about the cube.
fn rig(seed: u64, number: u64) -> Vec<[Read; 2]> {
    let draw = &mut Seed::new(seed).stream("third-camera", number, 0);
    let mut all = some_rig(draw);
    let mut third = all.cameras[0].clone();
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
    all.cameras.push(third);
    help::with_small_pictures(&mut all);
    if below(draw, 2) == 0 {
        all.cube.finish = Finish::Glossy;
    }
    let other_light = relit(&all, draw);
    let mut fewer = all.clone();
    fewer.cameras.truncate(2);
    compared(seed, number, Drawn { all, other_light, fewer, kept: |picture| picture < 2 })
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
    two_hundred(rig);
}
