//! One picture from two that a camera takes one after the other, the second one darker: what is
//! full on the sensor in the first is taken from the second.

use dryturn_geometry::DVec3;
use dryturn_handoff::Frame;
use dryturn_units::colour::{decode_srgb8, encode_srgb8};

use crate::rendering::{HIGHEST, Rendering};

/// Up to this share of full the first picture is believed: beyond it noise, or a neighbour that is
/// full, may have cut something off.
const BELIEVED_SHARE: f64 = 0.9;
/// Codes of the first picture that are believed: those beyond may be higher than they can be shown.
const BELIEVED_CODE: u8 = 250;
/// Light of the first picture, as a share of full, by which both are compared: bright enough for
/// the second to show it well.
const COMPARED_SHARE: f64 = 0.2;
/// From so many pixels on.
const COMPARED_PX: u32 = 200;
/// The second picture may be so many times darker or brighter than the drawing has it: shutters are
/// not exact, and lamps flicker.
const MOST_OFF: f64 = 1.5;

/// The picture that the first one would be, were it as dark as the drawing has the second: `share`
/// of its light. `rendering` is what the camera makes of light in the first.
pub(crate) fn merged(rendering: &Rendering, share: f64, first: &Frame, second: &Frame) -> Frame {
    let decoded: [f64; 256] = core::array::from_fn(|code| decode_srgb8(code as u8));
    let darker: [u8; 256] = core::array::from_fn(|code| encode_srgb8(share * decoded[code]));
    let limit = BELIEVED_SHARE * rendering.full;
    let colour =
        |codes: &[u8]| DVec3::from_array([0, 1, 2].map(|k| decoded[usize::from(codes[k])]));
    let light = |codes: &[u8]| match codes {
        [r, g, b] if *r.max(g).max(b) <= BELIEVED_CODE => {
            Some(rendering.light_of(colour(codes))).filter(|light| light.max_element() <= limit)
        }
        _ => None,
    };
    let pairs = || first.pixels.chunks_exact(3).zip(second.pixels.chunks_exact(3));
    // Sums in the pixels' order, whatever the threads.
    let (mut before, mut after, mut count) = (0.0, 0.0, 0);
    for (bright, dark) in pairs() {
        let Some(seen) = light(bright) else { continue };
        if seen.min_element() > COMPARED_SHARE * rendering.full {
            before += seen.element_sum();
            after += rendering.light_of(colour(dark)).element_sum();
            count += 1;
        }
    }
    let off = if count < COMPARED_PX { 1.0 } else { after / (share * before) };
    let off = off.clamp(1.0 / MOST_OFF, MOST_OFF);
    // What is full in both is known to be no less, and stays full.
    let full = |codes: &[u8]| {
        codes.iter().any(|code| *code >= HIGHEST)
            || rendering.light_of(colour(codes)).max_element() >= rendering.full_from()
    };
    let as_drawn: [u8; 256] = core::array::from_fn(|code| encode_srgb8(decoded[code] / off));
    let mut pixels = Vec::with_capacity(first.pixels.len());
    for (bright, dark) in pairs() {
        match light(bright) {
            Some(_) => pixels.extend(bright.iter().map(|&code| darker[usize::from(code)])),
            None if full(dark) => pixels.extend(dark),
            None => pixels.extend(dark.iter().map(|&code| as_drawn[usize::from(code)])),
        }
    }
    Frame { camera: first.camera.clone(), pixels, ..*first }
}

#[cfg(test)]
mod tests {
    use dryturn_geometry::DMat3;

    use super::*;

    fn plain() -> Rendering {
        Rendering { mix: DMat3::IDENTITY, unmix: DMat3::IDENTITY, full: 1.0, share: 1.0 }
    }

    fn frame(light: impl Iterator<Item = f64>) -> Frame {
        let pixels: Vec<u8> = light.flat_map(|v| [encode_srgb8(v.min(1.0)); 3]).collect();
        Frame { camera: "a".into(), width: pixels.len() / 3, height: 1, pixels }
    }

    /// Light from a twentieth of full to three times full: the steps of both pictures, and of
    /// the one that is made, are what they differ by.
    #[test]
    fn what_is_full_comes_from_the_darker_picture() {
        let light = || (0..2000).map(|k| 0.05 + 3.1 * f64::from(k) / 2000.0);
        for off in [1.0, 0.9, 1.2] {
            let (first, second) = (frame(light()), frame(light().map(|v| off * 0.25 * v)));
            let one = merged(&plain(), 0.25, &first, &second);
            for (k, light) in light().enumerate() {
                let shown = decode_srgb8(one.pixels[3 * k]) / 0.25;
                assert!((shown / light - 1.0).abs() < 0.04, "{light}: {shown} at {off}");
            }
        }
    }

    /// What both pictures show as full is full in the one that is made, however bright the second.
    #[test]
    fn what_is_full_in_both_stays_full() {
        let light = || (0..2000).map(|k| 0.05 + 8.0 * f64::from(k) / 2000.0);
        for off in [0.8, 1.0, 1.2] {
            let (first, second) = (frame(light()), frame(light().map(|v| off * 0.25 * v)));
            let one = merged(&plain(), 0.25, &first, &second);
            for (k, _) in light().enumerate().filter(|(_, light)| off * 0.25 * light >= 1.0) {
                assert!(one.pixels[3 * k] >= HIGHEST, "{off}: {}", one.pixels[3 * k]);
            }
        }
    }

    /// A second picture that shows nothing takes nothing from where the first is good.
    #[test]
    fn what_the_first_shows_stays() {
        let light = || (0..1000).map(|k| f64::from(k) / 1000.0);
        let (first, black) = (frame(light()), frame(light().map(|_| 0.0)));
        let one = merged(&plain(), 0.5, &first, &black);
        for (k, light) in light().enumerate().take_while(|(_, light)| *light < 0.89) {
            assert_eq!(one.pixels[3 * k], encode_srgb8(0.5 * decode_srgb8(encode_srgb8(light))));
        }
    }
}
