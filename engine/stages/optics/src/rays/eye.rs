//! A camera's rays: sixteen samples of neighbouring pixels of a row at a time.

use dryturn_geometry::lanes::prelude::*;
use dryturn_geometry::lanes::{Floats, LANES, Mask, Rays, V3, Words};
use dryturn_geometry::{DVec2, DVec3, Simd};
use dryturn_scene::View;
use dryturn_scene::file::Camera;

use super::pattern::{Patterns, Purpose, Samples, on_disc};
use crate::camera::sensor::Aperture;

/// A camera where it stands, ready to send out rays.
pub(crate) struct Eye {
    number: usize,
    pub(crate) width: usize,
    pub(crate) height: usize,
    /// Samples a pixel.
    pub(crate) samples: usize,
    patterns: Patterns,
    position: [f32; 3],
    right: [f32; 3],
    down: [f32; 3],
    forward: [f32; 3],
    /// Where the corners of the pixels look, normalised coordinates, `width + 1` a row;
    /// no number where the lens model ends.
    corners: Vec<[f32; 2]>,
    /// Radius of the opening and the sharp distance, mm, where blur is on.
    blur: Option<(f32, f32)>,
}

/// Sixteen samples of a row and their rays.
pub(crate) struct Glance<'a, S: Simd> {
    pub(crate) samples: Samples<'a>,
    pub(crate) rays: Rays<S>,
    /// Lanes that stand for a sample.
    pub(crate) live: Mask<S>,
}

impl Eye {
    pub(crate) fn new(camera: &Camera, view: &View, number: usize) -> Self {
        let size = [camera.width_px as usize, camera.height_px as usize];
        let radius = Aperture::of(camera).diameter_mm / 2.0;
        let blur = (camera.focus_mm > 0.0).then_some((radius as f32, camera.focus_mm as f32));
        Self { blur, ..Self::sharp(view, size, camera.samples_px as usize, number) }
    }

    /// A camera that is sharp everywhere.
    pub(crate) fn sharp(
        view: &View,
        [width, height]: [usize; 2],
        samples: usize,
        number: usize,
    ) -> Self {
        let world = |axis: DVec3| view.pose.direction_to_world(axis).as_vec3().to_array();
        let corner = |i: usize| {
            let (column, row) = (i % (width + 1), i / (width + 1));
            let pixel = DVec2::new(column as f64 - 0.5, row as f64 - 0.5);
            let place = view.lens.normalise(pixel);
            place.map_or([f32::NAN; 2], |n| n.as_vec2().to_array())
        };
        Self {
            number,
            width,
            height,
            samples,
            patterns: Patterns::new(samples),
            position: view.pose.position.as_vec3().to_array(),
            right: world(DVec3::X),
            down: world(DVec3::Y),
            forward: world(DVec3::Z),
            corners: (0..(width + 1) * (height + 1)).map(corner).collect(),
            blur: None,
        }
    }

    /// Groups of sixteen samples that a row has.
    pub(crate) fn glances(&self) -> usize {
        (self.width * self.samples).div_ceil(LANES)
    }

    /// Cosine of the angle between a pixel's ray and the optical axis.
    pub(crate) fn cosine(&self, row: usize, column: usize) -> f64 {
        let [a, b, c, d] = self.cell(row, column);
        let middle = |k: usize| f64::from(a[k] + b[k] + c[k] + d[k]) / 4.0;
        let (x, y) = (middle(0), middle(1));
        1.0 / (1.0 + x * x + y * y).sqrt()
    }

    /// The four corners of a pixel.
    fn cell(&self, row: usize, column: usize) -> [[f32; 2]; 4] {
        let at = row * (self.width + 1) + column;
        let below = at + self.width + 1;
        [self.corners[at], self.corners[at + 1], self.corners[below], self.corners[below + 1]]
    }

    /// Coordinate `k` of places within the pixels of lanes.
    #[inline(always)]
    fn between<S: Simd>(
        &self,
        simd: S,
        (row, first): (usize, usize),
        k: usize,
        (u, v): (Floats<S>, Floats<S>),
    ) -> Floats<S> {
        let mut corners = [[0.0; LANES]; 4];
        let run = self.samples.min(LANES);
        for pixel in 0..LANES / run {
            // Lanes past the end of the row stand for nothing.
            let column = (first / self.samples + pixel).min(self.width - 1);
            let cell = self.cell(row, column);
            for (lanes, corner) in corners.iter_mut().zip(cell) {
                lanes[pixel * run..(pixel + 1) * run].fill(corner[k]);
            }
        }
        let [a, b, c, d] = corners;
        let (a, b) = (Floats::simd_from(simd, a), Floats::simd_from(simd, b));
        let (c, d) = (Floats::simd_from(simd, c), Floats::simd_from(simd, d));
        a + u * (b - a) + v * (c - a) + u * v * (a - b - c + d)
    }

    /// A vector across the optical axis, in the world.
    #[inline(always)]
    fn across<S: Simd>(&self, simd: S, x: Floats<S>, y: Floats<S>) -> V3<S> {
        V3::splat(simd, self.right).times(x).plus(V3::splat(simd, self.down).times(y))
    }

    /// Group number `glance` of a row: sample by sample, pixel by pixel.
    #[inline(always)]
    pub(crate) fn glance<S: Simd>(&self, simd: S, row: usize, glance: usize) -> Glance<'_, S> {
        let first = glance * LANES;
        let along = row * self.width * self.samples + first;
        let samples = Samples::new(&self.patterns, self.number, along);
        let place = samples.place(simd, Purpose::Pixel);
        let x = self.between(simd, (row, first), 0, place);
        let y = self.between(simd, (row, first), 1, place);
        let known = x.simd_eq(x) & y.simd_eq(y);
        let zero = Floats::splat(simd, 0.0);
        let (x, y) = (known.select(x, zero), known.select(y, zero));
        let ahead = self.across(simd, x, y).plus(V3::splat(simd, self.forward));
        let position = V3::splat(simd, self.position);
        let (origin, direction) = match self.blur {
            None => (position, ahead),
            Some((radius, sharp)) => {
                let (a, b) = on_disc(simd, samples.place(simd, Purpose::Lens));
                let radius = Floats::splat(simd, radius);
                let on_lens = self.across(simd, a * radius, b * radius);
                let target = ahead.times(Floats::splat(simd, sharp));
                (position.plus(on_lens), target.minus(on_lens))
            }
        };
        let count = (self.width * self.samples - first).min(LANES);
        let own = Mask::from_bitmask(simd, (1u64 << count) - 1);
        let none = Words::splat(simd, u32::MAX);
        let rays = Rays::new(simd, origin, direction.normalised(simd), none);
        Glance { samples, rays, live: own & known }
    }
}
