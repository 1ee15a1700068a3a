//! The sensor and what is made of its codes, measured in pictures.

mod lab;

use dryturn_optics::Taken;
use dryturn_optics::sensor::ReadOut;
use dryturn_scene::file::{Camera, Mosaic, SceneFile, WhiteBalance};
use dryturn_scene::{Posture, Scene};
use lab::{at, lab, take, take_turned};

/// Only the evenly lit backdrop is in view.
fn wall(change: impl Fn(&mut Camera)) -> Scene {
    lab(|file| {
        let camera = &mut file.cameras[0];
        camera.aim_mm = [400.0, 400.0, 400.0];
        change(camera);
    })
}

fn mean(values: impl Iterator<Item = f64> + Clone) -> f64 {
    let n = values.clone().count() as f64;
    values.sum::<f64>() / n
}

/// Photon transfer through the public path: pairs of flat pictures at growing exposure;
/// the variance of their difference grows with the mean by the system gain K (EMVA 1288,
/// Release 4.0; from memory), within 1 %, and the dark variance is K²σ² + 1/12.
#[test]
fn photon_transfer_gives_the_gain_back() {
    let scene = |exposure_ms: f64| {
        wall(|camera| {
            (camera.exposure_ms, camera.mosaic) = (exposure_ms, Mosaic::Rggb);
            (camera.shot_noise, camera.read_noise_e) = (true, 6.0);
            (camera.converter_bits, camera.black_level_share) = (12, 0.02);
            (camera.width_px, camera.height_px) = (640, 480);
            camera.full_well_e = 9000.0;
        })
    };
    let pair = |exposure_ms: f64| {
        let scene = scene(exposure_ms);
        let raw = |name| take_turned(&scene, &Posture::REST, name).raw;
        let (a, b) = (raw("one"), raw("two"));
        // Green pixels alone: the others have another mean.
        let green = |(i, _): &(usize, &u16)| (i / 640 + i % 640) % 2 == 1;
        let values = |raw: &dryturn_optics::mosaic::Raw| -> Vec<f64> {
            raw.codes.iter().enumerate().filter(green).map(|(_, c)| f64::from(*c)).collect()
        };
        let (a, b) = (values(&a), values(&b));
        let both = mean(a.iter().chain(&b).copied());
        let differences = a.iter().zip(&b).map(|(a, b)| a - b);
        let variance = mean(differences.clone().map(|d| d * d)) / 2.0;
        (both, variance)
    };
    let read_out = ReadOut::of(&scene(1.0).file().cameras[0]);
    let dark = pair(0.001);
    let dark_model = read_out.noise_codes(0.0) * read_out.noise_codes(0.0);
    assert!((dark.1 / dark_model - 1.0).abs() < 0.03, "{} instead of {dark_model}", dark.1);
    let (mut up, mut across) = (0.0, 0.0);
    for exposure_ms in [5.0, 12.0, 25.0, 40.0, 60.0] {
        let (level, variance) = pair(exposure_ms);
        assert!(level < 0.7 * read_out.highest_code, "{level}");
        up += (level - dark.0) * (variance - dark.1);
        across += (level - dark.0) * (level - dark.0);
    }
    let gain = up / across;
    assert!((gain / read_out.codes_per_e - 1.0).abs() < 0.01, "{gain} {read_out:?}");
}

/// Dark electrons gather in proportion to time; without any the code is the black level.
#[test]
fn dark_current_grows_with_time() {
    let dark = |per_s: f64, exposure_ms: f64| {
        let scene = lab(|file: &mut SceneFile| {
            (file.surroundings.ambient_lux, file.lamps[0].flux_lm) = (0.0, 0.0);
            let camera = &mut file.cameras[0];
            (camera.dark_current_e_per_s, camera.exposure_ms) = (per_s, exposure_ms);
            (camera.black_level_share, camera.converter_bits) = (0.01, 14);
        });
        let read_out = ReadOut::of(&scene.file().cameras[0]);
        let code = f64::from(take(&scene).raw.codes[0]);
        (code - read_out.black_code) / read_out.codes_per_e
    };
    assert_eq!(dark(0.0, 500.0), 0.0);
    for (per_s, exposure_ms) in [(1000.0, 200.0), (1000.0, 800.0), (5000.0, 200.0)] {
        let wanted = per_s * exposure_ms * 1e-3;
        assert!((dark(per_s, exposure_ms) - wanted).abs() < 1.0, "{wanted}");
    }
}

/// Fewer bits leave fewer codes; the full well caps all of them and is flagged.
#[test]
fn bits_and_full_wells_limit_the_codes() {
    let codes = |bits: u32, well: f64| {
        let taken = take(&lab(|file| {
            let camera = &mut file.cameras[0];
            (camera.converter_bits, camera.full_well_e) = (bits, well);
        }));
        let distinct: std::collections::BTreeSet<u16> = taken.raw.codes.iter().copied().collect();
        (distinct, taken.clipped.iter().filter(|&&c| c).count())
    };
    let (fine, clipped) = codes(16, 1e5);
    let (coarse, _) = codes(8, 1e5);
    assert!(fine.len() > 4 * coarse.len() && clipped == 0);
    assert!(coarse.iter().all(|&code| code <= 255));
    let (capped, clipped) = codes(12, 300.0);
    assert_eq!(capped.last(), Some(&4095));
    assert!(clipped > 1000, "{clipped}");
    // Read noise does not hide that a pixel was full.
    let flagged = |noise_e: f64| {
        let taken = take(&lab(|file| {
            let camera = &mut file.cameras[0];
            (camera.mosaic, camera.read_noise_e) = (Mosaic::None, noise_e);
            camera.full_well_e = 1000.0;
        }));
        taken.clipped.iter().filter(|&&c| c).count() as f64
    };
    let (quiet, noisy) = (flagged(0.0), flagged(10.0));
    assert!(quiet > 1000.0 && (noisy / quiet - 1.0).abs() < 0.05, "{quiet} {noisy}");
}

/// On an even wall a mosaic changes nothing; on edges it does.
#[test]
fn a_mosaic_shows_at_edges_only() {
    let picture = |mosaic: Mosaic, at_wall: bool| -> Taken {
        let set = |camera: &mut Camera| camera.mosaic = mosaic;
        if at_wall { take(&wall(set)) } else { take(&lab(|file| set(&mut file.cameras[0]))) }
    };
    let (plain, filtered) = (picture(Mosaic::None, true), picture(Mosaic::Grbg, true));
    assert_eq!(plain.frame.pixels, filtered.frame.pixels);
    let (plain, filtered) = (picture(Mosaic::None, false), picture(Mosaic::Grbg, false));
    assert_ne!(plain.frame.pixels, filtered.frame.pixels);
}

fn channel_means(taken: &Taken) -> [f64; 3] {
    let linear = taken.linear();
    [0, 1, 2].map(|c| mean(linear.iter().map(move |p| f64::from(p[c]))))
}

/// Grey world makes the mean grey; the camera's own factors do what they say; and the
/// correction matrix is applied to the balanced sensor.
#[test]
fn balance_and_matrix_are_as_defined() {
    let picture = |set: &dyn Fn(&mut Camera)| take(&lab(|file| set(&mut file.cameras[0])));
    let plain = picture(&|_| ());
    let fixed = picture(&|c| (c.white_balance_red_ratio, c.white_balance_blue_ratio) = (1.5, 2.0));
    let [r, g, b] = channel_means(&plain);
    let [fr, fg, fb] = channel_means(&fixed);
    assert!(
        (fr / r - 1.5).abs() < 1e-4 && (fg / g - 1.0).abs() < 1e-6 && (fb / b - 2.0).abs() < 1e-4
    );
    let world = picture(&|c| c.white_balance = WhiteBalance::GreyWorld);
    let [wr, wg, wb] = channel_means(&world);
    assert!((wr / wg - 1.0).abs() < 1e-4 && (wb / wg - 1.0).abs() < 1e-4, "{wr} {wg} {wb}");
    let rows = [[1.8, -0.7, -0.1], [-0.2, 1.5, -0.3], [0.1, -0.5, 1.4]];
    let corrected = picture(&|c| {
        (c.white_balance_red_ratio, c.white_balance_blue_ratio) = (1.5, 2.0);
        c.colour_matrix_red_ratio = rows[0];
        c.colour_matrix_green_ratio = rows[1];
        c.colour_matrix_blue_ratio = rows[2];
    });
    for (row, column) in [(40, 80), (70, 60), (90, 100)] {
        let (before, after) = (at(&fixed, row, column), at(&corrected, row, column));
        for c in 0..3 {
            let wanted: f64 = (0..3).map(|k| rows[c][k] * before[k]).sum();
            assert!((after[c] - wanted).abs() < 1e-5);
        }
    }
}

/// A correction matrix makes noise larger by the root of the sum of its row's squares,
/// where the channels' noise is alike.
#[test]
fn a_correction_matrix_amplifies_noise() {
    let spread = |row: [f64; 3]| {
        let scene = wall(|camera| {
            camera.read_noise_e = 200.0;
            (camera.black_level_share, camera.colour_matrix_red_ratio) = (0.1, row);
        });
        let linear = take(&scene).linear();
        let values = linear.iter().map(|p| f64::from(p[0]));
        let middle = mean(values.clone());
        mean(values.map(|v| (v - middle) * (v - middle))).sqrt()
    };
    let ratio = spread([1.8, -0.7, -0.1]) / spread([1.0, 0.0, 0.0]);
    let wanted = (1.8f64 * 1.8 + 0.7 * 0.7 + 0.1 * 0.1).sqrt();
    assert!((ratio / wanted - 1.0).abs() < 0.02, "{ratio} instead of {wanted}");
}

/// A camera that chooses its time brings the mean of green to where it wants it.
#[test]
fn auto_exposure_reaches_its_mean() {
    for (flux, share) in [(500.0, 0.12), (4000.0, 0.12), (4000.0, 0.3)] {
        let taken = take(&lab(|file| {
            file.lamps[0].flux_lm = flux;
            let camera = &mut file.cameras[0];
            (camera.auto_exposure_share, camera.full_well_e) = (share, 60_000.0);
        }));
        let found = channel_means(&taken)[1];
        assert!((found / share - 1.0).abs() < 0.03, "{found} instead of {share}");
    }
    // Also from far above, where all pixels are full at first, and with little gain.
    for (gain, share) in [(1.0, 0.7), (0.5, 0.3)] {
        let taken = take(&lab(|file| {
            file.lamps[0].flux_lm = 400_000.0;
            let camera = &mut file.cameras[0];
            (camera.auto_exposure_share, camera.exposure_ms) = (share, 200.0);
            camera.gain_ratio = gain;
        }));
        let found = channel_means(&taken)[1];
        assert!((found / share - 1.0).abs() < 0.03, "{found} instead of {share}");
    }
    // Where its range ends it does what it can.
    let dark = take(&lab(|file| {
        (file.lamps[0].flux_lm, file.surroundings.ambient_lux) = (0.0, 0.0);
        file.cameras[0].auto_exposure_share = 0.2;
    }));
    assert_eq!(dark.exposure_ms, 200.0);
}

/// Without saturation all channels are alike; brightness is added; JPEG loses more the
/// lower its quality.
#[test]
fn what_a_cheap_camera_does_to_its_pictures() {
    let picture = |set: &dyn Fn(&mut Camera)| take(&lab(|file| set(&mut file.cameras[0]))).frame;
    let plain = picture(&|_| ());
    let grey = picture(&|camera| camera.saturation_ratio = 0.0);
    assert!(grey.pixels.chunks(3).all(|p| p[0] == p[1] && p[1] == p[2]));
    let bright = picture(&|camera| camera.brightness_share = 0.1);
    for (a, b) in plain.pixels.iter().zip(&bright.pixels) {
        // 25.5 codes more, cut off at the top.
        let wanted = (f64::from(*a) + 25.5).min(255.0);
        assert!((f64::from(*b) - wanted).abs() <= 1.0, "{a} {b}");
    }
    let loss = |quality: u32| {
        let packed = picture(&|camera| camera.jpeg_quality_percent = quality);
        let squares = plain.pixels.iter().zip(&packed.pixels).map(|(a, b)| {
            let d = f64::from(*a) - f64::from(*b);
            d * d
        });
        mean(squares)
    };
    let losses = [95, 60, 15].map(loss);
    assert!(0.0 < losses[0] && losses[0] < losses[1] && losses[1] < losses[2], "{losses:?}");
    assert!(losses[0] < 40.0, "{losses:?}");
}
