//! Pictures for a guest, as files in its private folder.

use std::path::{Path, PathBuf};

use dryturn_handoff::Frame;
use dryturn_scene::file::SceneFile;
use image::{ExtendedColorType, ImageFormat};
use schemars::JsonSchema;
use serde::Serialize;

/// A picture.
#[derive(Debug, Serialize, JsonSchema)]
pub(crate) struct Picture {
    /// Name of the camera.
    camera: String,
    /// Which of its exposures it is.
    exposure: Exposure,
    /// Absolute path of an 8-bit RGB PNG, sRGB.
    path: String,
    /// Width, pixels.
    width_px: usize,
    /// Height, pixels.
    height_px: usize,
}

/// Which exposure of a camera.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub(crate) enum Exposure {
    /// The only one, or the first.
    First,
    /// The second, darker one of a camera that takes two.
    Darker,
}

/// The pictures of a question.
pub(super) struct Pictures {
    folder: PathBuf,
    /// Pictures that have been written, in all.
    count: u64,
    there: Vec<PathBuf>,
}

impl Pictures {
    pub(super) fn in_folder(folder: &Path) -> Self {
        Self { folder: folder.to_owned(), count: 0, there: Vec::new() }
    }

    /// Takes those of the last question away.
    pub(super) fn clear(&mut self) {
        for path in self.there.drain(..) {
            // A guest may have done so itself.
            let _ = std::fs::remove_file(path);
        }
    }

    /// Writes frames of a scene's cameras.
    ///
    /// # Errors
    /// Why it cannot be done.
    pub(super) fn write(
        &mut self,
        scene: &SceneFile,
        frames: &[Frame],
    ) -> Result<Vec<Picture>, String> {
        let named = scene.cameras.iter().flat_map(|camera| {
            let exposures = [Exposure::First, Exposure::Darker].into_iter();
            exposures
                .zip(camera.picture_names())
                .map(move |(exposure, name)| (camera, exposure, name))
        });
        let named: Vec<_> = named.collect();
        let one = |frame: &Frame| {
            let of = named.iter().find(|(.., name)| *name == frame.camera);
            let &(camera, exposure, _) =
                of.ok_or_else(|| format!("{}: no camera takes this picture", frame.camera))?;
            self.count += 1;
            let path = self.folder.join(format!("{:06}-{}.png", self.count, frame.camera));
            save(frame, &path).map_err(|why| format!("{}: {why}", path.display()))?;
            let shown = path.to_string_lossy().into_owned();
            self.there.push(path);
            Ok(Picture {
                camera: camera.name.clone(),
                exposure,
                path: shown,
                width_px: frame.width,
                height_px: frame.height,
            })
        };
        frames.iter().map(one).collect()
    }
}

fn save(frame: &Frame, path: &Path) -> Result<(), String> {
    let size = |pixels: usize| u32::try_from(pixels).map_err(|_| "too large".to_owned());
    let (width, height) = (size(frame.width)?, size(frame.height)?);
    let (rgb, png) = (ExtendedColorType::Rgb8, ImageFormat::Png);
    image::save_buffer_with_format(path, &frame.pixels, width, height, rgb, png)
        .map_err(|error| error.to_string())
}
