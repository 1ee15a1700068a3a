//! One camera's view of the rig under its lamps, traced once and painted often.

use dryturn_geometry::Assembly;
use dryturn_scene::file::{Camera, Lamp};
use dryturn_scene::{Material, Posture, Scene, View};
use dryturn_units::stop;
use rayon::prelude::*;

use crate::as_built::AsBuilt;
use crate::camera::sensor::vignetting;
use crate::light::pigment::gloss_width;
use crate::rays::surface::COAT_INDEX;
use crate::rays::{CoatOf, Emitter, Eye, Occluders, Row, Sky, Stage, Turns, trace_rows};

/// Highlight width of body, rods and motors (assumption: matt plastic).
const PLAIN_GLOSS_WIDTH: f64 = 0.5;

/// What a camera sees of the rig, and which light reaches it.
pub struct LitView {
    pub(crate) camera: usize,
    pub(crate) view: View,
    pub(crate) width: usize,
    pub(crate) height: usize,
    pub(crate) lamps: usize,
    pub(crate) rows: Vec<Row>,
    /// Share of the axis's light, by pixel.
    pub(crate) vignette: Vec<f32>,
    pub(crate) posture: Posture,
}

/// The coats of a scene's materials.
fn coats(scene: &Scene) -> Vec<CoatOf> {
    let file = scene.file();
    let coat = |number: usize| {
        let material = Material(number as u8);
        let fixture = material.fixture_index().and_then(|i| file.fixtures.get(i));
        let width = match (material.facelet(), fixture) {
            (Some(_), _) => gloss_width(&file.cube),
            (_, Some(fixture)) => fixture.gloss_width_ratio,
            _ => PLAIN_GLOSS_WIDTH,
        };
        CoatOf { width2: (width * width) as f32, index: COAT_INDEX as f32 }
    };
    (0..Material::COUNT).map(coat).collect()
}

/// What rays meet on their way from a camera to some lights.
fn stage<'a>(
    scene: &'a Scene,
    assembly: &'a Assembly,
    posture: &Posture,
    (lamps, sky): (&[usize], Sky),
) -> Stage<'a> {
    let all = &scene.file().lamps;
    Stage {
        assembly,
        looks: scene.rig().looks(),
        coats: coats(scene),
        lamps: lamps.iter().map(|&i| (i, Emitter::of(&all[i]))).collect(),
        sky,
        bounce: scene.file().surroundings.bounce,
        drawing: posture.is_rest().then_some(scene),
        occluders: posture.is_rest().then(|| {
            let asked: Vec<&Lamp> = lamps.iter().map(|&i| &all[i]).collect();
            Occluders::new(scene.rig().shapes(), &asked)
        }),
    }
}

impl LitView {
    /// Number of the camera.
    #[must_use]
    pub fn camera(&self) -> usize {
        self.camera
    }

    /// How the layers stand or turn.
    #[must_use]
    pub fn posture(&self) -> &Posture {
        &self.posture
    }

    /// Traces camera number `camera` of the rig as built, with every layer at rest.
    ///
    /// # Panics
    /// If the scene has no such camera.
    #[must_use]
    pub fn trace(scene: &Scene, built: &AsBuilt, camera: usize) -> Self {
        Self::trace_turned(scene, built, camera, &Posture::REST)
    }

    /// The same with layers turned. Those that move are blurred over the camera's own
    /// exposure time, row by row.
    ///
    /// # Panics
    /// If the scene has no such camera.
    #[must_use]
    pub fn trace_turned(scene: &Scene, built: &AsBuilt, camera: usize, posture: &Posture) -> Self {
        Self::through(scene, built.views[camera], camera, posture, camera)
    }

    /// With patterns of samples number `patterns`.
    fn through(
        scene: &Scene,
        view: View,
        camera: usize,
        posture: &Posture,
        patterns: usize,
    ) -> Self {
        let settings = &scene.file().cameras[camera];
        let eye = Eye::new(settings, &view, patterns);
        let lamps: Vec<usize> = (0..scene.file().lamps.len()).collect();
        let turned = (!posture.is_rest()).then(|| scene.rig().turning(&posture.faces()));
        let assembly = turned.as_ref().unwrap_or(scene.rig().at_rest());
        let lights = (&lamps[..], sky_of(scene));
        let stage = stage(scene, assembly, posture, lights);
        let rows = trace_rows(&stage, &eye, &|row| Turns::of(posture, settings, row));
        Self {
            camera,
            view,
            width: eye.width,
            height: eye.height,
            lamps: lamps.len(),
            rows,
            vignette: vignette(settings, &eye),
            posture: posture.clone(),
        }
    }

    /// Traces the light of some lamps anew, for a scene that differs from the
    /// traced one in nothing else. The result is the one that
    /// [`trace`](Self::trace) gives, sooner.
    ///
    /// # Panics
    /// If the scene has another number of lamps than the traced one, or a lamp
    /// number is out of range.
    pub fn relight(&mut self, scene: &Scene, lamps: &[usize]) {
        assert_eq!(scene.file().lamps.len(), self.lamps, "traced under other lamps");
        if scene.file().surroundings.bounce || !self.posture.is_rest() {
            let posture = core::mem::take(&mut self.posture);
            *self = Self::through(scene, self.view, self.camera, &posture, self.camera);
            return;
        }
        let settings = &scene.file().cameras[self.camera];
        let eye = Eye::new(settings, &self.view, self.camera);
        let stage = stage(scene, scene.rig().at_rest(), &self.posture, (lamps, Sky::Left));
        let lit = trace_rows(&stage, &eye, &|row| Turns::of(&self.posture, settings, row));
        let all = self.lamps + 1;
        self.rows.par_iter_mut().zip(lit).for_each(|(row, lit)| {
            let traced = lit.arriving.chunks_exact(lamps.len() + 1);
            for (into, from) in row.arriving.chunks_exact_mut(all).zip(traced) {
                lamps.iter().zip(from).for_each(|(&lamp, &light)| into[lamp] = light);
            }
        });
    }
}

#[cfg(test)]
impl LitView {
    /// Traces a camera of the rig as drawn with other patterns of samples than its own.
    pub(crate) fn with_patterns(
        scene: &Scene,
        built: &AsBuilt,
        camera: usize,
        patterns: usize,
    ) -> Self {
        Self::through(scene, built.views[camera], camera, &Posture::REST, patterns)
    }

    /// Whether all of a pixel shows one facelet.
    pub(crate) fn is_one_facelet(&self, row: usize, column: usize) -> bool {
        let row = &self.rows[row];
        let before: usize = row.counts[..column].iter().copied().map(usize::from).sum();
        let first = row.patches(self.lamps + 1).nth(before);
        row.counts[column] == 1 && first.is_some_and(|own| own.material.facelet().is_some())
    }
}

fn sky_of(scene: &Scene) -> Sky {
    if scene.file().surroundings.ambient_shadows { Sky::Shaded } else { Sky::Even }
}

fn vignette(camera: &Camera, eye: &Eye) -> Vec<f32> {
    let (power, loss) = (camera.vignetting_power_ratio, camera.corner_loss_share);
    let half = [eye.width, eye.height].map(|n| (n as f64 - 1.0) / 2.0);
    let corner = (half[0] * half[0] + half[1] * half[1]).sqrt();
    let at = |i: usize| {
        let (row, column) = (i / eye.width, i % eye.width);
        let (x, y) = (column as f64 - half[0], row as f64 - half[1]);
        let radius = (x * x + y * y).sqrt() / corner;
        let cosine = eye.cosine(row, column);
        let share = vignetting(cosine, radius, power, loss);
        if share.is_nan() { 0.0 } else { share as f32 }
    };
    drop(stop::room(4 * eye.width * eye.height));
    (0..eye.width * eye.height).into_par_iter().map(at).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Lists of what can bar a way leave nothing out: with them and with the tree of all
    /// solids, every pixel is the same.
    #[test]
    fn short_lists_of_occluders_change_nothing() {
        let text = include_str!("../../../../scenes/foyer_morning.ron");
        let scene = Scene::parse(text, "foyer_morning").unwrap_or_else(|error| panic!("{error}"));
        let lamps: Vec<usize> = (0..scene.file().lamps.len()).collect();
        let of = |listed: bool| -> Vec<Row> {
            let lights = (&lamps[..], Sky::Shaded);
            let mut stage = stage(&scene, scene.rig().at_rest(), &Posture::REST, lights);
            assert!(stage.occluders.is_some());
            if !listed {
                stage.occluders = None;
            }
            let picture = |(number, camera): (usize, &Camera)| {
                let eye = Eye::sharp(&scene.views()[number], [160, 120], 4, number);
                trace_rows(&stage, &eye, &|row| Turns::of(&Posture::REST, camera, row))
            };
            scene.file().cameras.iter().enumerate().flat_map(picture).collect()
        };
        let (listed, all) = (of(true), of(false));
        assert_eq!(listed.len(), 240);
        assert!(listed.iter().zip(&all).all(|(a, b)| a.arriving == b.arriving));
    }
}
