//! Pictures and what is truly on them.

use dryturn_units::colour::EncodedRgb8;

/// One picture of one camera, sRGB, 8 bit. Row-major from the top left, three
/// bytes a pixel: red, green, blue.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Frame {
    /// The camera's name in the scene.
    pub camera: String,
    /// Width in pixels.
    pub width: usize,
    /// Height in pixels.
    pub height: usize,
    /// `3 · width · height` bytes.
    pub pixels: Vec<u8>,
}

impl Frame {
    /// The colour of pixel number `row · width + column`.
    ///
    /// # Panics
    /// If the number is out of range.
    #[must_use]
    pub fn pixel(&self, index: usize) -> EncodedRgb8 {
        let at = 3 * index;
        EncodedRgb8([self.pixels[at], self.pixels[at + 1], self.pixels[at + 2]])
    }
}

/// What each pixel of a frame truly shows, at the pixel's centre. Row-major,
/// one byte a pixel; the codes are those of `dryturn_scene::Surface`. For
/// labels and scoring alone: no stage reads it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Labels {
    /// Width in pixels.
    pub width: usize,
    /// Height in pixels.
    pub height: usize,
    /// `width · height` codes.
    pub codes: Vec<u8>,
}

/// One picture of every camera, with its labels.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Scan {
    /// In the scene's camera order.
    pub frames: Vec<Frame>,
    /// In the same order.
    pub labels: Vec<Labels>,
}
