//! What a camera's rays meet, whatever the light.

use dryturn_geometry::{DVec2, DVec3, Ray};
use dryturn_scene::{Part, Scene, Surface, View};
use rayon::prelude::*;

use crate::light_table::{BACKDROP, BODY, MOTOR, ROD};

/// Offset of a shadow ray's start from its surface, mm.
const LIFT_OFF_MM: f64 = 1e-3;
/// Where the four rays of a divided pixel go, in half pixels.
const STRATA: [(f64, f64); 4] = [(-0.5, -0.5), (0.5, -0.5), (-0.5, 0.5), (0.5, 0.5)];

/// What one ray meets.
#[derive(Clone, Copy)]
pub(crate) struct Met {
    pub(crate) material: u8,
    /// Just above the surface.
    pub(crate) point: DVec3,
    pub(crate) normal: DVec3,
    pub(crate) to_eye: DVec3,
}

/// How a pixel was looked at.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum Pixel {
    /// It and its neighbours show the backdrop: no ray is kept.
    Backdrop,
    /// It and its neighbours show one material: one ray.
    Even,
    /// Four rays.
    Divided,
}

impl Pixel {
    pub(crate) fn rays(self) -> usize {
        match self {
            Self::Backdrop => 0,
            Self::Even => 1,
            Self::Divided => STRATA.len(),
        }
    }
}

/// A row of pixels with its rays, pixel by pixel; `None` meets the backdrop.
pub(crate) struct SightRow {
    pub(crate) pixels: Vec<Pixel>,
    pub(crate) rays: Vec<Option<Met>>,
    /// Material at the centre of each pixel.
    pub(crate) centre: Vec<u8>,
}

/// All rays of a camera.
pub(crate) struct Sight {
    pub(crate) camera: usize,
    pub(crate) width: usize,
    pub(crate) height: usize,
    pub(crate) rows: Vec<SightRow>,
}

fn material_of(met: &Option<Met>) -> u8 {
    met.as_ref().map_or(BACKDROP, |met| met.material)
}

/// What the ray through a point of the picture meets.
fn meet(scene: &Scene, view: &View, column: f64, row: f64) -> Option<Met> {
    let ray = view.ray(DVec2::new(column, row))?;
    let ray = Ray { direction: ray.direction.normalize(), ..ray };
    let (part, surface, hit) = scene.rig().trace(&ray)?;
    let material = match (surface, part) {
        (Surface::Facelet(facelet), _) => facelet.index() as u8,
        (_, Part::Piece(_)) => BODY,
        (_, Part::Shaft(_)) => ROD,
        (_, Part::Motor(_)) => MOTOR,
    };
    let point = ray.at(hit.t) + hit.normal * LIFT_OFF_MM;
    Some(Met { material, point, normal: hit.normal, to_eye: -ray.direction })
}

impl Sight {
    /// Looks through camera number `camera`, which stands where `view` says.
    pub(crate) fn look(scene: &Scene, view: &View, camera: usize) -> Self {
        let settings = &scene.file().cameras[camera];
        let (width, height) = (settings.width_px as usize, settings.height_px as usize);
        let meet = |column: f64, row: f64| meet(scene, view, column, row);
        let centres: Vec<Vec<Option<Met>>> = (0..height)
            .into_par_iter()
            .map(|row| (0..width).map(|column| meet(column as f64, row as f64)).collect())
            .collect();
        let look_at_row = |row: usize| {
            let near = &centres[row.saturating_sub(1)..(row + 2).min(height)];
            let centre: Vec<u8> = centres[row].iter().map(material_of).collect();
            let mut pixels = Vec::with_capacity(width);
            let mut rays = Vec::with_capacity(width);
            for (column, &met) in centres[row].iter().enumerate() {
                let across = column.saturating_sub(1)..(column + 2).min(width);
                let here = centre[column];
                let same = |met: &Option<Met>| material_of(met) == here;
                let even = near.iter().all(|r| r[across.clone()].iter().all(same));
                let pixel = match (even, here) {
                    (true, BACKDROP) => Pixel::Backdrop,
                    (true, _) => Pixel::Even,
                    (false, _) => Pixel::Divided,
                };
                match pixel {
                    Pixel::Backdrop => {}
                    Pixel::Even => rays.push(met),
                    Pixel::Divided => rays.extend(
                        STRATA
                            .map(|(dx, dy)| meet(column as f64 + dx / 2.0, row as f64 + dy / 2.0)),
                    ),
                }
                pixels.push(pixel);
            }
            SightRow { pixels, rays, centre }
        };
        let rows = (0..height).into_par_iter().map(look_at_row).collect();
        Self { camera, width, height, rows }
    }
}
