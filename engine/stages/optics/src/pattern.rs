//! Where samples go: a fixed pattern from integers, not randomness. Each pixel's
//! samples are spread evenly over the pixel, over every lamp and over the sky, one a
//! cell of a square grid; which sample takes which cell differs from pixel to pixel.

use dryturn_geometry::Simd;
use dryturn_geometry::lanes::prelude::*;
use dryturn_geometry::lanes::{Floats, LANES, V3, Words};

/// What a place in the unit square is for; each has its own pattern.
#[derive(Clone, Copy)]
pub(crate) enum Purpose {
    Pixel,
    Time,
    Lens,
    Sky,
    SkyGloss,
    /// And on the way after a bounce: lamps from [`Purpose::BOUNCED`] on.
    BounceSky,
    Lamp(usize),
    BounceLamp(usize),
}

impl Purpose {
    fn number(self) -> u32 {
        match self {
            Self::Pixel => 0,
            Self::Time => 1,
            Self::Lens => 2,
            Self::Sky => 3,
            Self::SkyGloss => 4,
            Self::BounceSky => 5,
            Self::Lamp(lamp) => 8 + 2 * lamp as u32,
            Self::BounceLamp(lamp) => 9 + 2 * lamp as u32,
        }
    }
}

/// The samples that sixteen lanes stand for.
#[derive(Clone, Copy)]
pub(crate) struct Samples<S: Simd> {
    /// A number for each pixel and camera.
    pixel: Words<S>,
    /// Number of the sample within its pixel.
    sample: Words<S>,
    /// Cells along one side of the grid, and how many bits number them.
    side: u32,
    bits: u32,
}

/// Mixes 32 bits (C. Wellons, *Prospecting for Hash Functions*, 2018; constants from
/// memory).
#[inline(always)]
fn mixed<S: Simd>(simd: S, mut x: Words<S>) -> Words<S> {
    x ^= x >> 16;
    x *= Words::splat(simd, 0x7feb_352d);
    x ^= x >> 15;
    x *= Words::splat(simd, 0x846c_a68b);
    x ^ (x >> 16)
}

/// 0 to 1 from the upper 24 bits.
#[inline(always)]
fn unit<S: Simd>(simd: S, x: Words<S>) -> Floats<S> {
    simd.cvt_f32_u32x16(x >> 8) * Floats::splat(simd, 1.0 / 16_777_216.0)
}

impl<S: Simd> Samples<S> {
    /// Sample numbers `samples` of pixels `pixels`, of `count` samples a pixel: a
    /// power of four.
    #[inline(always)]
    pub(crate) fn new(
        simd: S,
        camera: usize,
        pixels: [u32; LANES],
        samples: [u32; LANES],
        count: u32,
    ) -> Self {
        let salt = Words::splat(simd, (camera as u32 + 1).wrapping_mul(0x9e37_79b9));
        let pixel = mixed(simd, Words::simd_from(simd, pixels) ^ salt);
        let bits = count.trailing_zeros();
        Self { pixel, sample: Words::simd_from(simd, samples), side: 1 << (bits / 2), bits }
    }

    /// A place in the unit square for each lane.
    #[inline(always)]
    pub(crate) fn place(&self, simd: S, purpose: Purpose) -> (Floats<S>, Floats<S>) {
        let splat = |v: u32| Words::splat(simd, v);
        let own = mixed(simd, self.pixel + splat(purpose.number().wrapping_mul(0x85eb_ca6b)));
        // A permutation of the cells, the pixel's own.
        let mask = splat((1 << self.bits) - 1);
        let odd = (own >> 5) | splat(1);
        let cell = (((self.sample ^ own) * odd) + (own >> 16)) & mask;
        let jitter_a = mixed(simd, own ^ (self.sample * splat(0x9e37_79b9)));
        let jitter_b = mixed(simd, jitter_a);
        let cell_float = |v: Words<S>| simd.cvt_f32_u32x16(v);
        let (x, y) = (cell & splat(self.side - 1), cell >> (self.bits / 2));
        let side = Floats::splat(simd, 1.0 / self.side as f32);
        (
            (cell_float(x) + unit(simd, jitter_a)) * side,
            (cell_float(y) + unit(simd, jitter_b)) * side,
        )
    }

    /// A cell for each lane, of as many as there are samples, and one of them for each
    /// sample of a pixel.
    #[inline(always)]
    pub(crate) fn cell(&self, simd: S, purpose: Purpose) -> Words<S> {
        let splat = |v: u32| Words::splat(simd, v);
        let own = mixed(simd, self.pixel + splat(purpose.number().wrapping_mul(0x85eb_ca6b)));
        (self.sample ^ own) & splat((1 << self.bits) - 1)
    }
}

/// Sine and cosine for angles from −π/4 to π/4: Taylor series, to single precision.
#[inline(always)]
fn small_sin_cos<S: Simd>(simd: S, x: Floats<S>) -> (Floats<S>, Floats<S>) {
    let c = |v: f32| Floats::splat(simd, v);
    let x2 = x * x;
    let sin = x * (c(1.0) + x2 * (c(-1.0 / 6.0) + x2 * (c(1.0 / 120.0) + x2 * c(-1.0 / 5040.0))));
    let cos = c(1.0)
        + x2 * (c(-0.5) + x2 * (c(1.0 / 24.0) + x2 * (c(-1.0 / 720.0) + x2 * c(1.0 / 40320.0))));
    (sin, cos)
}

/// The unit square on the unit disc, areas kept (P. Shirley and K. Chiu, *A low
/// distortion map between disk and square*, 1997).
#[inline(always)]
pub(crate) fn on_disc<S: Simd>(simd: S, (u, v): (Floats<S>, Floats<S>)) -> (Floats<S>, Floats<S>) {
    let (one, two) = (Floats::splat(simd, 1.0), Floats::splat(simd, 2.0));
    let (a, b) = (u * two - one, v * two - one);
    let wide = a.abs().simd_gt(b.abs());
    let radius = wide.select(a, b);
    let safe = radius.abs().simd_gt(Floats::splat(simd, 1e-12)).select(radius, one);
    let ratio = wide.select(b, a) / safe;
    let (sin, cos) = small_sin_cos(simd, ratio * Floats::splat(simd, core::f32::consts::FRAC_PI_4));
    (radius * wide.select(cos, sin), radius * wide.select(sin, cos))
}

/// A direction in the half space of `normal`, as often as its cosine says; place in
/// the unit square to direction.
#[inline(always)]
pub(crate) fn towards_sky<S: Simd>(simd: S, normal: V3<S>, place: (Floats<S>, Floats<S>)) -> V3<S> {
    let (x, y) = on_disc(simd, place);
    let (zero, one) = (Floats::splat(simd, 0.0), Floats::splat(simd, 1.0));
    let z = (one - x * x - y * y).max(zero).sqrt();
    let (right, up) = across(simd, normal);
    right.times(x).plus(up.times(y)).plus(normal.times(z))
}

/// Two unit vectors across a unit vector (T. Duff et al., *Building an orthonormal
/// basis, revisited*, JCGT 6, 2017).
#[inline(always)]
pub(crate) fn across<S: Simd>(simd: S, n: V3<S>) -> (V3<S>, V3<S>) {
    let one = Floats::splat(simd, 1.0);
    let [x, y, z] = n.0;
    let sign = one.copysign(z);
    let a = -one / (sign + z);
    let b = x * y * a;
    (V3([one + sign * x * x * a, sign * b, -sign * x]), V3([b, sign + y * y * a, -y]))
}

#[cfg(test)]
mod tests {
    use dryturn_geometry::{Level, dispatch};

    use super::*;

    fn places<S: Simd>(simd: S) -> (Vec<(f32, f32)>, Vec<(f32, f32)>, Vec<u32>) {
        let samples = Samples::new(simd, 1, [77; 16], core::array::from_fn(|i| i as u32), 16);
        let place = samples.place(simd, Purpose::Lamp(2));
        let disc = on_disc(simd, place);
        let pairs = |(x, y): (Floats<S>, Floats<S>)| (0..16).map(|i| (x[i], y[i])).collect();
        let cells: [u32; 16] = samples.cell(simd, Purpose::Time).into();
        (pairs(place), pairs(disc), cells.to_vec())
    }

    /// Sixteen samples of a pixel: one in each cell of a 4 × 4 grid.
    #[test]
    fn samples_are_spread_evenly() {
        let (places, disc, mut times) = dispatch!(Level::new(), simd => places(simd));
        let mut cells: Vec<u32> =
            places.iter().map(|(x, y)| (x * 4.0) as u32 + 4 * (y * 4.0) as u32).collect();
        cells.sort_unstable();
        assert!(cells.iter().copied().eq(0..16), "{cells:?}");
        assert!(disc.iter().all(|(x, y)| x * x + y * y <= 1.0));
        // Areas are kept: a square of half the side holds a quarter of the disc.
        for ((u, v), (x, y)) in places.iter().zip(&disc) {
            let square = (2.0 * u - 1.0).abs().max((2.0 * v - 1.0).abs());
            assert!(((x * x + y * y).sqrt() - square).abs() < 1e-5);
        }
        times.sort_unstable();
        assert!(times.iter().copied().eq(0..16));
    }
}
