//! How often a facelet is lost when cameras are not mounted as drawn.

use dryturn_cube::Facelet;
use dryturn_scene::{Material, Scene, Visibility};
use dryturn_units::noise::Seed;
use dryturn_units::stop::carried;
use rayon::prelude::*;

use crate::as_built::AsBuilt;

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
    let sights = |views: &[dryturn_scene::View]| -> Vec<Vec<Material>> {
        let look = |camera: usize| {
            let (width, height) = size(camera);
            scene.rig().sight(&views[camera], width, height).materials
        };
        (0..cameras).map(look).collect()
    };
    let rule = Visibility::of(scene);
    // Facelets of which enough of the sure pixels are where the drawing has them.
    let evident = |sights: &[Vec<Material>]| -> Vec<bool> {
        let kept = |(camera, seen): (usize, &Vec<Material>), facelet: Facelet| {
            let own = Material::of_facelet(facelet);
            let still = rule.pixels(camera, facelet).iter().filter(|&&p| seen[p as usize] == own);
            still.count() >= rule.needed_px(camera, facelet)
        };
        Facelet::all().map(|f| sights.iter().enumerate().any(|seen| kept(seen, f))).collect()
    };
    let by_drawing: Vec<bool> = Facelet::all().map(|f| rule.camera_of(f).is_some()).collect();
    let one = |draw: usize| -> (Vec<bool>, Vec<f64>) {
        let built = AsBuilt::draw(scene, seed, draw as u64);
        let kept = evident(&sights(&built.views));
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
    let results: Vec<(Vec<bool>, Vec<f64>)> =
        (0..draws).into_par_iter().map(carried(one)).collect();
    let lost = |i: usize| results.iter().filter(|(lost, _)| lost[i]).count();
    Losses {
        draws,
        lost: (0..Facelet::COUNT).map(lost).collect(),
        shift_px: (0..cameras).map(|c| results.iter().map(|r| r.1[c]).collect()).collect(),
    }
}
