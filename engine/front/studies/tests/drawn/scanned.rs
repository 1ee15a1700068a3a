//! One scan of each drawn scene, its calibration and its reading.

use std::collections::BTreeMap;
use std::sync::Arc;

use dryturn_cube::Stickering;
use dryturn_rehearsal::Rehearser;
use dryturn_units::noise::Seed;

use crate::fields::{Drawn, Taken};
use crate::timed;

/// A scan of two small pictures, twelve more for the calibration and the reading take less than
/// this, s; a reading that tries 24 mountings by the whole range of light takes the longest, seven
/// seconds on two cores that do nothing else.
const MOST_S: f64 = 30.0;

fn scanned(drawn: &Drawn, number: u64) -> (&'static str, usize) {
    let Taken { scene, refused } = drawn.scene(number);
    let rehearser = Rehearser::new(Seed::new(1));
    let rig = rehearser.build(&Arc::new(scene), number);
    let cube = rehearser.random_cube(number);
    let scan = rig.scan(&Stickering::from(&cube));
    assert_eq!(scan.frames.len(), rig.scene().file().picture_names().len());
    let how = match rig.calibrate() {
        Err(_) => "not calibrated",
        Ok(calibration) => {
            let reading = rehearser.read(&rig, &calibration, &scan.frames);
            match reading.expect("frames of the same scene").state() {
                None => "unreadable",
                Some(state) if *state == cube => "read",
                Some(_) => "misread",
            }
        }
    };
    (how, refused)
}

fn all_end(count: u64, seed: u64) {
    let drawn = Drawn::optics(seed);
    let ended = timed(("scans", count), false, |number| scanned(&drawn, number));
    let mut how: BTreeMap<&str, usize> = BTreeMap::new();
    ended.iter().for_each(|(_, (end, _))| *how.entry(end).or_default() += 1);
    let refused: usize = ended.iter().map(|(_, (_, refused))| refused).sum();
    println!("seed {seed}: {} scans end, {refused} draws refused; {how:?}", ended.len());
    let slowest = ended.iter().map(|(seconds, _)| *seconds).fold(0.0, f64::max);
    assert!(slowest < MOST_S, "{slowest:.1} s");
}

#[test]
fn a_few_scans_end() {
    all_end(12, 1);
}

#[test]
#[ignore = "minutes: DRYTURN_DRAWN=2000 DRYTURN_DRAWN_SEED=n"]
fn scans_end() {
    let (count, seed) = crate::long_form();
    all_end(count / 4, seed);
}
