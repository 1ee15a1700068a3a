//! Frames and maps as PNG.

use dryturn_handoff::{Content, Frame, MapValues, PixelMap};
use dryturn_units::stop;
use image::codecs::png::{CompressionType, FilterType, PngEncoder};
use image::{ExtendedColorType, ImageEncoder, ImageError};

fn png(
    pixels: &[u8],
    width: usize,
    height: usize,
    kind: ExtendedColorType,
) -> Result<Vec<u8>, ImageError> {
    // As much again, where noise does not pack.
    drop(stop::room(pixels.len()));
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

fn encode_map(map: &PixelMap) -> Result<Vec<u8>, ImageError> {
    match &map.values {
        MapValues::Codes(codes) => png(codes, map.width, map.height, ExtendedColorType::L8),
        MapValues::DepthTenthsMm(depth) => {
            // The encoder takes samples in the machine's own order.
            let bytes: Vec<u8> = depth.iter().flat_map(|v| v.to_ne_bytes()).collect();
            png(&bytes, map.width, map.height, ExtendedColorType::L16)
        }
    }
}

/// The bytes of an output file.
///
/// # Errors
/// A picture whose pixels do not match its size.
pub fn file_bytes(content: &Content) -> Result<Vec<u8>, ImageError> {
    match content {
        Content::Text(text) => Ok(text.clone().into_bytes()),
        Content::Frame(frame) => encode(frame),
        Content::Map(map) => encode_map(map),
    }
}
