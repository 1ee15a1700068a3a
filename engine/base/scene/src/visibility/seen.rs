//! What one camera sees, pixel by pixel.

use dryturn_cube::Facelet;

use super::Visibility;
use super::mount::rim_px;
use crate::drawing::Material;
use crate::file::FixtureUse;
use crate::scene::Scene;

/// A code that is neither a facelet's nor another surface's.
const MIXED: u8 = u8::MAX;

/// What one camera sees.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Seen {
    /// Pixels by which the picture may be shifted against the drawing, and one.
    pub(super) rim_px: usize,
    /// What each pixel's centre shows by the drawing.
    pub(super) codes: Vec<u8>,
    /// By facelet: pixels that show it wherever the mount is within its tolerance.
    pub(super) sure: Vec<Vec<u32>>,
    /// By facelet: the fewest of them that are evidence.
    pub(super) needed: Vec<usize>,
    /// Pixels that show a grey patch, likewise.
    pub(super) grey: Vec<u32>,
}

impl Seen {
    pub(super) fn by(scene: &Scene, camera: usize) -> Self {
        let settings = &scene.file().cameras[camera];
        let (width, height) = (settings.width_px as usize, settings.height_px as usize);
        let codes = codes(scene, camera, width, height);
        let rim_px = rim_px(scene, camera);
        let eroded = eroded(&codes, width, height, rim_px);
        let mut sure: Vec<Vec<u32>> = vec![Vec::new(); Facelet::COUNT];
        let mut grey = Vec::new();
        for (pixel, &code) in (0u32..).zip(&eroded) {
            if let Some(pixels) = sure.get_mut(usize::from(code)) {
                pixels.push(pixel);
            } else if code == Visibility::GREY_CODE {
                grey.push(pixel);
            }
        }
        let needed = |facelet: Facelet| {
            let share_px = Visibility::LEAST_SHARE * area_px(scene, camera, facelet);
            Visibility::LEAST_PX.max(share_px as usize)
        };
        Self { rim_px, codes, sure, needed: Facelet::all().map(needed).collect(), grey }
    }
}

fn codes(scene: &Scene, camera: usize, width: usize, height: usize) -> Vec<u8> {
    let sight = scene.rig().sight(&scene.views()[camera], width, height);
    let fixtures = &scene.file().fixtures;
    let is_grey = |material: &Material| {
        let fixture = material.fixture_index().and_then(|i| fixtures.get(i));
        fixture.is_some_and(|fixture| fixture.role == FixtureUse::GreyPatch)
    };
    let code = |m: &Material| if is_grey(m) { Visibility::GREY_CODE } else { m.surface().code() };
    sight.materials.iter().map(code).collect()
}

/// Keeps a code only where all pixels within `reach` rows and columns have it;
/// elsewhere, and at the picture's rim, puts a code that is no facelet's.
fn eroded(codes: &[u8], width: usize, height: usize, reach: usize) -> Vec<u8> {
    let pass = |from: &[u8], length: usize, lines: usize, at: &dyn Fn(usize, usize) -> usize| {
        let mut to = vec![MIXED; from.len()];
        for line in 0..lines {
            let mut run_start = 0;
            for end in 1..=length {
                let code = from[at(line, run_start)];
                if end == length || from[at(line, end)] != code {
                    for k in run_start + reach..end.saturating_sub(reach) {
                        to[at(line, k)] = code;
                    }
                    run_start = end;
                }
            }
        }
        to
    };
    let across = pass(codes, width, height, &|row, column| row * width + column);
    pass(&across, height, width, &|column, row| row * width + column)
}

/// Area of a facelet's square in the picture, px², as if nothing hid it; 0 if it
/// is not in front of the camera.
fn area_px(scene: &Scene, camera: usize, facelet: Facelet) -> f64 {
    let view = &scene.views()[camera];
    let corners = scene.rig().facelet_corners_mm(facelet).map(|corner| view.project(corner));
    let [Some(a), Some(b), Some(c), Some(d)] = corners else {
        return 0.0;
    };
    ((c - a).perp_dot(d - b) / 2.0).abs()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_rim_is_left_out_on_every_side() {
        // A square of 5 in a picture of 7 × 7.
        let inside = |k: usize| (1..6).contains(&k);
        let code = |i: usize| if inside(i / 7) && inside(i % 7) { 3 } else { 57 };
        let codes: Vec<u8> = (0..49).map(code).collect();
        let kept = |reach| eroded(&codes, 7, 7, reach).iter().filter(|c| **c == 3).count();
        assert_eq!([0, 1, 2, 3].map(kept), [25, 9, 1, 0]);
    }
}
