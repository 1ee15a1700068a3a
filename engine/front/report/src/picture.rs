//! Frames and labels as PNG.

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

/// The bytes of an output file.
///
/// # Errors
/// A picture whose pixels do not match its size.
pub fn file_bytes(content: &Content) -> Result<Vec<u8>, ImageError> {
    match content {
        Content::Text(text) => Ok(text.clone().into_bytes()),
        Content::Frame(frame) => encode(frame),
        Content::Labels(labels) => encode_labels(labels),
    }
}
