//! One camera's view of the rig under its lamps, traced once and painted often.

use core::f64::consts::PI;

use dryturn_cube::Stickering;
use dryturn_geometry::{DVec2, DVec3, Hit, Ray};
use dryturn_handoff::{Frame, Labels};
use dryturn_scene::{Part, Scene, Surface};
use dryturn_units::noise::Seed;
use rayon::prelude::*;

use crate::as_built::AsBuilt;
use crate::lamp::Panel;
use crate::light_table::{BACKDROP, BODY, LightTable, MATERIALS, MOTOR, ROD};
use crate::sensor::{CHANNELS, develop};
use crate::surface::{COAT_INDEX, fresnel, ggx};

/// Offset of a shadow ray's start from its surface, mm.
const LIFT_OFF_MM: f64 = 1e-3;
/// Highlight width of body, rods and motors (assumption: matt plastic).
const PLAIN_GLOSS_WIDTH: f64 = 0.5;
/// Where the four rays of a divided pixel go, in half pixels.
const STRATA: [(f64, f64); 4] = [(-0.5, -0.5), (0.5, -0.5), (-0.5, 0.5), (0.5, 0.5)];

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

/// What a ray meets.
#[derive(Clone, Copy)]
struct Met {
    ray: Ray,
    material: u8,
    hit: Hit,
}

fn material_of(met: &Option<Met>) -> u8 {
    met.as_ref().map_or(BACKDROP, |met| met.material)
}

/// A point whose light is asked for, just above its surface.
struct Shaded {
    point: DVec3,
    normal: DVec3,
    to_eye: DVec3,
    gloss_width: f64,
}

struct Row {
    /// For each pixel, where its patches end.
    ends: Vec<u32>,
    patches: Vec<Patch>,
    /// `lamps` entries for each patch.
    arriving: Vec<Arriving>,
    /// Material at the centre of each pixel.
    centre: Vec<u8>,
}

/// What a camera sees of the rig, and which light reaches it.
pub struct LitView {
    camera: usize,
    width: usize,
    height: usize,
    lamps: usize,
    rows: Vec<Row>,
}

struct Tracer<'a> {
    scene: &'a Scene,
    view: &'a dryturn_scene::View,
    panels: Vec<Panel>,
    camera: usize,
}

/// Uniform in −1…1 from integers: a fixed sampling pattern, not randomness
/// (the mixing steps of SplitMix64; Steele, Lea and Flood 2014).
fn scatter(a: u64, b: u64) -> f64 {
    let mut z = a.wrapping_mul(0x9e37_79b9_7f4a_7c15) ^ b.wrapping_mul(0xd1b5_4a32_d192_ed03);
    z = (z ^ (z >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    z = (z ^ (z >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    ((z ^ (z >> 31)) >> 11) as f64 / (1u64 << 52) as f64 - 1.0
}

impl Tracer<'_> {
    fn ray(&self, column: f64, row: f64) -> Option<Ray> {
        let ray = self.view.ray(DVec2::new(column, row))?;
        Some(Ray { direction: ray.direction.normalize(), ..ray })
    }

    /// What the ray through a point of the picture meets; `None` for the backdrop.
    fn meet(&self, column: f64, row: f64) -> Option<Met> {
        let ray = self.ray(column, row)?;
        let (part, surface, hit) = self.scene.rig().trace(&ray)?;
        let material = match (surface, part) {
            (Surface::Facelet(facelet), _) => facelet.index() as u8,
            (_, Part::Piece(_)) => BODY,
            (_, Part::Shaft(_)) => ROD,
            (_, Part::Motor(_)) => MOTOR,
        };
        Some(Met { ray, material, hit })
    }

    fn shaded(&self, ray: &Ray, hit: Hit, material: u8) -> Shaded {
        let gloss_width = if material < BODY {
            self.scene.file().cube.gloss_width_ratio
        } else {
            PLAIN_GLOSS_WIDTH
        };
        let point = ray.at(hit.t) + hit.normal * LIFT_OFF_MM;
        Shaded { point, normal: hit.normal, to_eye: -ray.direction, gloss_width }
    }

    /// Light from one of `n × n` equal parts of a lamp at a hit, as if the whole
    /// lamp shone like that part; `None` where none arrives.
    fn light_from(
        &self,
        lamp: usize,
        (part, n): (usize, usize),
        at: &Shaded,
        salt: u64,
    ) -> Option<Arriving> {
        let panel = &self.panels[lamp];
        let jitter = (self.camera as u64) << 16 | (lamp as u64) << 8 | (n << 4 | part) as u64;
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
        let lobe = ggx(at.normal, at.to_eye, direction, at.gloss_width, Some(COAT_INDEX));
        Some(Arriving { diffuse: diffuse as f32, gloss: (diffuse * lobe) as f32 })
    }

    /// Mean light from a whole lamp: four parts, or sixteen where some of the four
    /// are hidden and some are not.
    fn light_from_all(&self, lamp: usize, at: &Shaded, salt: u64) -> Arriving {
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

    /// Patches of one pixel: one ray and all parts of each lamp where the pixel and
    /// its neighbours show one material, else four rays with one part each.
    fn pixel(
        &self,
        (column, row): (usize, usize),
        centre: Option<Met>,
        uniform: bool,
        salt: u64,
        out: &mut Row,
    ) {
        let lamps = self.panels.len();
        let first = out.patches.len();
        let rays = if uniform { &[(0.0, 0.0)][..] } else { &STRATA[..] };
        let share = 1.0 / rays.len() as f32;
        for (k, &(dx, dy)) in rays.iter().enumerate() {
            let met = if uniform {
                centre
            } else {
                self.meet(column as f64 + dx / 2.0, row as f64 + dy / 2.0)
            };
            let material = material_of(&met);
            let known = out.patches[first..].iter().position(|p| p.material == material);
            let at = known.map_or(out.patches.len(), |at| first + at);
            if known.is_none() {
                out.patches.push(Patch { material, share: 0.0, mirror: 0.0 });
                out.arriving.resize(out.arriving.len() + lamps, Arriving::default());
            }
            out.patches[at].share += share;
            let Some(Met { ray, hit, .. }) = met else { continue };
            out.patches[at].mirror +=
                share * fresnel(-ray.direction.dot(hit.normal), COAT_INDEX) as f32;
            let into = &mut out.arriving[at * lamps..(at + 1) * lamps];
            let shaded = self.shaded(&ray, hit, material);
            for (lamp, into) in into.iter_mut().enumerate() {
                if uniform {
                    into.add(self.light_from_all(lamp, &shaded, salt), 1.0);
                } else if let Some(light) = self.light_from(lamp, (k, 2), &shaded, salt) {
                    into.add(light, share);
                }
            }
        }
        out.ends.push(out.patches.len() as u32);
    }
}

impl LitView {
    /// Traces camera number `camera` of the rig as built.
    ///
    /// # Panics
    /// If the scene has no such camera.
    #[must_use]
    pub fn trace(scene: &Scene, built: &AsBuilt, camera: usize) -> Self {
        let settings = &scene.file().cameras[camera];
        let (width, height) = (settings.width_px as usize, settings.height_px as usize);
        let panels = scene.file().lamps.iter().map(Panel::of).collect();
        let tracer = Tracer { scene, view: &built.views[camera], panels, camera };
        let centres: Vec<Vec<Option<Met>>> = (0..height)
            .into_par_iter()
            .map(|row| (0..width).map(|column| tracer.meet(column as f64, row as f64)).collect())
            .collect();
        let rows = (0..height)
            .into_par_iter()
            .map(|row| {
                let mut out = Row {
                    ends: Vec::with_capacity(width),
                    patches: Vec::with_capacity(width),
                    arriving: Vec::new(),
                    centre: centres[row].iter().map(material_of).collect(),
                };
                let near = &centres[row.saturating_sub(1)..(row + 2).min(height)];
                for (column, &met) in centres[row].iter().enumerate() {
                    let across = column.saturating_sub(1)..(column + 2).min(width);
                    let here = out.centre[column];
                    let uniform = near
                        .iter()
                        .all(|r| r[across.clone()].iter().all(|met| material_of(met) == here));
                    if uniform && here == BACKDROP {
                        out.patches.push(Patch { material: BACKDROP, share: 1.0, mirror: 0.0 });
                        out.arriving
                            .resize(out.patches.len() * tracer.panels.len(), Arriving::default());
                        out.ends.push(out.patches.len() as u32);
                    } else {
                        let salt = (row * width + column) as u64;
                        tracer.pixel((column, row), met, uniform, salt, &mut out);
                    }
                }
                out
            })
            .collect();
        Self { camera, width, height, lamps: scene.file().lamps.len(), rows }
    }

    /// What each pixel's centre truly shows.
    #[must_use]
    pub fn labels(&self) -> Labels {
        let label = |&material: &u8| match material {
            MOTOR => Surface::Shaft.code(),
            BACKDROP => Surface::Background.code(),
            other => other,
        };
        let codes = self.rows.iter().flat_map(|row| row.centre.iter().map(label)).collect();
        Labels { width: self.width, height: self.height, codes }
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
        let camera = &file.cameras[self.camera];
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
        let mut pixels = vec![0; 3 * self.width * self.height];
        pixels.par_chunks_mut(3 * self.width).zip(&self.rows).enumerate().for_each(
            |(number, (out, row))| {
                let index = (self.camera as u64) << 32 | number as u64;
                let mut noise = shot.seed.stream(shot.name, shot.trial, index);
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
        Frame { camera: camera.name.clone(), width: self.width, height: self.height, pixels }
    }
}
