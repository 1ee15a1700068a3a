//! Reading files from disk, within bounds.

pub(crate) mod cube;
pub(crate) mod known;

use std::io::Cursor;
use std::path::Path;

use dryturn_handoff::Frame;
use dryturn_reading::MeanFrame;
use dryturn_scene::Scene;
use dryturn_scene::file::Camera;
use image::{ImageFormat, ImageReader, Limits};

use crate::failure::Failure;

/// Largest picture file.
const MAX_PICTURE_BYTES: u64 = 64 << 20;
/// Most memory that decoding a picture may take.
const MAX_DECODED_BYTES: u64 = 256 << 20;

/// Most sets of pictures that are averaged.
const MOST_SETS: usize = 10_000;
/// Most sums of a picture at a time, four bytes each: larger pictures are read again for every
/// so many of their bytes.
const MOST_SUMS: usize = 48_000_000;

/// A text file, UTF-8 with or without byte order mark, at most 1 MiB.
pub(crate) fn text(path: &Path) -> Result<String, Failure> {
    dryturn_console::text(path).map_err(Failure::input)
}

/// Largest log.
const MAX_LOG_BYTES: u64 = 64 << 20;

/// A log, UTF-8, at most 64 MiB.
pub(crate) fn log(path: &Path) -> Result<String, Failure> {
    let bytes = dryturn_console::bytes(path, MAX_LOG_BYTES).map_err(Failure::input)?;
    String::from_utf8(bytes).map_err(|error| {
        let good = &error.as_bytes()[..error.utf8_error().valid_up_to()];
        let line = 1 + good.iter().filter(|byte| **byte == b'\n').count();
        let shown = path.display();
        Failure::input(format!("{shown}: line {line}: no UTF-8 text: must be a CSV table"))
    })
}

/// Whether a JPEG has its end marker after its last scan. Without it the rest of
/// the picture is missing, which decoders pass over in silence.
fn jpeg_is_whole(bytes: &[u8]) -> bool {
    let last = |marker: u8| bytes.windows(2).rposition(|pair| pair == [0xff, marker]);
    matches!((last(0xda), last(0xd9)), (Some(scan), Some(end)) if scan < end)
}

/// A scene file.
pub(crate) fn scene(path: &Path) -> Result<Scene, Failure> {
    dryturn_console::scene(path).map_err(Failure::faults)
}

/// A scene file with other values for some fields, one after the other.
pub(crate) fn scene_with(path: &Path, settings: &[(String, String)]) -> Result<Scene, Failure> {
    settings.iter().try_fold(scene(path)?, |scene, (field, value)| {
        scene.with_text(field, value).map_err(Failure::input)
    })
}

/// A scene whose cameras have another number of pixels on the same sensors.
pub(crate) fn sized_scene(path: &Path, size: Option<[u32; 2]>) -> Result<Scene, Failure> {
    let scene = scene(path)?;
    let Some(size) = size else { return Ok(scene) };
    scene.with_pixels(size).map_err(Failure::input)
}

/// A picture of a camera, PNG or JPEG, of the camera's size. The size is checked
/// before anything is unpacked.
pub(crate) fn picture(path: &Path, camera: &Camera) -> Result<Frame, Failure> {
    let wanted = (camera.width_px, camera.height_px);
    any_picture(path, &camera.name, |size| {
        if size == wanted {
            return Ok(());
        }
        Err(Failure::input(format!(
            "{}: {} × {} pixels: the picture of camera {} must be {} × {} as in the scene",
            path.display(),
            size.0,
            size.1,
            camera.name,
            wanted.0,
            wanted.1
        )))
    })
}

/// A picture, PNG or JPEG, of a size that is `fine`.
pub(crate) fn any_picture(
    path: &Path,
    name: &str,
    fine: impl Fn((u32, u32)) -> Result<(), Failure>,
) -> Result<Frame, Failure> {
    let shown = path.display();
    let bytes = dryturn_console::bytes(path, MAX_PICTURE_BYTES).map_err(Failure::input)?;
    let format = match image::guess_format(&bytes) {
        Ok(format @ (ImageFormat::Png | ImageFormat::Jpeg)) => format,
        _ => return Err(Failure::input(format!("{shown}: neither a PNG nor a JPEG picture"))),
    };
    let broken = |error: image::ImageError| {
        let text = error.to_string().replace('\n', " ");
        Failure::input(format!("{shown}: the picture cannot be read: {text}"))
    };
    let reader = || {
        let mut reader = ImageReader::with_format(Cursor::new(&bytes), format);
        let mut limits = Limits::default();
        limits.max_alloc = Some(MAX_DECODED_BYTES);
        reader.limits(limits);
        reader
    };
    let size = reader().into_dimensions().map_err(broken)?;
    fine(size)?;
    if format == ImageFormat::Jpeg && !jpeg_is_whole(&bytes) {
        return Err(Failure::input(format!("{shown}: the picture is cut off: no end marker")));
    }
    let decoded = reader().decode().map_err(broken)?.into_rgb8();
    Ok(Frame {
        camera: name.to_owned(),
        width: size.0 as usize,
        height: size.1 as usize,
        pixels: decoded.into_raw(),
    })
}

/// The pictures of a scan, in order: each one's camera, and what it is called.
pub(crate) fn pictures_of(scene: &Scene) -> Vec<(&Camera, String)> {
    let all = |camera| Camera::picture_names(camera).into_iter().map(move |name| (camera, name));
    scene.file().cameras.iter().flat_map(all).collect()
}

/// The pictures of a scan: of each camera one, and the darker one of a camera that takes two. Where
/// several such sets are given one after the other, the mean of each pixel's light; no more than
/// one picture and the sums are in memory.
pub(crate) fn pictures<P: AsRef<Path>>(scene: &Scene, paths: &[P]) -> Result<Vec<Frame>, Failure> {
    let wanted = pictures_of(scene);
    if paths.is_empty() || !paths.len().is_multiple_of(wanted.len()) {
        let names: Vec<&str> = wanted.iter().map(|(_, name)| name.as_str()).collect();
        return Err(Failure::input(format!(
            "{} pictures given: {} needs these, in this order: {} (or several such sets)",
            paths.len(),
            scene.source_name(),
            names.join(", ")
        )));
    }
    let sets = paths.len() / wanted.len();
    if sets > MOST_SETS {
        return Err(Failure::input(format!("{sets} sets of pictures: at most {MOST_SETS}")));
    }
    let own = |number: usize| paths[number..].iter().step_by(wanted.len());
    let of = |(number, (camera, name)): (usize, &(&Camera, String))| {
        let frame = if sets == 1 {
            picture(paths[number].as_ref(), camera)
        } else {
            mean(own(number), camera)
        };
        Ok(Frame { camera: name.clone(), ..frame? })
    };
    wanted.iter().enumerate().map(of).collect()
}

/// The mean of pictures of one camera, some rows of them at a time.
fn mean<P: AsRef<Path>>(
    paths: impl ExactSizeIterator<Item = P> + Clone,
    camera: &Camera,
) -> Result<Frame, Failure> {
    let (width, height) = (camera.width_px as usize, camera.height_px as usize);
    let bytes = 3 * width * height;
    let mut pixels = Vec::with_capacity(bytes);
    while pixels.len() < bytes {
        let part = pixels.len()..bytes.min(pixels.len() + MOST_SUMS);
        let mut mean = MeanFrame::new(paths.len() as u32, part);
        for path in paths.clone() {
            mean.add(&picture(path.as_ref(), camera)?);
        }
        pixels.extend(mean.codes());
    }
    Ok(Frame { camera: camera.name.clone(), width, height, pixels })
}
