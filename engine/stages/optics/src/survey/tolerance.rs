//! How often a facelet is lost when cameras are not mounted as drawn.

use dryturn_cube::Facelet;
use dryturn_scene::{Material, Scene, Visibility};
use dryturn_units::noise::Seed;
use dryturn_units::stop::carried;
use rayon::prelude::*;

use crate::as_built::AsBuilt;

/// What pictures of all rigs that are looked at together may take at the most, and a pixel.
const SIGHTS_BYTES: usize = 200_000_000;
const SIGHT_BYTES: usize = size_of::<Material>() + size_of::<f32>();

/// How often each facelet was lost to every camera.
#[derive(Clone, Debug, PartialEq)]
pub struct Losses {
    /// Rigs that were built.
    pub draws: usize,
    /// By facelet index: rigs in which no camera had evidence of it any more where the
    /// drawing has it; 0 for what is hidden by the drawing.
    pub lost: Vec<usize>,
    /// By camera: the largest shift of any facelet's centre in the picture, px, in each
    /// rig.
    pub shift_px: Vec<Vec<f64>>,
}

/// Builds `draws` rigs with the scene's mount tolerances and asks of each facelet
/// whether enough of the pixels that surely show it by the drawing still do: as many as
/// [`Visibility`] takes for evidence.
#[must_use]
pub fn losses(scene: &Scene, seed: Seed, draws: usize) -> Losses {
    let cameras = scene.file().cameras.len();
    let size = |camera: usize| {
        let settings = &scene.file().cameras[camera];
        (settings.width_px as usize, settings.height_px as usize)
    };
    let rule = Visibility::of(scene);
    // Facelets of which enough of the sure pixels are where the drawing has them.
    let evident = |views: &[dryturn_scene::View]| -> Vec<bool> {
        let mut evident = vec![false; Facelet::COUNT];
        for (camera, view) in views.iter().enumerate() {
            let (width, height) = size(camera);
            let seen = scene.rig().sight(view, width, height).materials;
            for facelet in Facelet::all() {
                let own = Material::of_facelet(facelet);
                let still =
                    rule.pixels(camera, facelet).iter().filter(|&&p| seen[p as usize] == own);
                evident[facelet.index()] |= still.count() >= rule.needed_px(camera, facelet);
            }
        }
        evident
    };
    let by_drawing: Vec<bool> = Facelet::all().map(|f| rule.camera_of(f).is_some()).collect();
    let one = |draw: usize| -> (Vec<bool>, Vec<f64>) {
        let built = AsBuilt::draw(scene, seed, draw as u64);
        let kept = evident(&built.views);
        let shift = |camera: usize| {
            let (from, to) = (&scene.views()[camera], &built.views[camera]);
            let moved = |facelet: Facelet| {
                let [a, _, b, _] = scene.rig().facelet_corners_mm(facelet);
                let centre = (a + b) / 2.0;
                Some((from.project(centre)? - to.project(centre)?).length())
            };
            Facelet::all().filter_map(moved).fold(0.0, f64::max)
        };
        let lost = by_drawing.iter().zip(kept).map(|(&drawn, kept)| drawn && !kept);
        (lost.collect(), (0..cameras).map(shift).collect())
    };
    // Rows of one picture go over all threads too: few at a time cost no time where pictures
    // are large.
    let largest = (0..cameras).map(|camera| size(camera).0 * size(camera).1).max().unwrap_or(1);
    let together = (SIGHTS_BYTES / (SIGHT_BYTES * largest)).max(1);
    let rigs = (0..draws).into_par_iter().with_min_len(draws.div_ceil(together).max(1));
    let results: Vec<(Vec<bool>, Vec<f64>)> = rigs.map(carried(one)).collect();
    let lost = |i: usize| results.iter().filter(|(lost, _)| lost[i]).count();
    Losses {
        draws,
        lost: (0..Facelet::COUNT).map(lost).collect(),
        shift_px: (0..cameras).map(|c| results.iter().map(|r| r.1[c]).collect()).collect(),
    }
}
