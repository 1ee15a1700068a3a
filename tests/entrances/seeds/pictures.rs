//! Small pictures: what a camera of a small scene sees, patterns, noise.

use std::io::Cursor;
use std::sync::Arc;

use dryturn_cube::{CubeState, Stickering};
use dryturn_handoff::Frame;
use dryturn_rehearsal::BuiltRig;
use dryturn_units::noise::{Noise, Seed};
use image::{DynamicImage, GrayImage, ImageBuffer, ImageFormat, Luma, RgbImage};

use super::Seeds;
use crate::help;

/// The smallest that a scene allows.
const SIDE: u32 = 64;

fn encoded(picture: impl Into<DynamicImage>, format: ImageFormat) -> Vec<u8> {
    let mut bytes = Cursor::new(Vec::new());
    picture.into().write_to(&mut bytes, format).unwrap();
    bytes.into_inner()
}

fn code(noise: &mut Noise) -> u8 {
    (noise.bits() >> 56) as u8
}

/// The cube as both cameras of the workbench see it.
fn seen() -> Vec<RgbImage> {
    let scene = help::scene("workbench");
    let mut file = scene.file().clone();
    for camera in &mut file.cameras {
        *camera = camera.with_pixels([SIDE; 2]);
        camera.samples_px = 1;
    }
    let scene = Arc::new(scene.with_file(file).unwrap());
    let rig = BuiltRig::new(&scene, Seed::new(1), 0);
    let frames = rig.scan_unlabelled(&Stickering::from(&CubeState::SOLVED)).frames;
    let picture = |frame: Frame| RgbImage::from_raw(SIDE, SIDE, frame.pixels).unwrap();
    frames.into_iter().map(picture).collect()
}

pub(crate) fn picture() -> Seeds {
    let mut noise = Seed::new(1).stream("entrance pictures", 0, 0);
    let flat = RgbImage::from_fn(SIDE, SIDE, |x, y| image::Rgb([(4 * x) as u8, (4 * y) as u8, 90]));
    let noisy = GrayImage::from_fn(40, 30, |_, _| Luma([code(&mut noise)]));
    let square = |x: u32, y: u32| if (x / 16 + y / 16).is_multiple_of(2) { 30 } else { 220 };
    let board = GrayImage::from_fn(96, 96, |x, y| Luma([square(x, y)]));
    let seen = seen();
    let mut seeds: Seeds = seen.iter().map(|own| encoded(own.clone(), ImageFormat::Jpeg)).collect();
    seeds.push(encoded(seen[0].clone(), ImageFormat::Png));
    seeds.push(encoded(DynamicImage::from(flat.clone()).into_rgba8(), ImageFormat::Png));
    seeds.push(encoded(DynamicImage::from(flat.clone()).into_rgb16(), ImageFormat::Png));
    seeds.push(encoded(flat, ImageFormat::Jpeg));
    seeds.push(encoded(noisy.clone(), ImageFormat::Png));
    seeds.push(encoded(noisy, ImageFormat::Jpeg));
    seeds.push(encoded(board, ImageFormat::Png));
    seeds
}

pub(crate) fn raw_picture() -> Seeds {
    let mut noise = Seed::new(1).stream("entrance pictures", 0, 1);
    let small = GrayImage::from_fn(32, 33, |_, _| Luma([code(&mut noise) / 8 + 40]));
    let deep = |_: u32, _: u32| Luma([1000 + u16::from(code(&mut noise))]);
    let deep: ImageBuffer<Luma<u16>, Vec<u16>> = ImageBuffer::from_fn(40, 32, deep);
    let colour = RgbImage::from_fn(32, 32, |x, y| image::Rgb([x as u8, y as u8, 3]));
    vec![
        encoded(small, ImageFormat::Png),
        encoded(deep, ImageFormat::Png),
        encoded(colour, ImageFormat::Png),
    ]
}
