//! Frames, labels and depths as PNG.

use dryturn_handoff::{Frame, Labels};
use dryturn_rehearsal::Content;
use image::codecs::png::{CompressionType, FilterType, PngEncoder};
use image::{ExtendedColorType, ImageEncoder, ImageError};

fn png(
    pixels: &[u8],
    width: usize,
    height: usize,
    kind: ExtendedColorType,
) -> Result<Vec<u8>, ImageError> {
    let mut bytes = Vec::new();
    PngEncoder::new_with_quality(&mut bytes, CompressionType::Default, FilterType::Adaptive)
        .write_image(pixels, width as u32, height as u32, kind)?;
    Ok(bytes)
}

/// A frame as PNG, 8-bit sRGB.
///
/// # Errors
/// A frame whose pixels do not match its size.
pub fn encode(frame: &Frame) -> Result<Vec<u8>, ImageError> {
    png(&frame.pixels, frame.width, frame.height, ExtendedColorType::Rgb8)
}

fn encode_labels(labels: &Labels) -> Result<Vec<u8>, ImageError> {
    png(&labels.codes, labels.width, labels.height, ExtendedColorType::L8)
}

/// Steps of a depth picture in a millimetre.
const DEPTH_STEPS_PER_MM: f32 = 10.0;

/// Depth in tenths of a millimetre, 16 bits; 65535 is the background, or further off than
/// 6.5 m.
fn encode_depth(labels: &Labels) -> Result<Vec<u8>, ImageError> {
    let steps = labels.depth_mm.iter().map(|&mm| (mm * DEPTH_STEPS_PER_MM).round() as u16);
    // The encoder takes samples in the machine's own order.
    let bytes: Vec<u8> = steps.flat_map(u16::to_ne_bytes).collect();
    png(&bytes, labels.width, labels.height, ExtendedColorType::L16)
}

/// The bytes of an output file.
///
/// # Errors
/// A picture whose pixels do not match its size.
pub fn file_bytes(content: &Content) -> Result<Vec<u8>, ImageError> {
    match content {
        Content::Text(text) => Ok(text.clone().into_bytes()),
        Content::Frame(frame) => encode(frame),
        Content::Labels(labels) => encode_labels(labels),
        Content::Depth(labels) => encode_depth(labels),
    }
}
