//! Pictures of strangers. The program's `any_picture` (`input.rs`) and `raw` (`camera_sensor.rs`)
//! are private: this is what they call, with their limits.

use std::io::Cursor;
use std::sync::{LazyLock, Mutex, PoisonError};

use dryturn_handoff::Frame;
use dryturn_metrology::board::Board;
use dryturn_metrology::sensor::{Pair, RawPicture, SensorMeter};
use dryturn_reading::read_blind;
use dryturn_rehearsal::BuiltRig;
use dryturn_units::noise::Seed;
use image::{DynamicImage, ImageFormat, ImageReader, Limits};

use super::common::{crc32, rarely, said, workbench};

/// Most memory that decoding may take.
const MOST_DECODED: u64 = 256 << 20;
/// Longest side of a picture with marked patches, the largest that is taken.
const LONGEST_PX: u32 = 8192;
/// Of larger ones than this no two are decoded at a time: each is within the program's limits.
const LARGE_PX: u64 = 4_000_000;
/// The pictures of the scene that they are read for.
const SIDE_PX: u32 = 64;
/// A board is looked for in pictures up to so large.
const MOST_SEARCHED_PX: usize = 256;
/// Bits of raw codes, and smallest side of a raw picture.
const BITS: u32 = 16;
const LEAST_RAW_PX: usize = 32;

static RIG: LazyLock<BuiltRig> =
    LazyLock::new(|| BuiltRig::new(&workbench([SIDE_PX; 2]), Seed::new(1), 0));
static LARGE: Mutex<()> = Mutex::new(());

fn reader(bytes: &[u8], format: ImageFormat) -> ImageReader<Cursor<&[u8]>> {
    let mut reader = ImageReader::with_format(Cursor::new(bytes), format);
    let mut limits = Limits::default();
    limits.max_alloc = Some(MOST_DECODED);
    reader.limits(limits);
    reader
}

/// A PNG picture whose chunks have the checksums that belong to them: whoever means harm writes
/// those.
fn mended(bytes: &[u8]) -> Vec<u8> {
    let mut png = bytes.to_vec();
    let mut at = 8;
    while let Some(&[a, b, c, d]) = png.get(at..at + 4) {
        let end = at + 8 + u32::from_be_bytes([a, b, c, d]) as usize;
        let Some(sum) = png.get(at + 4..end).map(crc32) else { break };
        let Some(place) = png.get_mut(end..end + 4) else { break };
        place.copy_from_slice(&sum.to_be_bytes());
        at = end + 4;
    }
    png
}

fn jpeg_is_whole(bytes: &[u8]) -> bool {
    let last = |marker: u8| bytes.windows(2).rposition(|pair| pair == [0xff, marker]);
    matches!((last(0xda), last(0xd9)), (Some(scan), Some(end)) if scan < end)
}

/// A decoded picture of the size that its head says.
fn decoded(bytes: &[u8], format: ImageFormat) -> Option<DynamicImage> {
    let size = match reader(bytes, format).into_dimensions() {
        Ok(size) => size,
        Err(error) => {
            said(&error);
            return None;
        }
    };
    let (width, height) = size;
    if width.max(height) > LONGEST_PX || format == ImageFormat::Jpeg && !jpeg_is_whole(bytes) {
        return None;
    }
    let large = u64::from(width) * u64::from(height) > LARGE_PX;
    let _alone = large.then(|| LARGE.lock().unwrap_or_else(PoisonError::into_inner));
    match reader(bytes, format).decode() {
        Ok(picture) => {
            assert_eq!((picture.width(), picture.height()), size);
            Some(picture)
        }
        Err(error) => {
            said(&error);
            None
        }
    }
}

/// Of PNG pictures most with their checksums mended.
fn checked(bytes: &[u8], format: ImageFormat) -> Vec<u8> {
    let mends = format == ImageFormat::Png && !rarely(bytes, 4);
    if mends { mended(bytes) } else { bytes.to_vec() }
}

/// A picture of a camera, PNG or JPEG; a few are read as a scan, or looked through for a board.
pub fn picture(bytes: &[u8]) -> bool {
    let format = match image::guess_format(bytes) {
        Ok(format @ (ImageFormat::Png | ImageFormat::Jpeg)) => format,
        _ => return false,
    };
    let Some(picture) = decoded(&checked(bytes, format), format) else { return false };
    let rgb = picture.into_rgb8();
    let (width, height) = (rgb.width() as usize, rgb.height() as usize);
    let frame = Frame { camera: "high".to_owned(), width, height, pixels: rgb.into_raw() };
    assert!(width > 0 && height > 0 && frame.pixels.len() == 3 * width * height);
    if width.max(height) <= MOST_SEARCHED_PX && rarely(bytes, 64) {
        let board = Board::new(3, 3, 10.0).expect("a board of ours");
        match board.find(&frame, "picture") {
            Ok(corners) => assert_eq!(corners.len(), board.points().len()),
            Err(error) => said(&error),
        }
    }
    if [width, height] == [SIDE_PX as usize; 2] && rarely(bytes, 256) {
        let frames = [frame.clone(), frame];
        let reading = read_blind(RIG.patches(), &frames).expect("pictures of the scene's size");
        assert!(reading.probability.is_none_or(|share| (0.0..=1.0).contains(&share)));
    }
    true
}

/// A raw picture of a sensor, a grey PNG; those that are large enough are measured, with pictures
/// made of it for the other levels of light.
pub fn raw_picture(bytes: &[u8]) -> bool {
    if !matches!(image::guess_format(bytes), Ok(ImageFormat::Png)) {
        return false;
    }
    let bytes = checked(bytes, ImageFormat::Png);
    // As the program looks for a chunk that says that codes are not linear.
    let head = bytes.windows(4).position(|chunk| chunk == b"IDAT").unwrap_or(0);
    if bytes[..head].windows(4).any(|chunk| chunk == b"sRGB") {
        return false;
    }
    let Some(picture) = decoded(&bytes, ImageFormat::Png) else { return false };
    let (width, height) = (picture.width() as usize, picture.height() as usize);
    let codes: Vec<u16> = match picture {
        DynamicImage::ImageLuma8(grey) => grey.into_raw().into_iter().map(u16::from).collect(),
        DynamicImage::ImageLuma16(grey) => grey.into_raw(),
        _ => return false,
    };
    assert_eq!(codes.len(), width * height);
    if width.min(height) >= LEAST_RAW_PX && width.max(height) <= MOST_SEARCHED_PX {
        measured(width, height, &codes);
    }
    true
}

/// The picture as the dark one of a series, each pair with the same picture turned round.
fn measured(width: usize, height: usize, codes: &[u16]) {
    const LIGHTS: [f64; 4] = [0.0, 1.0, 2.0, 3.0];
    for mosaic in [false, true] {
        let mut meter = SensorMeter::new(&LIGHTS, BITS, mosaic).expect("a dark pair and three lit");
        for (step, light_ratio) in (0_u16..).zip(LIGHTS) {
            let lit: Vec<u16> = codes.iter().map(|code| code.saturating_add(900 * step)).collect();
            let turned = lit.iter().rev().copied().collect();
            let picture = |name: &str, codes| {
                let name = format!("{name}-{step}.png");
                RawPicture { name, width, height, codes }
            };
            let pictures = [picture("first", lit), picture("second", turned)];
            if let Err(error) = meter.add(&Pair { light_ratio, pictures }) {
                said(&error);
                return;
            }
        }
        match meter.fit() {
            Ok(fit) => fit.warnings.iter().for_each(|warning| said(warning)),
            Err(error) => said(&error),
        }
    }
}
