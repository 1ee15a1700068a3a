//! Lens, motion and flicker, measured in pictures against closed forms.

mod lab;

use dryturn_cube::Face;
use dryturn_geometry::DVec2;
use dryturn_optics::flicker::{Flicker, Wave};
use dryturn_optics::sensor::Aperture;
use dryturn_scene::file::Shutter;
use dryturn_scene::{Course, Posture};
use lab::{at, block, lab, take, take_turned};

/// The corner's light against the centre's: the fourth power of the cosine of the angle
/// from the axis (natural vignetting), and what the barrel takes.
#[test]
fn corners_darken_by_the_natural_law() {
    // Only the evenly lit backdrop is in view.
    let wall = |power: f64, loss: f64| {
        let scene = lab(|file| {
            let camera = &mut file.cameras[0];
            camera.aim_mm = [400.0, 400.0, 400.0];
            camera.horizontal_fov_deg = 70.0;
            (camera.vignetting_power_ratio, camera.corner_loss_share) = (power, loss);
            camera.exposure_ms = 30.0;
        });
        let taken = take(&scene);
        let n = scene.views()[0].lens.normalise(DVec2::ZERO).unwrap();
        let cosine = 1.0 / (1.0 + n.length_squared()).sqrt();
        (at(&taken, 0, 0)[1] / at(&taken, 60, 80)[1], cosine)
    };
    let (flat, cosine) = wall(0.0, 0.0);
    assert!((flat - 1.0).abs() < 1e-3, "{flat}");
    let (natural, _) = wall(4.0, 0.0);
    // A pixel next to the centre is off the axis by half a pixel.
    assert!((natural / (cosine * cosine * cosine * cosine) - 1.0).abs() < 2e-3, "{natural}");
    let (barrel, _) = wall(0.0, 0.4);
    assert!((barrel - 0.6).abs() < 2e-3, "{barrel}");
}

/// Where the optical axis meets the picture off its middle, the whole picture moves by as
/// much; with twice the pixels, by twice as many.
#[test]
fn the_picture_follows_the_optical_centre() {
    let of = |centre: [f64; 2]| {
        lab(|file| {
            (file.cameras[0].optical_centre_px, file.cameras[0].samples_px) = (centre, 256);
        })
    };
    let (scene, moved) = (of([0.0, 0.0]), of([12.0, -7.0]));
    let (before, after) = (take(&scene), take(&moved));
    let (mut off, mut plain, mut count) = (0.0, 0.0, 0.0);
    for row in 10..110 {
        for column in 15..145 {
            let here = at(&after, row, column)[1];
            off += (here - at(&before, row + 7, column - 12)[1]).abs();
            plain += (here - at(&before, row, column)[1]).abs();
            count += at(&before, row, column)[1];
        }
    }
    // Edges are sampled anew, and surfaces shine with their own noise of sampling.
    assert!(off < 0.01 * count && off < 0.05 * plain, "{off}, {plain} of {count}");
    let mut file = moved.file().clone();
    file.cameras[0] = file.cameras[0].with_pixels([320, 240]);
    let more = scene.with_file(file).unwrap();
    let corner = dryturn_geometry::DVec3::splat(28.0);
    let [coarse, fine] = [&moved, &more].map(|scene| scene.views()[0].project(corner).unwrap());
    assert!(((fine + 0.5) / 2.0 - (coarse + 0.5)).length() < 1e-9);
}

/// The blur of an edge out of focus: the variance of its slope is that of a disc of the
/// thin lens's diameter (D²/16), of the pixel and of the step from one to the next (1/12
/// each).
#[test]
fn edges_blur_by_the_thin_lens() {
    let distance_mm = 300.0;
    let slope = |focus_mm: f64, f_number: f64| {
        let scene = lab(|file| {
            file.lamps[0].flux_lm = 0.0;
            file.surroundings.ambient_lux = 500.0;
            file.surroundings.backdrop_reflectance_share = 0.0;
            // A light half-plane far from the cube, across the view.
            file.fixtures.push(block("edge", [300.0, 600.0, 0.0], [600.0, 400.0, 0.2], 0.8));
            let camera = &mut file.cameras[0];
            camera.position_mm = [0.0, 600.0, 0.1 + distance_mm];
            camera.aim_mm = [0.0, 600.0, 0.0];
            (camera.focus_mm, camera.f_number_ratio) = (focus_mm, f_number);
            (camera.samples_px, camera.exposure_ms) = (256, 4.0);
            camera.horizontal_fov_deg = 8.0;
        });
        let taken = take(&scene);
        let aperture = Aperture::of(&scene.file().cameras[0]);
        // Rows have nothing in common: their mean is the edge's profile.
        let profile: Vec<f64> = (0..160)
            .map(|column| (20..100).map(|row| at(&taken, row, column)[1]).sum::<f64>())
            .collect();
        let steps: Vec<f64> = profile.windows(2).map(|pair| pair[1] - pair[0]).collect();
        let total: f64 = steps.iter().sum();
        let mean: f64 = steps.iter().zip(0..).map(|(s, i)| s * f64::from(i)).sum::<f64>() / total;
        let square = |i: i32| (f64::from(i) - mean) * (f64::from(i) - mean);
        let variance = steps.iter().zip(0..).map(|(s, i)| s * square(i)).sum::<f64>() / total;
        (variance, aperture)
    };
    let (sharp, _) = slope(0.0, 2.0);
    assert!(sharp < 0.3, "sharp everywhere: {sharp}");
    for (focus_mm, f_number) in [(200.0, 1.0), (240.0, 0.7), (500.0, 1.0)] {
        let (variance, aperture) = slope(focus_mm, f_number);
        let diameter_px = aperture.blur_mm(focus_mm, distance_mm) / 0.003;
        assert!(diameter_px > 4.0, "{diameter_px}");
        let wanted = diameter_px * diameter_px / 16.0 + 1.0 / 6.0;
        // The slope is taken over whole pixels and from 256 rays a pixel.
        assert!((variance / wanted - 1.0).abs() < 0.06, "{variance} instead of {wanted}");
    }
    let (in_focus, _) = slope(distance_mm, 1.0);
    assert!(in_focus < 0.3, "in focus: {in_focus}");
}

fn turning_lab(shutter: Shutter) -> dryturn_scene::Scene {
    lab(|file| {
        let camera = &mut file.cameras[0];
        (camera.samples_px, camera.exposure_ms) = (64, 8.0);
        (camera.shutter, camera.row_time_us) = (shutter, 100.0);
    })
}

/// A layer that turns while the shutter is open is the mean of the pictures of it
/// standing at the angles that it goes through (in linear light).
#[test]
fn a_turning_layer_is_the_mean_of_its_angles() {
    let scene = turning_lab(Shutter::Global);
    let course = Course::turning(5.0, 2500.0);
    let moving = take_turned(&scene, &Posture::of(Face::U, course), "lab").linear();
    let stands = 64;
    let mut mean = vec![[0.0; 3]; moving.len()];
    for i in 0..stands {
        let angle = 5.0 + 2500.0 * 0.008 * (f64::from(i) + 0.5) / f64::from(stands);
        let still = take_turned(&scene, &Posture::of(Face::U, Course::at(angle)), "lab");
        for (sum, pixel) in mean.iter_mut().zip(&still.linear()) {
            (0..3).for_each(|c| sum[c] += f64::from(pixel[c]) / f64::from(stands));
        }
    }
    let pairs = || moving.iter().zip(&mean).flat_map(|(a, b)| a.iter().zip(b));
    let off: f64 = pairs().map(|(a, b)| (f64::from(*a) - b).abs()).sum();
    let all: f64 = pairs().map(|(_, b)| b).sum();
    // Sixty-four rays a pixel are shared out over the angles.
    assert!(off / all < 0.015, "{}", off / all);
    let still = take_turned(&scene, &Posture::of(Face::U, Course::at(15.0)), "lab");
    let differ: f64 = still
        .linear()
        .iter()
        .zip(&mean)
        .flat_map(|(a, b)| a.iter().zip(b))
        .map(|(a, b)| (f64::from(*a) - b).abs())
        .sum();
    assert!(differ / all > 0.04, "it must be seen to move: {}", differ / all);
}

/// With a rolling shutter each row sees the layer at its own time.
#[test]
fn a_rolling_shutter_takes_row_after_row() {
    let scene = turning_lab(Shutter::Rolling);
    let speed = 1500.0;
    let rolling = take_turned(&scene, &Posture::of(Face::U, Course::turning(0.0, speed)), "lab");
    let global = turning_lab(Shutter::Global);
    for row in [30, 50] {
        let from = speed * f64::from(row) * 100e-6;
        let posture = Posture::of(Face::U, Course::turning(from, speed));
        let own = take_turned(&global, &posture, "lab");
        for column in 0..160 {
            let (a, b) = (at(&rolling, row as usize, column), at(&own, row as usize, column));
            assert!((0..3).all(|c| (a[c] - b[c]).abs() < 0.02), "row {row}, column {column}");
        }
    }
}

/// Bands of a flickering lamp: each row's light over that of the steady lamp is the mean
/// of the wave over the row's exposure, in closed form.
#[test]
fn flicker_makes_the_bands_that_its_wave_says() {
    let picture = |depth: f64, pulse: bool| {
        take(&lab(|file| {
            file.surroundings.ambient_lux = 0.0;
            let lamp = &mut file.lamps[0];
            (lamp.flicker_depth_share, lamp.flicker_hz) = (depth, 120.0);
            (lamp.flicker_locked, lamp.flicker_phase_deg) = (true, 40.0);
            if pulse {
                lamp.flicker_wave = dryturn_scene::file::FlickerWave::Pulse;
                lamp.flicker_duty_share = 0.3;
            }
            let camera = &mut file.cameras[0];
            (camera.shutter, camera.row_time_us) = (Shutter::Rolling, 120.0);
            (camera.exposure_ms, camera.gain_ratio) = (2.0, 4.0);
        }))
    };
    let steady = picture(0.0, false);
    let phase_rad = 40f64.to_radians();
    for (depth, pulse) in [(0.8, false), (0.6, true)] {
        let wave = if pulse { Wave::Pulse { depth, duty: 0.3 } } else { Wave::Sine { depth } };
        let flicker = Flicker { wave, hz: 120.0, phase_rad };
        let bands = picture(depth, pulse);
        let mut spread: (f64, f64) = (f64::INFINITY, 0.0);
        for row in (30..100).step_by(7) {
            let light = |taken| (60..100).map(|c| at(taken, row, c)[1]).sum::<f64>();
            let found = light(&bands) / light(&steady);
            let wanted = flicker.mean(row as f64 * 120e-6, 2e-3);
            assert!((found - wanted).abs() < 3e-3, "row {row}: {found} instead of {wanted}");
            spread = (spread.0.min(found), spread.1.max(found));
        }
        assert!(spread.1 / spread.0 > 1.5, "bands must show: {spread:?}");
    }
    // An unlocked lamp starts each shot at another phase.
    let free = lab(|file| {
        file.lamps[0].flicker_depth_share = 0.9;
        (file.lamps[0].flicker_hz, file.cameras[0].exposure_ms) = (10.0, 1.0);
    });
    let shot = |name| at(&take_turned(&free, &Posture::REST, name), 60, 80)[1];
    assert_ne!(shot("one"), shot("two"));
    assert_eq!(shot("one"), shot("one"));
}
