//! One picture from several of the same cube: the mean of each pixel's light.

use core::ops::Range;

use dryturn_handoff::Frame;
use dryturn_units::colour::{decode_srgb8, encode_srgb8};

/// Adds up pictures of one camera one after the other, so that no more than one need be in
/// memory beside the sums. Those take four bytes a channel; where that is too much, some rows
/// at a time.
pub struct MeanFrame {
    /// Most pictures.
    most: u32,
    count: u32,
    /// Bytes of a picture that are added up.
    part: Range<usize>,
    /// Light of each, full scale being `scale`.
    sums: Vec<u32>,
    scale: f64,
    light: [u32; 256],
}

impl MeanFrame {
    /// For at most `most` pictures, 1 to 65,536, of whose bytes those in `part` are wanted.
    ///
    /// # Panics
    /// If `most` is out of range.
    #[must_use]
    pub fn new(most: u32, part: Range<usize>) -> Self {
        assert!((1..=1 << 16).contains(&most), "{most} pictures");
        // Whole numbers: the mean does not depend on the pictures' order.
        let scale = f64::from(u32::MAX / most);
        let light = core::array::from_fn(|code| (decode_srgb8(code as u8) * scale).round() as u32);
        Self { most, count: 0, sums: vec![0; part.len()], part, scale, light }
    }

    /// Adds a picture.
    ///
    /// # Panics
    /// If it is smaller than the part that is wanted, or one too many.
    pub fn add(&mut self, frame: &Frame) {
        assert!(self.count < self.most, "more than {} pictures", self.most);
        self.count += 1;
        for (sum, &code) in self.sums.iter_mut().zip(&frame.pixels[self.part.clone()]) {
            *sum += self.light[usize::from(code)];
        }
    }

    /// The mean, as sRGB codes, of the bytes that were wanted.
    #[must_use]
    pub fn codes(&self) -> Vec<u8> {
        let all = f64::from(self.count.max(1)) * self.scale;
        self.sums.iter().map(|&sum| encode_srgb8(f64::from(sum) / all)).collect()
    }
}

/// One set of frames from several: the mean of each pixel's light. `None` of a single set.
pub(crate) fn averaged(frames: &[Frame], cameras: usize) -> Option<Vec<Frame>> {
    let sets = frames.len() / cameras;
    if sets < 2 {
        return None;
    }
    let one = |camera: usize| {
        let own = || frames.iter().skip(camera).step_by(cameras);
        let first = &frames[camera];
        let mut mean = MeanFrame::new(sets as u32, 0..first.pixels.len());
        own().for_each(|frame| mean.add(frame));
        Frame { pixels: mean.codes(), camera: first.camera.clone(), ..*first }
    };
    Some((0..cameras).map(one).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    fn frame(pixels: Vec<u8>) -> Frame {
        Frame { camera: "a".into(), width: pixels.len() / 3, height: 1, pixels }
    }

    #[test]
    fn light_is_averaged_not_codes() {
        let (dark, bright) = (frame(vec![0; 6]), frame(vec![255; 6]));
        let mean = averaged(&[dark, bright], 1).unwrap();
        // IEC 61966-2-1: half the light is code 188.
        assert_eq!(mean[0].pixels, [188; 6]);
    }

    #[test]
    fn parts_and_order_make_no_difference() {
        let pictures: Vec<Frame> =
            (0..5u32).map(|k| frame((0..30).map(|i| (i * 37 + k * 91) as u8).collect())).collect();
        let of = |order: &[usize], part: Range<usize>| {
            let mut mean = MeanFrame::new(5, part);
            order.iter().for_each(|&k| mean.add(&pictures[k]));
            mean.codes()
        };
        let whole = of(&[0, 1, 2, 3, 4], 0..30);
        assert_eq!(of(&[4, 2, 0, 3, 1], 0..30), whole);
        assert_eq!([of(&[0, 1, 2, 3, 4], 0..12), of(&[0, 1, 2, 3, 4], 12..30)].concat(), whole);
    }

    #[test]
    fn equal_pictures_are_their_mean() {
        let picture = frame((0..=254).collect());
        for most in [1, 3, 65_536] {
            let mut mean = MeanFrame::new(most, 0..255);
            (0..most.min(3)).for_each(|_| mean.add(&picture));
            assert_eq!(mean.codes(), picture.pixels, "{most}");
        }
    }
}
