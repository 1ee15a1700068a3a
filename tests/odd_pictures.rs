//! Pictures that are not what they should be: each is read right, or refused with a reason;
//! none is read wrong.

use std::sync::Arc;

use dryturn_cube::{CubeState, Face, Facelet, Stickering};
use dryturn_handoff::{Frame, Outcome};
use dryturn_reading::Calibration;
use dryturn_rehearsal::{BuiltRig, Rehearser};
use dryturn_scene::{Course, Posture};
use dryturn_units::colour::{EncodedRgb8, LinearRgb};
use dryturn_units::noise::Seed;
use serde_json::json;

use crate::help;

/// What is done to the pictures of a scan.
type Mischief = fn(&mut [Frame]);

fn each(frames: &mut [Frame], change: impl Fn(usize, usize, [u8; 3]) -> [u8; 3]) {
    for frame in frames {
        for i in 0..frame.width * frame.height {
            let before = frame.pixel(i).0;
            let after = change(i % frame.width, i / frame.width, before);
            frame.pixels[3 * i..3 * i + 3].copy_from_slice(&after);
        }
    }
}

/// Every pixel from another place of the same picture; black where there is none.
fn moved(frames: &mut [Frame], from: impl Fn(i64, i64, i64, i64) -> (i64, i64)) {
    for frame in frames {
        let before = frame.clone();
        let (width, height) = (frame.width as i64, frame.height as i64);
        for y in 0..height {
            for x in 0..width {
                let (a, b) = from(x, y, width, height);
                let inside = (0..width).contains(&a) && (0..height).contains(&b);
                let pixel = if inside { before.pixel((b * width + a) as usize).0 } else { [0; 3] };
                let at = 3 * (y * width + x) as usize;
                frame.pixels[at..at + 3].copy_from_slice(&pixel);
            }
        }
    }
}

fn noise(frames: &mut [Frame], size: f64) {
    let mut noise = Seed::new(8).stream("mischief", 0, 0);
    for frame in frames {
        for code in &mut frame.pixels {
            *code = (f64::from(*code) + size * noise.gaussian()).clamp(0.0, 255.0) as u8;
        }
    }
}

/// Every pixel in another light.
fn in_light(frames: &mut [Frame], change: impl Fn(usize, usize, [f64; 3]) -> [f64; 3]) {
    each(frames, |x, y, rgb| LinearRgb(change(x, y, EncodedRgb8(rgb).decode().0)).encode().0);
}

/// Every pixel with so many times its light.
fn lit(frames: &mut [Frame], times: impl Fn(usize, usize) -> [f64; 3]) {
    in_light(frames, |x, y, light| {
        let times = times(x, y);
        core::array::from_fn(|k| light[k] * times[k])
    });
}

const MISCHIEF: [(&str, Mischief); 22] = [
    ("black", |frames| each(frames, |_, _, _| [0; 3])),
    ("white", |frames| each(frames, |_, _, _| [255; 3])),
    ("grey", |frames| each(frames, |_, _, _| [119; 3])),
    ("one camera black", |frames| each(&mut frames[1..], |_, _, _| [0; 3])),
    ("one camera white", |frames| each(&mut frames[..1], |_, _, _| [255; 3])),
    ("without colour", |frames| each(frames, |_, _, [_, g, _]| [g; 3])),
    ("negative", |frames| each(frames, |_, _, rgb| rgb.map(|v| 255 - v))),
    ("channels swapped", |frames| each(frames, |_, _, [r, g, b]| [b, r, g])),
    ("only noise", |frames| {
        each(frames, |_, _, _| [119; 3]);
        noise(frames, 60.0);
    }),
    ("much noise", |frames| noise(frames, 40.0)),
    ("cameras swapped", |frames| {
        let (a, b) = frames.split_at_mut(1);
        std::mem::swap(&mut a[0].pixels, &mut b[0].pixels);
    }),
    ("one camera twice", |frames| frames[1].pixels = frames[0].pixels.clone()),
    ("mirrored", |frames| moved(frames, |x, y, w, _| (w - 1 - x, y))),
    ("upside down", |frames| moved(frames, |x, y, w, h| (w - 1 - x, h - 1 - y))),
    ("a quarter of the picture aside", |frames| moved(frames, |x, y, w, _| (x - w / 4, y))),
    ("half the size", |frames| moved(frames, |x, y, w, h| (2 * x - w / 2, 2 * y - h / 2))),
    ("the left half covered", |frames| {
        each(frames, |x, _, rgb| if x < 160 { [30; 3] } else { rgb });
    }),
    ("half the cube in sun", |frames| {
        lit(frames, |x, y| if 2 * x + y > 440 { [2.4, 2.1, 1.7] } else { [1.0; 3] });
    }),
    ("half the cube in sun, which it mirrors", |frames| {
        in_light(frames, |x, y, own| own.map(|v| if 2 * x + y > 440 { 1.5 * v + 0.12 } else { v }));
    }),
    ("tinted glass before one camera", |frames| lit(&mut frames[..1], |_, _| [0.62, 0.85, 0.5])),
    ("colours near alike", |frames| {
        in_light(frames, |_, _, light| {
            let grey = light.iter().sum::<f64>() / 3.0;
            light.map(|own| 0.75 * grey + 0.25 * own)
        });
    }),
    ("a rainbow", |frames| {
        each(frames, |x, y, _| [(x % 256) as u8, (y % 256) as u8, ((x + y) % 256) as u8]);
    }),
];

fn small(name: &str) -> Arc<dryturn_scene::Scene> {
    let scene = help::scene(name);
    let mut file = scene.file().clone();
    help::with_small_pictures(&mut file);
    Arc::new(scene.with_file(file).unwrap())
}

/// The scan's outcome: a reason, or the true cube.
fn right_or_refused(
    what: &str,
    (rig, calibration): (&BuiltRig, &Calibration),
    frames: &[Frame],
    truth: &CubeState,
) -> bool {
    let rehearser = Rehearser::new(Seed::new(2));
    let reading = rehearser.read(rig, calibration, frames).unwrap();
    // None where the pictures fit no cube at all.
    let probability = reading.probability;
    assert!(probability.is_none_or(|p| (0.0..=1.0).contains(&p)), "{what}: {probability:?}");
    match &reading.outcome {
        Outcome::Read(state) => {
            assert!(probability.is_some(), "{what}");
            assert!(state == truth, "{what}: read wrong, with a probability of {probability:?}");
            true
        }
        Outcome::Unreadable { because, weakest, .. } => {
            assert!(!because.is_empty() && !weakest.is_empty(), "{what}");
            false
        }
    }
}

/// Where a sticker is missing, the piece's own plastic shows.
#[test]
fn a_missing_sticker_makes_no_wrong_cube() {
    let scene = small("foyer_morning");
    let rehearser = Rehearser::new(Seed::new(7));
    let mut read = 0;
    for (trial, missing) in
        [["URF"].as_slice(), &["FR"], &["UF", "BL"], &["DBL"]].iter().enumerate()
    {
        let rig = rehearser.build(&scene, trial as u64);
        let calibration = rig.calibrate().unwrap();
        let truth = rehearser.random_cube(trial as u64);
        let mut scan = rig.scan(&Stickering::from(&truth));
        let codes: Vec<u8> =
            missing.iter().map(|name| Facelet::from_name(name).unwrap().index() as u8).collect();
        for (frame, labels) in scan.frames.iter_mut().zip(&scan.labels) {
            for (pixel, code) in labels.codes.iter().enumerate() {
                if codes.contains(code) {
                    frame.pixels[3 * pixel..3 * pixel + 3].copy_from_slice(&[38, 38, 40]);
                }
            }
        }
        let what = format!("without {missing:?}");
        read += usize::from(right_or_refused(&what, (&rig, &calibration), &scan.frames, &truth));
    }
    // The other stickers and the laws of the cube say what is missing.
    assert!(read >= 3, "{read} of 4");
}

/// Cameras that are 2 mm and 1° off (standard deviation over the three axes together) since
/// the calibration are found by the picture; whoever takes the drawing's word reads wrong.
#[test]
fn mounts_that_have_slipped_are_found() {
    let scene = small("foyer_morning");
    let mut file = scene.file().clone();
    file.tolerances.mount_shift_sigma_mm = 2.0 / 3f64.sqrt();
    file.tolerances.mount_turn_sigma_deg = 1.0 / 3f64.sqrt();
    let slipped = Arc::new(scene.with_file(file).unwrap());
    let plain = scene.with("reader.method", json!("Nearest")).unwrap();
    let plain = Arc::new(plain.with("reader.find_mounts", json!(false)).unwrap());
    let rehearser = Rehearser::new(Seed::new(6));
    let (mut likely, mut nearest) = (0, 0);
    for trial in 0..12 {
        let rig = rehearser.build(&scene, trial);
        let calibration = rig.calibrate().unwrap();
        let truth = rehearser.random_cube(trial);
        let frames = rig.moved_to(&slipped).scan(&Stickering::from(&truth)).frames;
        likely += usize::from(right_or_refused("slipped", (&rig, &calibration), &frames, &truth));
        let rig = rig.moved_to(&plain);
        let calibration = rig.calibrate().unwrap();
        let reading = rehearser.read(&rig, &calibration, &frames).unwrap();
        nearest += usize::from(reading.state() == Some(&truth));
    }
    assert!(likely >= 11 && nearest <= 8, "{likely} and {nearest} of 12");
}

/// Take most of a minute each.
mod slow_set {
    use super::*;

    #[test]
    #[ignore = "slow set: CI runs it by name"]
    fn odd_pictures_are_never_read_wrong() {
        let scene = small("foyer_morning");
        let rehearser = Rehearser::new(Seed::new(2));
        let mut read = Vec::new();
        for trial in 0..4 {
            let rig = rehearser.build(&scene, trial);
            let calibration = rig.calibrate().unwrap();
            let truth = rehearser.random_cube(trial);
            let frames = rig.scan(&Stickering::from(&truth)).frames;
            let own = (&rig, &calibration);
            assert!(right_or_refused("as it is", own, &frames, &truth));
            for (what, mischief) in MISCHIEF {
                let mut frames = frames.clone();
                mischief(&mut frames);
                if right_or_refused(what, own, &frames, &truth) {
                    read.push(what);
                }
            }
            // A calibration of another scene and other cameras' settings; and pictures of a cube
            // of another make.
            let other = rehearser.build(&small("workbench"), trial).calibrate().unwrap();
            right_or_refused("calibrated elsewhere", (&rig, &other), &frames, &truth);
            let soft = Arc::new(scene.with("cube.make", json!("Soft")).unwrap());
            let frames = rig.moved_to(&soft).scan(&Stickering::from(&truth)).frames;
            right_or_refused("another make", own, &frames, &truth);
        }
        // What is only noisy or lit otherwise can be read; what has no colour cannot.
        for readable in [
            "much noise",
            "half the cube in sun",
            "half the cube in sun, which it mirrors",
            "tinted glass before one camera",
        ] {
            assert!(read.contains(&readable), "{readable}: {read:?}");
        }
        for never in ["black", "white", "grey", "without colour", "one camera black", "only noise"]
        {
            assert!(!read.contains(&never), "{never}");
        }
    }

    /// Scans that no legal cube in its place explains: a corner twisted or an edge flipped, a
    /// face part-turned, pictures far too bright. Whoever looks for legal cubes only could
    /// believe the next best one.
    #[test]
    #[ignore = "slow set: CI runs it by name"]
    fn what_no_legal_cube_explains_is_refused() {
        let scene = small("foyer_morning");
        let rehearser = Rehearser::new(Seed::new(5));
        let brighter = |factor: f64| {
            let mut file = scene.file().clone();
            file.cameras.iter_mut().for_each(|camera| camera.exposure_ms *= factor);
            Arc::new(scene.with_file(file).unwrap())
        };
        let bright = [6.0, 8.0, 12.0].map(brighter);
        for trial in 0..5 {
            let rig = rehearser.build(&scene, trial);
            let calibration = rig.calibrate().unwrap();
            let truth = rehearser.random_cube(trial);
            let own = (&rig, &calibration);
            let shown = Stickering::from(&truth);
            let read = |what: &str, frames: &[Frame]| right_or_refused(what, own, frames, &truth);

            // The stickers of one piece go round.
            let piece =
                |faces: &[&str]| faces.iter().map(|f| Facelet::from_name(f).unwrap()).collect();
            let pieces: [Vec<Facelet>; 4] = [
                piece(&["URF", "RFU", "FUR"]),
                piece(&["DBL", "BLD", "LDB"]),
                piece(&["UF", "FU"]),
                piece(&["BL", "LB"]),
            ];
            for places in pieces {
                let mut wrong = shown;
                for (k, place) in places.iter().enumerate() {
                    wrong.0[place.index()] = shown.0[places[(k + 1) % places.len()].index()];
                }
                assert!(!read("put together wrongly", &rig.scan(&wrong).frames), "{places:?}");
            }
            for (face, angle_deg) in [(Face::F, 15.0), (Face::D, -25.0), (Face::U, 45.0)] {
                let frames =
                    rig.scan_turned(&shown, &Posture::of(face, Course::at(angle_deg))).frames;
                assert!(!read("a face part-turned", &frames), "{face} by {angle_deg}");
            }
            for scene in &bright {
                read("far too bright", &rig.moved_to(scene).scan(&shown).frames);
            }
            let mut frames = rig.scan(&shown).frames;
            moved(&mut frames, |x, y, w, _| (w - 1 - x, y));
            assert!(!read("mirrored", &frames));
        }
    }
}
