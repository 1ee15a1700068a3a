//! Pictures and what is truly on them.

use dryturn_cube::{Face, Facelet};
use dryturn_units::colour::EncodedRgb8;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::finite;

/// One picture of one camera, sRGB, 8 bit. Row-major from the top left, three
/// bytes a pixel: red, green, blue. As JSON a picture is a list of numbers, several times as long
/// as a picture file, which is the better way to keep it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Frame {
    /// What the picture is called: the camera's name in the scene, with `-dark` behind where it is
    /// the second, darker one.
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

/// What a frame truly shows of one facelet.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FaceletLabel {
    /// The place.
    pub facelet: Facelet,
    /// The colour that is there, as its face.
    pub colour: Face,
    /// Corners of its coloured square in pixels, column then row, from the top left of its
    /// net round by the top right; as if nothing stood in front. Four, but for what is cut
    /// off behind the camera; none where the square faces away and only its rounded rim is
    /// seen.
    pub polygon_px: Vec<[f64; 2]>,
    /// Pixels whose centre shows it.
    pub visible_px: usize,
    /// The same as a share of the polygon's area, at most 1; 0 where there is none.
    pub visible_share: f64,
    /// Share of its pixels in which the lamps' mirror light is more than 30 % of all.
    pub glare_share: f64,
    /// Share of its pixels that a saturated pixel of the sensor has a part in.
    pub clipped_share: f64,
    /// Mean of its pixels' linear light, red, green, blue; 1 is full scale.
    pub mean_linear: [f64; 3],
    /// Mean of its pixels' codes in the frame, 0 to 255.
    pub mean_encoded: [f64; 3],
}

/// What each pixel of a frame truly shows, at the pixel's centre. All lists are
/// row-major. For labels and scoring alone: no stage reads it. As JSON they are lists of numbers;
/// picture files are the better way to keep them.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Labels {
    /// Width in pixels.
    pub width: usize,
    /// Height in pixels.
    pub height: usize,
    /// `width · height` codes of `dryturn_scene::Surface`.
    pub codes: Vec<u8>,
    /// Distance along the optical axis, mm; infinite for the background, which is null as JSON.
    #[serde(with = "finite::infinite")]
    #[schemars(with = "Vec<Option<f32>>")]
    pub depth_mm: Vec<f32>,
    /// Whether a saturated pixel of the sensor has a part in it.
    pub clipped: Vec<bool>,
    /// Facelets that face the camera, hidden ones included, and those of which a pixel is
    /// seen; in facelet order.
    pub facelets: Vec<FaceletLabel>,
}

/// The pictures of every camera, with their labels.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Scan {
    /// In the scene's camera order, a darker picture after its first.
    pub frames: Vec<Frame>,
    /// In the same order.
    pub labels: Vec<Labels>,
}
