//! What some pixels of a picture show together.

use dryturn_geometry::DVec3;
use dryturn_handoff::Frame;
use dryturn_units::colour::EncodedRgb8;

/// Bands of a facelet that are looked at each by itself.
pub(crate) const BANDS: usize = 8;

/// What some pixels show together.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Pixels {
    pub(crate) median: EncodedRgb8,
    /// Mean linear colour of each eighth of them, in the order in which they lie.
    pub(crate) bands: [DVec3; BANDS],
    /// Share of them with a channel that is as high as it goes.
    pub(crate) saturated_share: f64,
}

impl Pixels {
    /// All of one colour, below saturation.
    pub(crate) fn even(colour: EncodedRgb8) -> Self {
        let bands = [DVec3::from_array(colour.decode().0); BANDS];
        Self { median: colour, bands, saturated_share: 0.0 }
    }
}

/// Median, bands and saturation of some pixels of a frame; `None` of no pixels.
pub(crate) fn statistics(frame: &Frame, pixels: &[usize], ceiling: &[u8; 3]) -> Option<Pixels> {
    let count = pixels.len();
    if count == 0 {
        return None;
    }
    let mut histogram = [[0usize; 256]; 3];
    let mut saturated = 0;
    let mut bands = [(DVec3::ZERO, 0.0); BANDS];
    for (k, &pixel) in pixels.iter().enumerate() {
        let shown = frame.pixel(pixel);
        let colour = shown.0;
        let band = &mut bands[k * BANDS / count];
        band.0 += DVec3::from_array(shown.decode().0);
        band.1 += 1.0;
        colour.iter().zip(&mut histogram).for_each(|(&v, h)| h[usize::from(v)] += 1);
        saturated += usize::from(colour.iter().zip(ceiling).any(|(v, top)| v >= top));
    }
    // The first code with half of all at it or below.
    let median = EncodedRgb8(histogram.map(|h| {
        let mut below = 0;
        let code = h.iter().position(|&n| {
            below += n;
            2 * below >= count
        });
        code.unwrap_or(0) as u8
    }));
    // Fewer pixels than bands leave some empty.
    let mean = |(sum, n): (DVec3, f64)| {
        if n > 0.0 { sum / n } else { DVec3::from_array(median.decode().0) }
    };
    Some(Pixels {
        median,
        bands: bands.map(mean),
        saturated_share: saturated as f64 / count as f64,
    })
}
