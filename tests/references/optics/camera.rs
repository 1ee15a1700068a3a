//! Lenses, poses, sensors.

use core::f64::consts::PI;

use dryturn_geometry::{DMat3, DVec2, DVec3, Distortion, Lens, fit_pose, rotation};
use dryturn_optics::flicker::{Flicker, Wave};
use dryturn_optics::mosaic::Raw;
use dryturn_optics::sensor::{Aperture, ReadOut, motion_px, vignetting};
use dryturn_scene::file::Mosaic;
use dryturn_units::noise::Seed;

use super::super::{near, number, numbers, vector};
use super::{Case, Keys};

pub(super) fn projection(case: &Case<'_>) -> Keys {
    let k: Vec<Vec<f64>> = case.input["K"].as_array().unwrap().iter().map(numbers).collect();
    let dist = numbers(&case.input["dist"]);
    let lens = Lens {
        focal_px: DVec2::new(k[0][0], k[1][1]),
        centre_px: DVec2::new(k[0][2], k[1][2]),
        distortion: Distortion { k1: dist[0], k2: dist[1], p1: dist[2], p2: dist[3], k3: dist[4] },
    };
    let turn = rotation(vector(&case.input["rvec"]));
    let shift = vector(&case.input["tvec"]);
    let points = case.input["points"].as_array().unwrap();
    let pixels = case.expected["pixels"].as_array().unwrap();
    let normalised = case.expected["normalised"].as_array().unwrap();
    for (point, wanted) in points.iter().zip(pixels) {
        let found = lens.project(turn * vector(point) + shift).unwrap();
        for (found, wanted) in found.to_array().iter().zip(numbers(wanted)) {
            case.near("pixels", *found, wanted, 0.0, 1e-6);
        }
    }
    // The inverse starts from the file's noisy pixels, as its reference did.
    let noisy = case.input["pixels_noisy"].as_array().unwrap();
    let exact_or_noisy = [pixels, noisy].into_iter().find(|list| {
        let pixel = DVec2::from_slice(&numbers(&list[0]));
        let found = lens.normalise(pixel).unwrap();
        let wanted = DVec2::from_slice(&numbers(&normalised[0]));
        (found - wanted).length() < 1e-7
    });
    let start = exact_or_noisy.unwrap_or_else(|| panic!("{}: normalised differs", case.id));
    for (pixel, wanted) in start.iter().zip(normalised) {
        let found = lens.normalise(DVec2::from_slice(&numbers(pixel))).unwrap();
        for (found, wanted) in found.to_array().iter().zip(numbers(wanted)) {
            case.near("normalised", *found, wanted, 0.0, 1e-9);
        }
    }
    // The pose: from exact pixels it comes back, from noisy ones it is the least
    // squares one.
    let world: Vec<DVec3> = points.iter().map(vector).collect();
    let paired = |pixels: &[serde_json::Value]| -> Vec<(DVec3, DVec2)> {
        world.iter().zip(pixels).map(|(w, p)| (*w, DVec2::from_slice(&numbers(p)))).collect()
    };
    let check = |pairs: &[(DVec3, DVec2)], rvec: &[f64], tvec: &[f64], tolerance: f64| {
        let fitted = fit_pose(&lens, pairs).unwrap();
        let found_t = fitted.pose.to_camera(DVec3::ZERO);
        let found_r = rotation_vector(fitted.pose.camera_from_world);
        let length = DVec3::from_slice(tvec).length();
        for k in 0..3 {
            case.near("rvec", found_r[k], rvec[k], 0.0, tolerance);
            case.near("tvec", found_t[k], tvec[k], 0.0, tolerance * length);
        }
        fitted.rms_px
    };
    let (rvec, tvec) = (numbers(&case.input["rvec"]), numbers(&case.input["tvec"]));
    check(&paired(pixels), &rvec, &tvec, 1e-6);
    let wanted = |key: &str| numbers(&case.expected[key]);
    let (rvec, tvec) = (wanted("pose_noisy_rvec"), wanted("pose_noisy_tvec"));
    let rms = check(&paired(noisy), &rvec, &tvec, 1e-4);
    // The file's is the root mean square over points, or over coordinates.
    let given = number(&case.expected["pose_noisy_rms_px"]);
    let wanted = if (rms - given).abs() < 0.1 * given { given } else { given * 2f64.sqrt() };
    case.near("pose_noisy_rms_px", rms, wanted, 1e-4, 0.0);
    &["pixels", "normalised", "pose_noisy_rvec", "pose_noisy_tvec", "pose_noisy_rms_px"]
}

/// Axis times angle of a rotation matrix.
fn rotation_vector(m: DMat3) -> DVec3 {
    let twice =
        DVec3::new(m.y_axis.z - m.z_axis.y, m.z_axis.x - m.x_axis.z, m.x_axis.y - m.y_axis.x);
    let sin = twice.length() / 2.0;
    let cos = (m.x_axis.x + m.y_axis.y + m.z_axis.z - 1.0) / 2.0;
    if sin < 1e-12 { DVec3::ZERO } else { twice / (2.0 * sin) * sin.atan2(cos) }
}

/// Mean, variance, gain and saturation of simulated pixels against the exact sums, and
/// the linear model's figures: EMVA 1288, from memory. Tolerances are those of 307,200 pixels; four
/// times as many are simulated, so that chance alone cannot fail.
pub(super) fn sensor(case: &Case<'_>) -> Keys {
    const COUNTED: f64 = 307_200.0;
    const PIXELS: u32 = 4 * 307_200;
    let input = |key: &str| number(&case.input[key]);
    let read_out = ReadOut {
        codes_per_e: input("K"),
        black_code: input("offset"),
        highest_code: input("bits").exp2() - 1.0,
        read_noise_e: input("sigma_d"),
        full_well_e: f64::INFINITY,
        shot_noise: true,
    };
    let list = |key: &str| numbers(&case.expected[key]);
    let simulate = |stage: &str, index: u64, mean_e: f64, pixels: u32| {
        let mut noise = Seed::new(1288).stream(stage, 0, index);
        let codes: Vec<f64> = (0..pixels).map(|_| read_out.draw(mean_e, &mut noise)).collect();
        let n = f64::from(pixels);
        let mean = codes.iter().sum::<f64>() / n;
        (mean, codes.iter().map(|c| (c - mean) * (c - mean)).sum::<f64>() / n)
    };
    let (mean_exact, var_exact) = (list("mean_exact"), list("var_exact"));
    let kurtosis = list("kurtosis_exact");
    let mut moments = Vec::new();
    for (level, mean_e) in numbers(&case.input["mu_e"]).into_iter().enumerate() {
        let (mean, variance) = simulate(case.id, level as u64, mean_e, PIXELS);
        let (wanted, spread) = (mean_exact[level], var_exact[level]);
        case.near("mean_exact", mean, wanted, 0.0, 4.0 * (spread / COUNTED).sqrt());
        let error = 4.0 * ((kurtosis[level] - 1.0) / COUNTED).sqrt();
        case.near("var_exact", variance, spread, error, 0.0);
        moments.push((mean, variance));
        let model_mean = read_out.black_code + read_out.codes_per_e * mean_e;
        case.near("mean_model", model_mean, list("mean_model")[level], 1e-9, 0.0);
        let noise = read_out.noise_codes(mean_e);
        case.near("var_model", noise * noise, list("var_model")[level], 1e-9, 0.0);
        let ratio = mean_e * read_out.codes_per_e / noise;
        case.near("snr_model", ratio, list("snr_model")[level], 1e-8, 1e-12);
    }
    // Photon transfer: the slope of variance over mean, up to 70 % of saturation.
    let saturation_e = number(&case.expected["mu_e_sat_grid"]);
    let (dark_mean, dark_variance) = moments[0];
    let (mut up, mut across) = (0.0, 0.0);
    let levels = numbers(&case.input["mu_e"]);
    for ((mean, variance), _) in
        moments.iter().zip(levels).filter(|(_, mean_e)| *mean_e <= 0.7 * saturation_e)
    {
        up += (mean - dark_mean) * (variance - dark_variance);
        across += (mean - dark_mean) * (mean - dark_mean);
    }
    case.near("K_ptc_exact", up / across, number(&case.expected["K_ptc_exact"]), 0.01, 0.0);
    // Saturation is where the variance peaks, on the file's grid of 61 levels.
    let full_e = (read_out.highest_code - read_out.black_code) / read_out.codes_per_e;
    let step = number(&case.expected["mu_e_sat_grid_step"]);
    let peak = (0..61u32)
        .map(|i| full_e * (0.85 + 0.15 * f64::from(i) / 60.0))
        .map(|mean_e| (mean_e, simulate("saturation", mean_e as u64, mean_e, PIXELS / 4).1))
        .max_by(|a, b| a.1.total_cmp(&b.1))
        .unwrap();
    case.near("mu_e_sat_grid", peak.0, saturation_e, 0.0, 3.5 * step);
    let dark_e = read_out.noise_codes(0.0) / read_out.codes_per_e;
    let least = ((dark_e * dark_e + 0.25).sqrt() + 0.5) / input("eta");
    case.near("mu_p_min_model", least, number(&case.expected["mu_p_min_model"]), 1e-6, 0.0);
    &[
        "mean_exact",
        "var_exact",
        "kurtosis_exact",
        "mean_model",
        "var_model",
        "snr_model",
        "K_ptc_exact",
        "mu_e_sat_grid",
        "mu_e_sat_grid_step",
        "mu_p_min_model",
    ]
}

/// Bilinear demosaicing, integer by integer.
pub(super) fn bayer(case: &Case<'_>) -> Keys {
    let size = |key: &str| number(&case.input[key]) as usize;
    let mosaic = match case.input["pattern"].as_str().unwrap() {
        "RGGB" => Mosaic::Rggb,
        "BGGR" => Mosaic::Bggr,
        "GRBG" => Mosaic::Grbg,
        "GBRG" => Mosaic::Gbrg,
        other => panic!("pattern {other}"),
    };
    let codes = numbers(&case.input["raw"]).into_iter().map(|v| v as u16).collect();
    let raw = Raw { mosaic, width: size("width"), height: size("height"), codes };
    let inside = |size: usize| 1..size - 1;
    let found: Vec<f64> = inside(raw.height)
        .flat_map(|row| inside(raw.width).map(move |column| (row, column)))
        .flat_map(|(row, column)| raw.rgb(row, column).map(f64::from))
        .collect();
    case.all_near("rgb_interior", &found, 0.0, 0.0);
    &["rgb_interior"]
}

/// Vignetting, blur, flicker and motion in closed form.
pub(super) fn closed_form(case: &Case<'_>) -> Keys {
    let input = |key: &str| number(&case.input[key]);
    let check = |key: &str, found: f64| {
        near(case.id, key, found, number(&case.expected[key]), 1e-9, 0.0);
    };
    match case.id.split('/').next().unwrap() {
        "vignetting" => check("relative", vignetting(input("theta").cos(), 0.0, 4.0, 0.0)),
        "blur" => {
            let focal = input("f");
            let diameter_mm = focal / input("N");
            let aperture = Aperture { image_mm: focal, focal_mm: focal, diameter_mm };
            check("diameter", aperture.blur_mm(input("s0"), input("s")));
        }
        "flicker" => {
            let (hz, length) = (input("f"), input("T"));
            let at = |phase_rad: f64| {
                Flicker { wave: Wave::Sine { depth: input("m") }, hz, phase_rad }.mean(0.0, length)
            };
            check("mean", at(input("phase")));
            // Brightest and darkest where the exposure is centred on a crest or trough.
            let crest = -PI * hz * length;
            let (a, b) = (at(crest), at(crest + PI));
            check("worst_ratio", a.max(b) / a.min(b));
        }
        "motion" => {
            check("pixels", motion_px(input("f_px"), input("v"), input("T"), input("Z")));
        }
        other => panic!("closed form {other}"),
    }
    &["relative", "diameter", "mean", "worst_ratio", "pixels"]
}
