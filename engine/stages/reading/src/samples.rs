//! What a scan's patches show: the step between pixels and colours.

use dryturn_cube::Facelet;
use dryturn_geometry::DVec3;
use dryturn_handoff::{CameraFound, Frame};
use dryturn_units::colour::EncodedRgb8;

use crate::parts::{Part, parts};
use crate::patches::{Patches, Standing};
use crate::pictures::FrameError;

/// Bands of a facelet that are looked at each by itself.
pub(crate) const BANDS: usize = 8;

/// What some pixels show together.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Pixels {
    pub(crate) median: EncodedRgb8,
    /// Mean linear colour of each eighth of them, in the order in which they lie.
    pub(crate) bands: [DVec3; BANDS],
    /// Share of them with a channel that is as high as it goes.
    pub(crate) saturated_share: f64,
}

impl Pixels {
    /// All of one colour, below saturation.
    pub(crate) fn even(colour: EncodedRgb8) -> Self {
        let bands = [DVec3::from_array(colour.decode().0); BANDS];
        Self { median: colour, bands, saturated_share: 0.0 }
    }
}

/// What a facelet shows in the camera that sees most of it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Sample {
    pub(crate) camera: usize,
    pub(crate) pixels: Pixels,
}

/// The samples of one scan, which any reader can make a cube of.
pub struct Sampled {
    /// By facelet index; `None` where nothing is seen.
    pub(crate) samples: Vec<Option<Sample>>,
    /// Of every facelet in every camera that sees enough of it: what is alike there.
    pub(crate) parts: Vec<Part>,
    /// Where each camera was found.
    pub(crate) cameras: Vec<CameraFound>,
    /// How each camera sees the grey patch, where it does.
    pub(crate) grey: Vec<Option<EncodedRgb8>>,
    /// The camera that is left out.
    left_out: Option<usize>,
}

impl Sampled {
    /// Samples the frames of a scan, as [`dryturn_scene::file::SceneFile::picture_names`] has them,
    /// or several such sets one after the other, of a cube that nobody touched between them.
    ///
    /// # Errors
    /// Frames that do not fit the scene.
    pub fn of(patches: &Patches, frames: &[Frame]) -> Result<Self, FrameError> {
        let frames = patches.one_each(frames)?;
        Ok(Self::standing(patches, &frames, &patches.standing(&frames)))
    }

    /// The same of one frame of each camera, where their places are known.
    pub(crate) fn standing(patches: &Patches, frames: &[Frame], standing: &Standing) -> Self {
        let cameras = 0..patches.camera_count();
        let found = |camera: usize| match standing {
            Standing::Drawn => CameraFound { light_ratio: [1.0; 3], ..CameraFound::default() },
            Standing::At(aligned) => {
                let [a, b, c, x, y, z] = aligned[camera].off;
                CameraFound { shift_mm: [x, y, z], turn_deg: [a, b, c], light_ratio: [1.0; 3] }
            }
        };
        let mut samples = vec![None; Facelet::COUNT];
        let mut alike = Vec::new();
        for (camera, facelet) in cameras.clone().flat_map(|c| Facelet::all().map(move |f| (c, f))) {
            let Some(pixels) = patches.pixels(standing, camera, facelet) else { continue };
            let shown = |pixels: &[usize]| patches.shown(frames, camera, pixels);
            if patches.camera_of(facelet) == Some(camera) {
                let sample = shown(&pixels).map(|pixels| Sample { camera, pixels });
                samples[facelet.index()] = sample;
            }
            alike.extend(parts(&frames[camera], (camera, facelet), &pixels, shown));
        }
        Self {
            samples,
            parts: alike,
            cameras: cameras.clone().map(found).collect(),
            grey: cameras.map(|camera| patches.grey(frames, camera)).collect(),
            left_out: None,
        }
    }

    /// The same as if a camera had not looked: what it shows most of is taken from the largest
    /// part that another one shows.
    pub(crate) fn without(&self, camera: usize) -> Self {
        let parts: Vec<Part> =
            self.parts.iter().filter(|part| part.camera != camera).copied().collect();
        let largest = |facelet: Facelet| {
            let own = parts.iter().filter(|part| part.facelet == facelet);
            let largest = own.reduce(|a, b| if b.share > a.share { b } else { a })?;
            Some(Sample { camera: largest.camera, pixels: largest.pixels })
        };
        let sample = |(facelet, sample): (Facelet, &Option<Sample>)| match sample {
            Some(own) if own.camera == camera => largest(facelet),
            own => *own,
        };
        Self {
            samples: Facelet::all().zip(&self.samples).map(sample).collect(),
            parts,
            cameras: self.cameras.clone(),
            grey: self.grey.clone(),
            left_out: Some(camera),
        }
    }

    /// How many cameras see enough of a facelet.
    pub(crate) fn seen_by(&self, patches: &Patches, facelet: Facelet) -> usize {
        let by = |camera: &usize| Some(*camera) != self.left_out && patches.sees(*camera, facelet);
        (0..patches.camera_count()).filter(by).count()
    }
}

/// Median, bands and saturation of some pixels of a frame; `None` of no pixels.
pub(crate) fn statistics(frame: &Frame, pixels: &[usize], ceiling: &[u8; 3]) -> Option<Pixels> {
    let count = pixels.len();
    if count == 0 {
        return None;
    }
    let mut histogram = [[0usize; 256]; 3];
    let mut saturated = 0;
    let mut bands = [(DVec3::ZERO, 0.0); BANDS];
    for (k, &pixel) in pixels.iter().enumerate() {
        let shown = frame.pixel(pixel);
        let colour = shown.0;
        let band = &mut bands[k * BANDS / count];
        band.0 += DVec3::from_array(shown.decode().0);
        band.1 += 1.0;
        colour.iter().zip(&mut histogram).for_each(|(&v, h)| h[usize::from(v)] += 1);
        saturated += usize::from(colour.iter().zip(ceiling).any(|(v, top)| v >= top));
    }
    // The first code with half of all at it or below.
    let median = EncodedRgb8(histogram.map(|h| {
        let mut below = 0;
        let code = h.iter().position(|&n| {
            below += n;
            2 * below >= count
        });
        code.unwrap_or(0) as u8
    }));
    // Fewer pixels than bands leave some empty.
    let mean = |(sum, n): (DVec3, f64)| {
        if n > 0.0 { sum / n } else { DVec3::from_array(median.decode().0) }
    };
    Some(Pixels {
        median,
        bands: bands.map(mean),
        saturated_share: saturated as f64 / count as f64,
    })
}
