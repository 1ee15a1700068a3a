//! One camera's view of the rig under its lamps, traced once and painted often.

use core::f64::consts::PI;

use dryturn_cube::Stickering;
use dryturn_geometry::Ray;
use dryturn_handoff::{Frame, Labels};
use dryturn_scene::{Scene, Surface};
use dryturn_units::noise::Seed;
use rayon::prelude::*;

use crate::as_built::AsBuilt;
use crate::lamp::Panel;
use crate::light_table::{BACKDROP, BODY, LightTable, MATERIALS, MOTOR};
use crate::sensor::{CHANNELS, develop};
use crate::sight::{Met, Pixel, Sight};
use crate::surface::{COAT_INDEX, fresnel, ggx};

/// Highlight width of body, rods and motors (assumption: matt plastic).
const PLAIN_GLOSS_WIDTH: f64 = 0.5;

/// Which exposure this is: its name and trial choose the sensor noise.
#[derive(Clone, Copy, Debug)]
pub struct Shot<'a> {
    /// Seed of the run.
    pub seed: Seed,
    /// What is being photographed, for instance `scan`.
    pub name: &'a str,
    /// Number of the trial.
    pub trial: u64,
}

/// A share of a pixel that shows one material.
struct Patch {
    material: u8,
    share: f32,
    /// Fresnel reflectance towards the camera, for the room's light.
    mirror: f32,
}

/// How much of one lamp's flux arrives, per m²: diffusely, and times the gloss
/// lobe (per m²·sr).
#[derive(Clone, Copy, Default)]
struct Arriving {
    diffuse: f32,
    gloss: f32,
}

impl Arriving {
    fn add(&mut self, other: Self, share: f32) {
        self.diffuse += other.diffuse * share;
        self.gloss += other.gloss * share;
    }
}

struct Row {
    /// For each pixel, where its patches end.
    ends: Vec<u32>,
    patches: Vec<Patch>,
    /// One entry for each patch and lamp.
    arriving: Vec<Arriving>,
}

/// What a camera sees of the rig, and which light reaches it.
pub struct LitView {
    sight: Sight,
    lamps: usize,
    rows: Vec<Row>,
}

struct Lighting<'a> {
    scene: &'a Scene,
    camera: usize,
    /// The lamps whose light is traced.
    panels: Vec<(usize, Panel)>,
}

/// Uniform in −1…1 from integers: a fixed sampling pattern, not randomness
/// (the mixing steps of SplitMix64; Steele, Lea and Flood 2014).
fn scatter(a: u64, b: u64) -> f64 {
    let mut z = a.wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ b.wrapping_mul(0xd1b5_4a32_d192_ed03);
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 52) as f64 - 1.0
}

impl Lighting<'_> {
    /// Light from one of `n × n` equal parts of a lamp at a hit, as if the whole
    /// lamp shone like that part; `None` where none arrives.
    fn light_from(
        &self,
        (lamp, panel): &(usize, Panel),
        (part, n): (usize, usize),
        at: &Met,
        salt: u64,
    ) -> Option<Arriving> {
        let jitter = (self.camera as u64) << 16 | (*lamp as u64) << 8 | (n << 4 | part) as u64;
        let on = |index: usize, salt_bit: u64| {
            (2.0 * index as f64 + 1.0 + scatter(salt, jitter | salt_bit)) / n as f64 - 1.0
        };
        let on_panel = panel.point(on(part % n, 0), on(part / n, 1 << 32));
        let (transfer, direction) = panel.transfer(at.point, at.normal, on_panel)?;
        if self.scene.rig().shadowed(&Ray { origin: at.point, direction: on_panel - at.point }) {
            return None;
        }
        // Flux over π: a Lambertian panel's radiance times its area. 1e6: mm² to m².
        let diffuse = transfer * 1e6 / PI;
        let gloss_width = if at.material < BODY {
            self.scene.file().cube.gloss_width_ratio
        } else {
            PLAIN_GLOSS_WIDTH
        };
        let lobe = ggx(at.normal, at.to_eye, direction, gloss_width, Some(COAT_INDEX));
        Some(Arriving { diffuse: diffuse as f32, gloss: (diffuse * lobe) as f32 })
    }

    /// Mean light from a whole lamp: four parts, or sixteen where some of the four
    /// are hidden and some are not.
    fn light_from_all(&self, lamp: &(usize, Panel), at: &Met, salt: u64) -> Arriving {
        let sum = |n: usize| {
            let mut lit = 0;
            let mut sum = Arriving::default();
            for light in (0..n * n).filter_map(|part| self.light_from(lamp, (part, n), at, salt)) {
                sum.add(light, 1.0 / (n * n) as f32);
                lit += 1;
            }
            (sum, lit)
        };
        match sum(2) {
            (_, 1..=3) => sum(4).0,
            (coarse, _) => coarse,
        }
    }

    /// Patches of one pixel: all parts of each lamp on the one ray of an even pixel,
    /// else one part on each of the four rays.
    fn pixel(&self, pixel: Pixel, rays: &[Option<Met>], salt: u64, out: &mut Row) {
        let lamps = self.panels.len();
        let first = out.patches.len();
        let share = 1.0 / rays.len() as f32;
        for (k, met) in rays.iter().enumerate() {
            let material = met.as_ref().map_or(BACKDROP, |met| met.material);
            let known = out.patches[first..].iter().position(|p| p.material == material);
            let at = known.map_or(out.patches.len(), |at| first + at);
            if known.is_none() {
                out.patches.push(Patch { material, share: 0.0, mirror: 0.0 });
                out.arriving.resize(out.arriving.len() + lamps, Arriving::default());
            }
            out.patches[at].share += share;
            let Some(met) = met else { continue };
            out.patches[at].mirror +=
                share * fresnel(met.to_eye.dot(met.normal), COAT_INDEX) as f32;
            let into = &mut out.arriving[at * lamps..(at + 1) * lamps];
            for (lamp, into) in self.panels.iter().zip(into) {
                if pixel == Pixel::Even {
                    into.add(self.light_from_all(lamp, met, salt), 1.0);
                } else if let Some(light) = self.light_from(lamp, (k, 2), met, salt) {
                    into.add(light, share);
                }
            }
        }
    }

    fn row(&self, number: usize, sight: &Sight) -> Row {
        let row = &sight.rows[number];
        let mut out = Row {
            ends: Vec::with_capacity(sight.width),
            patches: Vec::with_capacity(sight.width),
            arriving: Vec::new(),
        };
        let mut rays = &row.rays[..];
        for (column, &pixel) in row.pixels.iter().enumerate() {
            let (own, rest) = rays.split_at(pixel.rays());
            rays = rest;
            if pixel == Pixel::Backdrop {
                out.patches.push(Patch { material: BACKDROP, share: 1.0, mirror: 0.0 });
                let patches = out.patches.len();
                out.arriving.resize(patches * self.panels.len(), Arriving::default());
            } else {
                let salt = (number * sight.width + column) as u64;
                self.pixel(pixel, own, salt, &mut out);
            }
            out.ends.push(out.patches.len() as u32);
        }
        out
    }
}

/// The light of some lamps on all that is seen.
fn light(scene: &Scene, sight: &Sight, lamps: &[usize]) -> Vec<Row> {
    let panel = |&lamp: &usize| (lamp, Panel::of(&scene.file().lamps[lamp]));
    let panels = lamps.iter().map(panel).collect();
    let lighting = Lighting { scene, camera: sight.camera, panels };
    (0..sight.height).into_par_iter().map(|row| lighting.row(row, sight)).collect()
}

impl LitView {
    /// Traces camera number `camera` of the rig as built.
    ///
    /// # Panics
    /// If the scene has no such camera.
    #[must_use]
    pub fn trace(scene: &Scene, built: &AsBuilt, camera: usize) -> Self {
        let sight = Sight::look(scene, &built.views[camera], camera);
        let lamps: Vec<usize> = (0..scene.file().lamps.len()).collect();
        let rows = light(scene, &sight, &lamps);
        Self { sight, lamps: lamps.len(), rows }
    }

    /// Traces the light of some lamps anew, for a scene that differs from the
    /// traced one in nothing else. The result is the one that
    /// [`trace`](Self::trace) gives, sooner.
    ///
    /// # Panics
    /// If the scene has another number of lamps than the traced one, or a lamp
    /// number is out of range.
    pub fn relight(&mut self, scene: &Scene, lamps: &[usize]) {
        let all = self.lamps;
        assert_eq!(scene.file().lamps.len(), all, "the view was traced under other lamps");
        let lit = light(scene, &self.sight, lamps);
        self.rows.par_iter_mut().zip(lit).for_each(|(row, lit)| {
            let traced = lit.arriving.chunks_exact(lamps.len().max(1));
            for (into, from) in row.arriving.chunks_exact_mut(all.max(1)).zip(traced) {
                lamps.iter().zip(from).for_each(|(&lamp, &light)| into[lamp] = light);
            }
        });
    }

    /// What each pixel's centre truly shows.
    #[must_use]
    pub fn labels(&self) -> Labels {
        let label = |&material: &u8| match material {
            MOTOR => Surface::Shaft.code(),
            BACKDROP => Surface::Background.code(),
            other => other,
        };
        let Sight { width, height, rows, .. } = &self.sight;
        let codes = rows.iter().flat_map(|row| row.centre.iter().map(label)).collect();
        Labels { width: *width, height: *height, codes }
    }

    /// Photographs a cube that shows `shown`. `scene` must be the one that was
    /// traced, except that its lamps may be brighter, darker or of another
    /// colour: that needs no new rays.
    ///
    /// # Panics
    /// If the scene has another number of lamps than the traced one.
    #[must_use]
    pub fn expose(
        &self,
        scene: &Scene,
        built: &AsBuilt,
        shown: &Stickering,
        shot: Shot<'_>,
    ) -> Frame {
        let file = scene.file();
        let Sight { camera: index, width, height, .. } = self.sight;
        let camera = &file.cameras[index];
        let table = LightTable::new(scene, camera);
        let lamps = file.lamps.len();
        assert_eq!(lamps, self.lamps, "the view was traced under other lamps");
        let flux: Vec<f64> = file.lamps.iter().map(|lamp| lamp.flux_lm).collect();
        let diffuse: Vec<[f64; CHANNELS]> = (0..=lamps)
            .flat_map(|lamp| (0..MATERIALS as u8).map(move |material| (lamp, material)))
            .map(|(lamp, material)| {
                let flux = flux.get(lamp).copied().unwrap_or(file.surroundings.ambient_lux);
                let per_lux = table.diffuse(lamp, material, &shown.0, &built.sticker_factor);
                per_lux.map(|e| e * flux)
            })
            .collect();
        let gloss: Vec<[f64; CHANNELS]> = (0..=lamps)
            .map(|lamp| {
                let flux = flux.get(lamp).copied();
                // Even light of illuminance E has radiance E/π.
                let flux = flux.unwrap_or(file.surroundings.ambient_lux / PI);
                table.gloss(lamp).map(|e| e * flux)
            })
            .collect();
        let mut pixels = vec![0; 3 * width * height];
        pixels.par_chunks_mut(3 * width).zip(&self.rows).enumerate().for_each(
            |(number, (out, row))| {
                let stream = (index as u64) << 32 | number as u64;
                let mut noise = shot.seed.stream(shot.name, shot.trial, stream);
                let mut start = 0;
                for (pixel, &end) in out.chunks_exact_mut(3).zip(&row.ends) {
                    let end = end as usize;
                    let mut mean_e = [0.0; CHANNELS];
                    for (k, patch) in row.patches[start..end].iter().enumerate() {
                        let material = usize::from(patch.material);
                        let arriving = &row.arriving[(start + k) * lamps..(start + k + 1) * lamps];
                        for (lamp, light) in arriving.iter().enumerate() {
                            let body = &diffuse[lamp * MATERIALS + material];
                            for c in 0..CHANNELS {
                                mean_e[c] += f64::from(light.diffuse) * body[c]
                                    + f64::from(light.gloss) * gloss[lamp][c];
                            }
                        }
                        let room = &diffuse[lamps * MATERIALS + material];
                        for c in 0..CHANNELS {
                            mean_e[c] += f64::from(patch.share) * room[c]
                                + f64::from(patch.mirror) * gloss[lamps][c];
                        }
                    }
                    pixel.copy_from_slice(&develop(camera, mean_e, &mut noise).encode().0);
                    start = end;
                }
            },
        );
        Frame { camera: camera.name.clone(), width, height, pixels }
    }
}
