//! Files that are to be written, as values: whoever makes them has no file system. They have no
//! form as JSON: to keep one is to write it.

use crate::{Frame, Labels};

/// A file to be written below the output folder. It has no form as JSON: to keep it is to write it.
#[derive(Clone, Debug, PartialEq)]
pub struct OutputFile {
    /// Path below the output folder, with `/`.
    pub path: String,
    /// What it holds.
    pub content: Content,
}

/// What an output file holds. It has no form as JSON: to keep it is to write the file.
#[derive(Clone, Debug, PartialEq)]
pub enum Content {
    /// Text, UTF-8.
    Text(String),
    /// A picture, to be written as PNG.
    Frame(Frame),
    /// A map of whole numbers, to be written as grey PNG.
    Map(PixelMap),
}

/// A whole number for each pixel, row-major. It has no form as JSON: to keep it is to write it.
#[derive(Clone, Debug, PartialEq)]
pub struct PixelMap {
    /// Width in pixels.
    pub width: usize,
    /// Height in pixels.
    pub height: usize,
    /// `width · height` values.
    pub values: MapValues,
}

/// What a map holds. It has no form as JSON: to keep it is to write the file.
#[derive(Clone, Debug, PartialEq)]
pub enum MapValues {
    /// The codes of `dryturn_scene::Surface`; 8 bits.
    Codes(Vec<u8>),
    /// Tenths of a millimetre along the optical axis, 65535 for the background and what
    /// is further than 6.5 m; 16 bits.
    DepthTenthsMm(Vec<u16>),
}

impl PixelMap {
    /// What each pixel shows.
    #[must_use]
    pub fn codes(labels: &Labels) -> Self {
        let values = MapValues::Codes(labels.codes.clone());
        Self { width: labels.width, height: labels.height, values }
    }

    /// How far away it is.
    #[must_use]
    pub fn depth(labels: &Labels) -> Self {
        // What is too far for the type, infinity included, becomes its greatest value.
        let tenths = labels.depth_mm.iter().map(|mm| (mm * 10.0).round() as u16);
        let values = MapValues::DepthTenthsMm(tenths.collect());
        Self { width: labels.width, height: labels.height, values }
    }
}
