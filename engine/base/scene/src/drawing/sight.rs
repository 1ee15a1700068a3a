//! What a camera's pixels show at their centres.

use dryturn_geometry::lanes::prelude::*;
use dryturn_geometry::lanes::{Floats, LANES, Mask, Rays, V3, Words};
use dryturn_geometry::{Assembly, DVec2, Level, Simd, Spin, dispatch};
use dryturn_units::{maths, stop};
use rayon::prelude::*;

use super::material::{Look, Material, materials};
use super::rig::Rig;
use super::view::View;

/// Material and depth at the centre of each pixel, row-major from the top left.
#[derive(Clone, Debug, PartialEq)]
pub struct Sight {
    /// What each pixel's centre shows.
    pub materials: Vec<Material>,
    /// Distance along the optical axis, mm; infinite for the backdrop.
    pub depth_mm: Vec<f32>,
}

impl Rig {
    /// What a camera sees of the rig at rest, in a picture of `width` × `height`.
    #[must_use]
    pub fn sight(&self, view: &View, width: usize, height: usize) -> Sight {
        let posed = Posed { assembly: self.at_rest(), angles_rad: &|_| Vec::new() };
        sight(&posed, self.looks(), view, [width, height])
    }
}

/// Solids with their layers turned about their axes, radians by the right-hand rule.
pub struct Posed<'a> {
    /// The solids.
    pub assembly: &'a Assembly,
    /// One angle for each group that turns, when a row of the picture is taken.
    pub angles_rad: &'a (dyn Fn(usize) -> Vec<f64> + Sync),
}

/// The same for solids posed otherwise.
#[must_use]
pub fn sight(posed: &Posed<'_>, looks: &[Look], view: &View, size: [usize; 2]) -> Sight {
    let [width, height] = size;
    let level = Level::new();
    drop(stop::room((size_of::<Material>() + size_of::<f32>()) * width * height));
    let mut materials = vec![Material::BACKDROP; width * height];
    let mut depth_mm = vec![f32::INFINITY; width * height];
    let rows = materials.par_chunks_mut(width).zip(depth_mm.par_chunks_mut(width)).enumerate();
    rows.for_each(|(row, (materials, depth_mm))| {
        dispatch!(level, simd => look_along(simd, (posed, looks, view), row, materials, depth_mm));
    });
    Sight { materials, depth_mm }
}

#[inline(always)]
fn look_along<S: Simd>(
    simd: S,
    (posed, looks, view): (&Posed<'_>, &[Look], &View),
    row: usize,
    out: &mut [Material],
    depth_mm: &mut [f32],
) {
    let spin = |angle: f64| Spin {
        cos: Floats::splat(simd, maths::cos(angle) as f32),
        sin: Floats::splat(simd, maths::sin(angle) as f32),
    };
    let spins: Vec<Spin<S>> = (posed.angles_rad)(row).into_iter().map(spin).collect();
    let from = V3::splat(simd, view.pose.position.as_vec3().to_array());
    for start in (0..out.len()).step_by(LANES) {
        let count = LANES.min(out.len() - start);
        let directions: [Option<[f32; 3]>; LANES] = core::array::from_fn(|i| {
            let pixel = DVec2::new((start + i.min(count - 1)) as f64, row as f64);
            view.direction(pixel).map(|direction| direction.as_vec3().to_array())
        });
        let live = (0..count).filter(|&i| directions[i].is_some());
        let live = Mask::from_bitmask(simd, live.fold(0, |bits, i| bits | 1 << i));
        let along = |k: usize| Floats::from_fn(simd, |i| directions[i].map_or(1.0, |d| d[k]));
        let direction = V3([along(0), along(1), along(2)]);
        let rays = Rays::new(simd, from, direction, Words::splat(simd, u32::MAX));
        let hits = posed.assembly.nearest(simd, &rays, &spins, live);
        let points = rays.at(hits
            .t
            .simd_lt(Floats::splat(simd, f32::INFINITY))
            .select(hits.t, Floats::splat(simd, 0.0)));
        let points = posed.assembly.on_solids(simd, &spins, &hits, points);
        let met = materials(simd, looks, &hits, points);
        for i in 0..count {
            if met[i] != Material::BACKDROP {
                out[start + i] = met[i];
                // Directions have unit length along the optical axis.
                depth_mm[start + i] = hits.t[i];
            }
        }
    }
}
