//! A picture that has gone through JPEG, as cheap cameras send it.

use std::io::Cursor;

use dryturn_handoff::Frame;
use image::codecs::jpeg::{JpegDecoder, JpegEncoder};
use image::{DynamicImage, ExtendedColorType};

/// Encodes and decodes with the `image` crate's baseline JPEG, 4:2:0 or as it chooses;
/// 0 leaves the picture as it is.
pub(crate) fn through_jpeg(frame: Frame, quality_percent: u32) -> Frame {
    if quality_percent == 0 {
        return frame;
    }
    let (width, height) = (frame.width as u32, frame.height as u32);
    let mut bytes = Vec::new();
    let mut encoder = JpegEncoder::new_with_quality(&mut bytes, quality_percent as u8);
    let written = encoder.encode(&frame.pixels, width, height, ExtendedColorType::Rgb8);
    let read = || JpegDecoder::new(Cursor::new(&bytes)).and_then(DynamicImage::from_decoder);
    let picture = written.and_then(|()| read()).expect("a frame fits into a JPEG");
    Frame { pixels: picture.into_rgb8().into_raw(), ..frame }
}
