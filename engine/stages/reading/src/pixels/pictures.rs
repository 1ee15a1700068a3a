//! From the pictures of a scan, or of several, to one of each camera.

use std::borrow::Cow;

use dryturn_handoff::Frame;
use thiserror::Error;

use super::bracket::merged;
use super::camera::CameraFacts;
use super::mean_frame::averaged;
use super::patches::Patches;

/// Frames that do not fit the scene.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum FrameError {
    /// The pictures of a scan are needed, or several such sets.
    #[error(
        "{found} pictures: {cameras} cameras take {wanted} a scan, which are needed camera by camera, \
         or several such sets one after the other"
    )]
    Count {
        /// Frames given.
        found: usize,
        /// Cameras in the scene.
        cameras: usize,
        /// Pictures that they take for a scan.
        wanted: usize,
    },
    /// A frame of another size than its camera's.
    #[error(
        "the picture of camera {camera} is {found_width} × {found_height}: it must be {width} × \
         {height} as in the scene"
    )]
    Size {
        /// The camera's name.
        camera: String,
        /// The frame's width.
        found_width: usize,
        /// The frame's height.
        found_height: usize,
        /// The camera's width.
        width: usize,
        /// The camera's height.
        height: usize,
    },
}

impl Patches {
    /// One frame of each camera from those of a scan, camera by camera, the darker one of a camera
    /// that takes two after its first; or from several such sets one after the other, of a cube that
    /// nobody touched between them.
    ///
    /// # Errors
    /// The first frame that does not fit the scene.
    pub(crate) fn one_each<'a>(&self, frames: &'a [Frame]) -> Result<Cow<'a, [Frame]>, FrameError> {
        let cameras = self.cameras();
        let taken = |camera: &CameraFacts| 1 + usize::from(camera.takes_two());
        let pictures =
            || cameras.iter().flat_map(|camera| core::iter::repeat_n(camera, taken(camera)));
        let wanted = pictures().count();
        if frames.is_empty() || !frames.len().is_multiple_of(wanted) {
            return Err(FrameError::Count { found: frames.len(), cameras: cameras.len(), wanted });
        }
        for (frame, camera) in frames.iter().zip(pictures().cycle()) {
            camera.check(frame)?;
        }
        let frames = averaged(frames, wanted).map_or(Cow::Borrowed(frames), Cow::Owned);
        if wanted == cameras.len() {
            return Ok(frames);
        }
        let mut next = frames.iter();
        let mut one = |camera: &CameraFacts| {
            let first = next.next().expect("as many frames as pictures");
            if !camera.takes_two() {
                return first.clone();
            }
            let second = next.next().expect("as many frames as pictures");
            merged(&camera.first, camera.rendering.share, first, second)
        };
        Ok(cameras.iter().map(&mut one).collect())
    }
}

impl CameraFacts {
    /// Whether a frame has its size.
    fn check(&self, frame: &Frame) -> Result<(), FrameError> {
        let (width, height) = (self.width, self.height);
        let fits = frame.width == width && frame.height == height;
        if fits && frame.pixels.len() == 3 * width * height {
            return Ok(());
        }
        Err(FrameError::Size {
            camera: self.name.clone(),
            found_width: frame.width,
            found_height: frame.height,
            width,
            height,
        })
    }
}
