//! What cameras make of light: grey, colour, noise, compression.

use dryturn_cube::Face;
use dryturn_optics::Response;
use dryturn_scene::file::{Camera, Pigment, WhiteBalance};
use dryturn_scene::{Scene, Visibility};

use super::lit::Lit;
use super::{Finding, FindingKind as Kind};

/// Grey whose channels differ by more than this is taken for a colour.
const TINTED: f64 = 5.0;
/// Colours that keep less than this of their saturation are pale: the built-in sensor's raw
/// channels leave 60 to 75 % (by lamp and make), its matrix brings 83 to 96 %.
const PALE: f64 = 0.78;
/// Off-diagonal entries below this mix nothing: the colour matrix corrects nothing.
const NO_MIXING: f64 = 0.1;
/// Colourfulness below this leaves little of a colour.
const LITTLE_SATURATION: f64 = 0.3;
/// A shift of brightness that pushes dark or bright colours out of the picture's range.
const MUCH_BRIGHTNESS: f64 = 0.25;
/// JPEG below this quality has colours by blocks of 16 pixels, far off.
const COARSE_PERCENT: u32 = 30;
/// Noise or dark current beyond this share of the sensor's range.
const MUCH_OF_RANGE: f64 = 0.05;

pub(super) fn findings(lit: &Lit<'_>) -> Vec<Finding> {
    let cameras = 0..lit.scene.file().cameras.len();
    let of = |camera| {
        [
            grey(lit, camera),
            pale(lit, camera),
            developed(lit, camera),
            compressed(lit, camera),
            no_patch(lit.scene, lit.visibility, camera),
            read_noise(lit, camera),
            dark_current(lit, camera),
        ]
    };
    cameras.flat_map(of).flatten().collect()
}

/// Linear light of grey in the sensor's channels, any scale, under what light falls on the
/// facelets that a camera reads; `None` in the dark.
fn grey_light(lit: &Lit<'_>, camera: usize) -> Option<[f64; 3]> {
    let lux = lit.mean_lux(camera);
    let mut sum = [0.0; 3];
    for (light, lux) in lux.iter().enumerate().filter(|(_, lux)| **lux > 0.0) {
        let response = Response::of(lit.scene, camera, light).full_scale_per_s;
        (0..3).for_each(|c| sum[c] += lux * response[c]);
    }
    sum.iter().all(|v| *v > 0.0).then_some(sum)
}

fn spread(rgb: [f64; 3]) -> f64 {
    let (low, high) =
        rgb.iter().fold((f64::INFINITY, 0.0), |(a, b): (f64, f64), v| (a.min(*v), b.max(*v)));
    high / low.max(1e-9 * high)
}

fn grey(lit: &Lit<'_>, camera: usize) -> Option<Finding> {
    let settings = &lit.scene.file().cameras[camera];
    if settings.white_balance != WhiteBalance::Fixed {
        return None;
    }
    let [r, g, b] = grey_light(lit, camera)?;
    let (red, blue) = (settings.white_balance_red_ratio, settings.white_balance_blue_ratio);
    let shown = [r * red, g, b * blue].map(|v| v / g);
    let tint = spread(shown);
    (tint > TINTED).then(|| {
        Finding::doubtful(Kind::GreyIsTinted, lit.field(camera, "white_balance_red_ratio"))
            .figure("red_over_green_ratio", shown[0])
            .figure("blue_over_green_ratio", shown[2])
            .says(
                format!(
                    "grey comes out with {:.2} times as much red and {:.2} times as much blue as \
                     green",
                    shown[0], shown[2]
                ),
                format!(
                    "white_balance_red_ratio {:.2} and white_balance_blue_ratio {:.2} make it grey",
                    g / r,
                    g / b
                ),
            )
    })
}

/// Mean saturation (1 − least over greatest channel) of the colours but white in the
/// picture, linear, with grey kept grey; with and without the colour matrix.
fn saturations(lit: &Lit<'_>, camera: usize) -> Option<[f64; 2]> {
    let lux = lit.mean_lux(camera);
    let most = (0..lux.len()).max_by(|a, b| lux[*a].total_cmp(&lux[*b]))?;
    let pigments = Response::of(lit.scene, camera, most).pigments;
    let file = lit.scene.file();
    let matrix = file.cameras[camera].colour_matrix();
    let colours = &file.cube.colours;
    let coloured: Vec<[f64; 3]> = Face::ALL
        .into_iter()
        .filter(|face| colours.of(*face) != Pigment::White)
        .map(|face| pigments[face.index()])
        .collect();
    let saturation = |rgb: [f64; 3]| {
        let high = rgb.into_iter().fold(0.0, f64::max).max(1e-9);
        1.0 - rgb.into_iter().fold(f64::INFINITY, f64::min).max(0.0) / high
    };
    let corrected =
        |rgb: &[f64; 3]| matrix.map(|row| row.iter().zip(rgb).map(|(m, v)| m * v).sum());
    let mean = |values: Vec<f64>| values.iter().sum::<f64>() / values.len() as f64;
    Some([
        mean(coloured.iter().map(|rgb| saturation(corrected(rgb))).collect()),
        mean(coloured.iter().map(|rgb| saturation(*rgb)).collect()),
    ])
}

fn pale(lit: &Lit<'_>, camera: usize) -> Option<Finding> {
    let [with, _] = saturations(lit, camera)?;
    let matrix = lit.scene.file().cameras[camera].colour_matrix();
    let mixes = (0..3).any(|i| (0..3).any(|j| i != j && matrix[i][j].abs() > NO_MIXING));
    (with < PALE && !mixes).then(|| {
        Finding::doubtful(Kind::ColoursPale, lit.field(camera, "colour_matrix_red_ratio"))
            .figure("saturation_share", with)
            .says(
                format!(
                    "the colour matrix corrects nothing: the colours keep {:.0} % of their \
                     saturation, for the sensor's channels overlap",
                    100.0 * with
                ),
                "give the camera's matrix, for example rows (1.78, -0.73, -0.05), \
                 (-0.235, 1.53, -0.295), (0.005, -0.445, 1.44) for the built-in sensor",
            )
    })
}

fn developed(lit: &Lit<'_>, camera: usize) -> Option<Finding> {
    let Camera { saturation_ratio, brightness_share, .. } = lit.scene.file().cameras[camera];
    if saturation_ratio < LITTLE_SATURATION {
        let field = lit.field(camera, "saturation_ratio");
        return Some(
            Finding::wrong(Kind::SaturationOff, field)
                .figure("saturation_ratio", saturation_ratio)
                .says(
                    format!("it leaves {:.0} % of every colour", 100.0 * saturation_ratio),
                    "1 leaves colours as they are",
                ),
        );
    }
    (brightness_share.abs() > MUCH_BRIGHTNESS).then(|| {
        let end = if brightness_share > 0.0 { "white" } else { "black" };
        Finding::wrong(Kind::BrightnessOff, lit.field(camera, "brightness_share"))
            .figure("brightness_share", brightness_share)
            .says(
                format!(
                    "{:.0} % of the picture's range is pushed into {end}",
                    100.0 * brightness_share.abs()
                ),
                "0 leaves the picture; change the exposure instead",
            )
    })
}

fn compressed(lit: &Lit<'_>, camera: usize) -> Option<Finding> {
    let quality = lit.scene.file().cameras[camera].jpeg_quality_percent;
    (quality > 0 && quality < COARSE_PERCENT).then(|| {
        Finding::doubtful(Kind::JpegCoarse, lit.field(camera, "jpeg_quality_percent"))
            .figure("jpeg_quality_percent", f64::from(quality))
            .says(
                format!("quality {quality} averages colour over blocks, at facelets' rims too"),
                "80 and more are harmless; 0 sends the picture as it is",
            )
    })
}

fn no_patch(scene: &Scene, visibility: &Visibility, camera: usize) -> Option<Finding> {
    let settings = &scene.file().cameras[camera];
    let pixels = visibility.grey_pixels(camera).len();
    let wants = settings.white_balance == WhiteBalance::GreyPatch;
    (wants && pixels < Visibility::LEAST_PX).then(|| {
        let field = format!("cameras.{}.white_balance", settings.name);
        Finding::doubtful(Kind::NoGreyPatch, field).figure("patch_px", pixels as f64).says(
            format!("{pixels} pixels surely show a grey patch"),
            "put the patch where the camera sees it, or take Fixed",
        )
    })
}

/// Electrons between no light and the highest code.
fn range_e(camera: &Camera) -> f64 {
    camera.full_well_e / camera.gain_ratio.max(1.0)
}

fn read_noise(lit: &Lit<'_>, camera: usize) -> Option<Finding> {
    let settings = &lit.scene.file().cameras[camera];
    let share = settings.read_noise_e / range_e(settings);
    (share > MUCH_OF_RANGE).then(|| {
        Finding::doubtful(Kind::ReadNoiseLarge, lit.field(camera, "read_noise_e"))
            .figure("noise_share", share)
            .says(
                format!("read noise is {:.0} % of the sensor's range", 100.0 * share),
                "usual sensors have some electrons; lower gain_ratio where it is high",
            )
    })
}

fn dark_current(lit: &Lit<'_>, camera: usize) -> Option<Finding> {
    let settings = &lit.scene.file().cameras[camera];
    let dark_e = settings.dark_current_e_per_s * settings.exposure_ms * 1e-3;
    let share = dark_e / range_e(settings);
    (share > MUCH_OF_RANGE).then(|| {
        Finding::doubtful(Kind::DarkFillsWell, lit.field(camera, "dark_current_e_per_s"))
            .figure("dark_share", share)
            .says(
                format!(
                    "{dark_e:.0} electrons without light fill {:.0} % of the range",
                    100.0 * share
                ),
                "cool the sensor or expose for a shorter time",
            )
    })
}
