//! From electrons to a picture: exposure time, noise, conversion, demosaicing, white
//! balance, colour correction, encoding.

use dryturn_cube::Stickering;
use dryturn_handoff::Frame;
use dryturn_scene::file::{Camera, FixtureUse, Mosaic, WhiteBalance};
use dryturn_scene::{Material, Scene};
use dryturn_units::colour::{LinearRgb, encode_srgb};
use dryturn_units::stop::{self, carried};
use rayon::prelude::*;

use super::exposure::{Painted, Shot};
use super::jpeg::through_jpeg;
use crate::as_built::AsBuilt;
use crate::camera::mosaic::{Raw, channel_at};
use crate::camera::sensor::{CHANNELS, ReadOut, saturating_e};
use crate::lit_view::LitView;

/// Every so manieth row and column is looked at to choose the exposure time.
const METERED: usize = 4;
/// Rounds in which a camera settles on its exposure time: each halves the range of its
/// logarithm, to a ten-thousandth in the end.
const AUTO_EXPOSURE_ROUNDS: usize = 17;
/// Factors that a camera chooses for its white balance.
const AUTO_BALANCE: (f64, f64) = (0.1, 10.0);
/// A pixel counts as full when it is so many deviations of the read noise below.
const FULL_WELL_SIGMAS: f64 = 4.0;
/// Memory of a pixel while it is developed: what is clipped, what is counted for the white
/// balance, the picture, and what a JPEG goes through.
const DEVELOPED_BYTES: usize = 12;
/// Pixels left out round the rim of a grey patch: the mount may be a little off.
const PATCH_RIM_PX: usize = 2;

/// A picture and what the camera did to take it.
#[derive(Clone, Debug, PartialEq)]
pub struct Taken {
    /// The picture.
    pub frame: Frame,
    /// What the sensor delivered.
    pub raw: Raw,
    /// For each pixel, whether any of the codes behind it was at the ceiling.
    pub clipped: Vec<bool>,
    /// Exposure time.
    pub exposure_ms: f64,
    /// Factors on red and blue.
    pub balance: [f64; 2],
    scale: Scale,
    matrix: [[f64; CHANNELS]; CHANNELS],
}

impl Taken {
    /// Linear light of pixel number `row · width + column` after white balance and colour
    /// correction, 1 at full scale; nothing is clipped but by the sensor.
    ///
    /// # Panics
    /// If the number is out of range.
    #[must_use]
    pub fn linear_at(&self, pixel: usize) -> [f32; CHANNELS] {
        let (row, column) = (pixel / self.raw.width, pixel % self.raw.width);
        let light = self.scale.linear(&self.raw, row, column);
        mixed(self.matrix, self.balance)(light).map(|v| v as f32)
    }

    /// The same of every pixel. It is four times as large as the picture, and not kept.
    #[must_use]
    pub fn linear(&self) -> Vec<[f32; CHANNELS]> {
        (0..self.raw.width * self.raw.height).map(|pixel| self.linear_at(pixel)).collect()
    }
}

/// From codes to light.
#[derive(Clone, Copy, Debug, PartialEq)]
struct Scale {
    black_code: f64,
    a_code: f64,
}

impl Scale {
    /// What the sensor says of a pixel's light, 1 at full scale: to the precision of an f32.
    fn linear(self, raw: &Raw, row: usize, column: usize) -> [f64; CHANNELS] {
        let light = |code: u16| ((f64::from(code) - self.black_code) * self.a_code) as f32;
        raw.rgb(row, column).map(|code| f64::from(light(code)))
    }
}

impl LitView {
    /// Photographs a cube that shows `shown`. `scene` must be the one that was traced,
    /// except that its lamps may be brighter, darker or of another colour, and its
    /// cameras' sensors set otherwise: that needs no new rays.
    ///
    /// # Panics
    /// If the scene has another number of lamps than the traced one.
    #[must_use]
    pub fn expose(
        &self,
        scene: &Scene,
        built: &AsBuilt,
        shown: &Stickering,
        shot: Shot<'_>,
    ) -> Frame {
        self.take(scene, built, shown, shot).frame
    }

    /// The same with all that the camera knows of the picture.
    ///
    /// # Panics
    /// As with [`LitView::expose`].
    #[must_use]
    pub fn take(
        &self,
        scene: &Scene,
        built: &AsBuilt,
        shown: &Stickering,
        shot: Shot<'_>,
    ) -> Taken {
        let camera = &scene.file().cameras[self.camera];
        let painted = Painted::new(self, scene, built, shown, shot);
        let exposure_s = self.exposure_s(camera, &painted);
        let raw = self.raw(camera, &painted, exposure_s, shot);
        self.develop(scene, camera, raw, exposure_s)
    }

    /// The camera's own exposure time, or the one that brings the mean of green to
    /// where the camera wants it.
    pub(crate) fn exposure_s(&self, camera: &Camera, painted: &Painted<'_>) -> f64 {
        if camera.auto_exposure_share == 0.0 {
            return camera.exposure_ms * 1e-3;
        }
        let full_e = saturating_e(camera);
        let wanted_e = camera.auto_exposure_share * camera.full_well_e / camera.gain_ratio;
        let [shortest_s, longest_s] = Camera::CHOSEN_MS.map(|ms| 1e-3 * ms);
        let [mut low_s, mut high_s] = [shortest_s, longest_s];
        // The mean grows with the time, saturated pixels or not.
        for _ in 0..AUTO_EXPOSURE_ROUNDS {
            let exposure_s = (low_s * high_s).sqrt();
            let (mut sum, mut count) = (0.0, 0.0);
            for row in (0..self.height).step_by(METERED) {
                let levels = painted.levels(camera, row, exposure_s);
                painted.row(row, &levels, |column, light| {
                    if column % METERED == 0 {
                        sum += (light.all[1] * exposure_s).min(full_e);
                        count += 1.0;
                    }
                });
            }
            *(if sum < wanted_e * count { &mut low_s } else { &mut high_s }) = exposure_s;
        }
        if high_s == longest_s {
            longest_s
        } else if low_s == shortest_s {
            shortest_s
        } else {
            (low_s * high_s).sqrt()
        }
    }

    /// Exposes every row: one stream of noise a row, the same number of words a pixel,
    /// so that what one pixel draws depends on no other.
    fn raw(&self, camera: &Camera, painted: &Painted<'_>, exposure_s: f64, shot: Shot<'_>) -> Raw {
        let read_out = ReadOut::of(camera);
        let dark_e = camera.dark_current_e_per_s * exposure_s;
        let a_pixel = if camera.mosaic == Mosaic::None { CHANNELS } else { 1 };
        let room = stop::room(2 * a_pixel * self.width * self.height);
        let mut codes = vec![0; a_pixel * self.width * self.height];
        drop(room);
        let expose = |(row, out): (usize, &mut [u16])| {
            let stream = u64::from(shot.second) << 63 | (self.camera as u64) << 32 | row as u64;
            let mut noise = shot.seed.stream(shot.name, shot.trial, stream);
            let levels = painted.levels(camera, row, exposure_s);
            painted.row(row, &levels, |column, light| {
                let mut draw = |channel: usize| {
                    let mean_e = light.all[channel] * exposure_s + dark_e;
                    read_out.draw(mean_e, &mut noise) as u16
                };
                match channel_at(camera.mosaic, row, column) {
                    Some(channel) => out[column] = draw(channel),
                    None => (0..CHANNELS).for_each(|c| out[CHANNELS * column + c] = draw(c)),
                }
            });
        };
        codes.par_chunks_mut(a_pixel * self.width).enumerate().for_each(carried(expose));
        Raw { mosaic: camera.mosaic, width: self.width, height: self.height, codes }
    }

    fn develop(&self, scene: &Scene, camera: &Camera, raw: Raw, exposure_s: f64) -> Taken {
        let read_out = ReadOut::of(camera);
        let a_code = 1.0 / (read_out.highest_code - read_out.black_code);
        let scale = Scale { black_code: read_out.black_code, a_code };
        // A full well is a ceiling too where it lies below the highest code; noise of the
        // read-out comes after it, so a full pixel may read a little less.
        let noise_e = FULL_WELL_SIGMAS * read_out.read_noise_e;
        let full_e = (read_out.full_well_e - noise_e).max(0.5 * read_out.full_well_e);
        let full_well = full_e * read_out.codes_per_e + read_out.black_code;
        let ceiling = full_well.min(read_out.highest_code) as u16;
        let (width, height) = (self.width, self.height);
        drop(stop::room(DEVELOPED_BYTES * width * height));
        let clipped = raw.clipped(ceiling);
        let balance = self.balance(scene, camera, (&raw, scale, &clipped));
        let mut encoded = vec![0; CHANNELS * width * height];
        let matrix = camera.colour_matrix();
        let mix = mixed(matrix, balance);
        encoded.par_chunks_mut(CHANNELS * width).enumerate().for_each(|(row, out)| {
            for (column, pixel) in out.chunks_exact_mut(CHANNELS).enumerate() {
                pixel.copy_from_slice(&encode(camera, mix(scale.linear(&raw, row, column))));
            }
        });
        let frame = Frame { camera: camera.name.clone(), width, height, pixels: encoded };
        let frame = through_jpeg(frame, camera.jpeg_quality_percent);
        let exposure_ms = exposure_s * 1e3;
        Taken { frame, raw, clipped, exposure_ms, balance, scale, matrix }
    }

    /// Factors on red and blue.
    fn balance(
        &self,
        scene: &Scene,
        camera: &Camera,
        (raw, scale, clipped): (&Raw, Scale, &[bool]),
    ) -> [f64; 2] {
        let fixed = [camera.white_balance_red_ratio, camera.white_balance_blue_ratio];
        let mut sums = [0.0; CHANNELS];
        let mut count = |pixel: usize| {
            if !clipped[pixel] {
                let light = scale.linear(raw, pixel / self.width, pixel % self.width);
                (0..CHANNELS).for_each(|c| sums[c] += light[c]);
            }
        };
        match camera.white_balance {
            WhiteBalance::Fixed => return fixed,
            WhiteBalance::GreyWorld => (0..clipped.len()).for_each(&mut count),
            WhiteBalance::GreyPatch => {
                grey_patch(scene, self.camera).into_iter().for_each(|pixel| count(pixel as usize))
            }
        }
        // Nothing to go by: the camera keeps what it is set to.
        if sums.iter().any(|&sum| sum <= 0.0) {
            return fixed;
        }
        [sums[0], sums[2]].map(|sum| (sums[1] / sum).clamp(AUTO_BALANCE.0, AUTO_BALANCE.1))
    }
}

/// Pixels of a camera that show the grey patch by the drawing, without a rim.
pub(crate) fn grey_patch(scene: &Scene, camera: usize) -> Vec<u32> {
    let settings = &scene.file().cameras[camera];
    let (width, height) = (settings.width_px as usize, settings.height_px as usize);
    let materials = scene.rig().sight(&scene.views()[camera], width, height).materials;
    let is_patch = |material: Material| {
        let fixture = material.fixture_index().and_then(|i| scene.file().fixtures.get(i));
        fixture.is_some_and(|fixture| fixture.role == FixtureUse::GreyPatch)
    };
    let whole = |i: &u32| {
        let (row, column) = (*i as usize / width, *i as usize % width);
        let rows = row.saturating_sub(PATCH_RIM_PX)..(row + PATCH_RIM_PX + 1).min(height);
        rows.into_iter().all(|r| {
            let from = r * width + column.saturating_sub(PATCH_RIM_PX);
            let to = r * width + (column + PATCH_RIM_PX + 1).min(width);
            materials[from..to].iter().all(|&m| is_patch(m))
        })
    };
    (0..(width * height) as u32).filter(whole).collect()
}

/// Balance, then the camera's colour matrix.
pub(crate) fn mixed(
    matrix: [[f64; CHANNELS]; CHANNELS],
    balance: [f64; 2],
) -> impl Fn([f64; CHANNELS]) -> [f64; CHANNELS] {
    move |[r, g, b]| {
        let balanced = [r * balance[0], g, b * balance[1]];
        matrix.map(|m| m[0] * balanced[0] + m[1] * balanced[1] + m[2] * balanced[2])
    }
}

/// sRGB, then the saturation and brightness that cheap cameras offer: on the encoded
/// picture, about the luma of ITU-R BT.601.
pub(crate) fn encode(camera: &Camera, rgb: [f64; CHANNELS]) -> [u8; CHANNELS] {
    let (saturation, brightness) = (camera.saturation_ratio, camera.brightness_share);
    if saturation == 1.0 && brightness == 0.0 {
        return LinearRgb(rgb).encode().0;
    }
    let encoded = rgb.map(|v| encode_srgb(v.clamp(0.0, 1.0)));
    let luma = 0.299 * encoded[0] + 0.587 * encoded[1] + 0.114 * encoded[2];
    encoded.map(|v| {
        let set = luma + saturation * (v - luma) + brightness;
        (255.0 * set.clamp(0.0, 1.0)).round() as u8
    })
}
