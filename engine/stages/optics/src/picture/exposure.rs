//! From a traced view to the electrons that gather in the pixels.

use dryturn_cube::Stickering;
use dryturn_scene::file::{Camera, Lamp};
use dryturn_scene::{Material, Scene};
use dryturn_units::noise::Seed;
use dryturn_units::stop::checkpoint;

use super::light_table::{Electrons, LightTable, Paint, flux, paints};
use crate::as_built::AsBuilt;
use crate::camera::sensor::CHANNELS;
use crate::light::flicker::Flicker;
use crate::lit_view::LitView;

/// Above this share of a pixel's light the lamps' mirror light counts as glare.
const GLARE_SHARE: f64 = 0.3;

/// Which exposure this is: its name and trial choose the sensor noise and the lamps'
/// phases.
#[derive(Clone, Copy, Debug)]
pub struct Shot<'a> {
    /// Seed of the run.
    pub seed: Seed,
    /// What is being photographed, for instance `scan`.
    pub name: &'a str,
    /// Number of the trial.
    pub trial: u64,
    /// Whether it is the second, darker picture of a camera that takes two, with sensor noise of
    /// its own.
    pub second: bool,
}

/// A view with paint and lamps: electrons a second, before flicker and vignetting.
pub(crate) struct Painted<'a> {
    view: &'a LitView,
    lights: usize,
    /// `[light · materials + material]`: per unit of light that arrives.
    diffuse: Vec<Electrons>,
    gloss: Vec<Electrons>,
    /// `[(light · materials + first) · materials + material]`, where light bounces.
    bounced: Vec<Electrons>,
    flickers: Vec<Option<Flicker>>,
}

/// Light on a pixel, electrons a second: all of it, and the lamps' share in the gloss.
#[derive(Clone, Copy, Default, Debug, PartialEq)]
pub(crate) struct PixelLight {
    pub(crate) all: Electrons,
    pub(crate) highlight: Electrons,
}

impl PixelLight {
    /// Whether the lamps' mirror light is much of all.
    #[inline]
    pub(crate) fn glares(&self) -> bool {
        let (all, highlight): (f64, f64) = (self.all.iter().sum(), self.highlight.iter().sum());
        highlight > GLARE_SHARE * all
    }
}

impl<'a> Painted<'a> {
    pub(crate) fn new(
        view: &'a LitView,
        scene: &Scene,
        built: &AsBuilt,
        shown: &Stickering,
        shot: Shot<'_>,
    ) -> Self {
        let file = scene.file();
        assert_eq!(file.lamps.len(), view.lamps, "the view was traced under other lamps");
        let table = LightTable::new(scene, &file.cameras[view.camera]);
        let paints = paints(scene, built, &shown.0);
        let lights = view.lamps + 1;
        let times = |e: Electrons, light: usize| e.map(|e| e * flux(scene, light));
        let each = |of: &dyn Fn(usize, &Paint) -> Electrons| -> Vec<Electrons> {
            let pairs = (0..lights).flat_map(|light| paints.iter().map(move |p| (light, p)));
            pairs.map(|(light, paint)| times(of(light, paint), light)).collect()
        };
        let diffuse = each(&|light, paint| table.diffuse(light, paint));
        let mut bounced = Vec::new();
        if file.surroundings.bounce {
            for light in 0..lights {
                for first in &paints {
                    let on = |paint| times(table.bounced(light, first, paint), light);
                    bounced.extend(paints.iter().map(on));
                }
            }
        }
        let flicker = |(number, lamp): (usize, &Lamp)| {
            let named = (shot.seed, shot.name, shot.trial);
            (lamp.flicker_depth_share > 0.0).then(|| Flicker::of(lamp, number, named))
        };
        Self {
            view,
            lights,
            diffuse,
            gloss: (0..lights).map(|light| times(table.gloss(light), light)).collect(),
            bounced,
            flickers: file.lamps.iter().enumerate().map(flicker).collect(),
        }
    }

    /// Factors on the lights while a row is exposed.
    pub(crate) fn levels(&self, camera: &Camera, row: usize, exposure_s: f64) -> Vec<f64> {
        let start = camera.row_start_s(row);
        let level = |f: &Option<Flicker>| f.map_or(1.0, |f| f.mean(start, exposure_s));
        self.flickers.iter().map(level).chain([1.0]).collect()
    }

    /// Calls `each` with every pixel of a row.
    pub(crate) fn row(&self, row: usize, levels: &[f64], mut each: impl FnMut(usize, PixelLight)) {
        checkpoint();
        let traced = &self.view.rows[row];
        let materials = Material::COUNT;
        let mut patches = traced.patches(self.lights);
        for (column, &count) in traced.counts.iter().enumerate() {
            let mut pixel = PixelLight::default();
            for patch in patches.by_ref().take(usize::from(count)) {
                let material = usize::from(patch.material.0);
                if patch.material == Material::BACKDROP {
                    let room = &self.diffuse[(self.lights - 1) * materials + material];
                    (0..CHANNELS).for_each(|c| pixel.all[c] += f64::from(patch.share) * room[c]);
                    continue;
                }
                for (light, arrival) in patch.arriving.iter().enumerate() {
                    let body = &self.diffuse[light * materials + material];
                    let diffuse = f64::from(arrival.diffuse) * levels[light];
                    let gloss = f64::from(arrival.gloss) * levels[light];
                    let lamp = light + 1 < self.lights;
                    for (c, body) in body.iter().enumerate() {
                        let mirrored = gloss * self.gloss[light][c];
                        pixel.all[c] += diffuse * body + mirrored;
                        if lamp {
                            pixel.highlight[c] += mirrored;
                        }
                    }
                }
                for bounced in patch.bounced {
                    let light = usize::from(bounced.light);
                    let first = light * materials + usize::from(bounced.from.0);
                    let body = &self.bounced[first * materials + material];
                    let amount = f64::from(bounced.diffuse) * levels[light];
                    (0..CHANNELS).for_each(|c| pixel.all[c] += amount * body[c]);
                }
            }
            let share = f64::from(self.view.vignette[row * self.view.width + column]);
            let shaded = |e: Electrons| e.map(|e| e * share);
            each(column, PixelLight { all: shaded(pixel.all), highlight: shaded(pixel.highlight) });
        }
    }
}
