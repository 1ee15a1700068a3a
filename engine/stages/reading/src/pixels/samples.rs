//! What a scan's patches show: the step between pixels and colours.

use dryturn_cube::Facelet;
use dryturn_handoff::{CameraFound, Frame};
use dryturn_units::colour::EncodedRgb8;

use super::parts::{Part, parts};
use super::patches::{Patches, Standing};
use super::pictures::FrameError;
use super::shown::Pixels;

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
