//! Where samples go: a fixed pattern from integers, not randomness. Each pixel's
//! samples are spread evenly over the pixel, over every lamp and over the sky; which
//! sample takes which place differs from pixel to pixel and from use to use.

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
    /// Directions that a coat mirrors to the eye.
    Mirror,
    /// The way on after the first surface.
    Bounce,
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
            Self::Mirror => 4,
            Self::BounceSky => 5,
            Self::Bounce => 6,
            Self::Lamp(lamp) => 8 + 2 * lamp as u32,
            Self::BounceLamp(lamp) => 9 + 2 * lamp as u32,
        }
    }
}

/// How many orders of the points there are.
const ORDERS: usize = 64;

/// Even points of the unit square in many orders, as many in each as a pixel has
/// samples: the first points of the sequence of I. M. Sobol (1967) in two dimensions,
/// of which each of `4^k` takes one cell of a square grid. A bit pattern laid over
/// all points of a pixel moves them and keeps that.
pub(crate) struct Patterns {
    /// Samples a pixel: a power of four.
    count: usize,
    /// `[order][round][sample]`, in 1/2³² of the side.
    x: Vec<u32>,
    y: Vec<u32>,
}

/// Rounds of places that each sample can take; those of the first, the first four and all
/// rounds are spread evenly together.
pub(crate) const ROUNDS: usize = 16;

/// Mixes 64 bits (S. Vigna's SplitMix64, 2015).
#[inline(always)]
fn mixed(x: u64) -> u64 {
    let x = (x ^ (x >> 30)).wrapping_mul(0xbf58_476d_1ce4_e5b9);
    let x = (x ^ (x >> 27)).wrapping_mul(0x94d0_49bb_1331_11eb);
    x ^ (x >> 31)
}

/// The step of SplitMix64.
const STEP: u64 = 0x9e37_79b9_7f4a_7c15;

/// Point number `i` of Sobol's sequence: the second coordinate's direction numbers are
/// those of the polynomial x + 1, rows of Pascal's triangle modulo two.
fn sobol(i: u32) -> [u32; 2] {
    let mut y = 0;
    let mut direction = 1 << 31;
    for bit in 0..32 {
        if i >> bit & 1 == 1 {
            y ^= direction;
        }
        direction ^= direction >> 1;
    }
    [i.reverse_bits(), y]
}

impl Patterns {
    /// For `count` samples a pixel, a power of four.
    pub(crate) fn new(count: usize) -> Self {
        let (mut x, mut y) = (Vec::new(), Vec::new());
        for order in 0..ORDERS as u64 {
            for round in 0..ROUNDS {
                let first = (round * count) as u32;
                let mut numbers: Vec<u32> = (first..first + count as u32).collect();
                numbers.sort_by_key(|&i| mixed((order + 1).wrapping_mul(STEP) ^ u64::from(i)));
                for [a, b] in numbers.into_iter().map(sobol) {
                    x.push(a);
                    y.push(b);
                }
            }
        }
        Self { count, x, y }
    }
}

/// The samples that sixteen lanes stand for: a run of one pixel's, or all those of
/// several pixels.
#[derive(Clone, Copy)]
pub(crate) struct Samples<'a> {
    patterns: &'a Patterns,
    /// A number for each pixel, as many as the lanes hold.
    pixels: [u64; LANES],
    /// The first sample's number within its pixel.
    first: usize,
}

impl<'a> Samples<'a> {
    /// Those from sample `first` on of a camera, all pixels' samples counted through.
    #[inline(always)]
    pub(crate) fn new(patterns: &'a Patterns, camera: usize, first: usize) -> Self {
        let mut pixels = [0; LANES];
        let pixel = first / patterns.count;
        for (i, number) in pixels.iter_mut().take(LANES.div_ceil(patterns.count)).enumerate() {
            *number = mixed((((camera as u64) << 32) + (pixel + i) as u64 + 1).wrapping_mul(STEP));
        }
        Self { patterns, pixels, first: first % patterns.count }
    }

    /// Where in which order a pixel's samples start, and the bits laid over its points.
    #[inline(always)]
    fn of_pixel(&self, pixel: u64, purpose: Purpose, round: usize) -> (usize, [u32; 2]) {
        let own = mixed(pixel.wrapping_add(u64::from(purpose.number() + 1).wrapping_mul(STEP)));
        let order = (own % ORDERS as u64) as usize;
        let at = (order * ROUNDS + round) * self.patterns.count + self.first;
        (at, [own as u32, (own >> 32) as u32])
    }

    /// A place in the unit square for each lane, in 1/2³² of the side.
    #[inline(always)]
    fn bits<S: Simd>(&self, simd: S, purpose: Purpose, round: usize) -> [Words<S>; 2] {
        let Patterns { count, x, y } = self.patterns;
        if *count >= LANES {
            let (at, [a, b]) = self.of_pixel(self.pixels[0], purpose, round);
            return [
                Words::from_slice(simd, &x[at..at + LANES]) ^ Words::splat(simd, a),
                Words::from_slice(simd, &y[at..at + LANES]) ^ Words::splat(simd, b),
            ];
        }
        let (mut u, mut v) = ([0; LANES], [0; LANES]);
        for (k, &pixel) in self.pixels[..LANES / count].iter().enumerate() {
            let (at, [a, b]) = self.of_pixel(pixel, purpose, round);
            for i in 0..*count {
                (u[k * count + i], v[k * count + i]) = (x[at + i] ^ a, y[at + i] ^ b);
            }
        }
        [Words::simd_from(simd, u), Words::simd_from(simd, v)]
    }

    /// A place in the unit square for each lane.
    #[inline(always)]
    pub(crate) fn place<S: Simd>(&self, simd: S, purpose: Purpose) -> (Floats<S>, Floats<S>) {
        self.place_of(simd, purpose, 0)
    }

    /// The same of round number `round`, below [`ROUNDS`].
    #[inline(always)]
    pub(crate) fn place_of<S: Simd>(
        &self,
        simd: S,
        purpose: Purpose,
        round: usize,
    ) -> (Floats<S>, Floats<S>) {
        let [u, v] = self.bits(simd, purpose, round);
        // The upper 24 bits, which a float holds.
        let share = Floats::splat(simd, 1.0 / 16_777_216.0);
        (simd.cvt_f32_u32x16(u >> 8) * share, simd.cvt_f32_u32x16(v >> 8) * share)
    }

    /// A number for each lane below the number of samples a pixel, each of them once
    /// among the samples of a pixel.
    #[inline(always)]
    pub(crate) fn cell<S: Simd>(&self, simd: S, purpose: Purpose) -> Words<S> {
        let [u, _] = self.bits(simd, purpose, 0);
        let bits = self.patterns.count.trailing_zeros();
        if bits == 0 { Words::splat(simd, 0) } else { u >> (32 - bits) }
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

    /// In the unit square and on the unit disc.
    type Places = Vec<(f32, f32)>;

    fn places<S: Simd>(simd: S, count: usize) -> (Places, Places, Vec<u32>) {
        let patterns = Patterns::new(count);
        let samples = Samples::new(&patterns, 1, 16 * 77);
        let place = samples.place(simd, Purpose::Lamp(2));
        let disc = on_disc(simd, place);
        let pairs = |(x, y): (Floats<S>, Floats<S>)| (0..16).map(|i| (x[i], y[i])).collect();
        let cells: [u32; 16] = samples.cell(simd, Purpose::Time).into();
        (pairs(place), pairs(disc), cells.to_vec())
    }

    /// Numbers of the cells of a grid that places fall into.
    fn cells(places: &[(f32, f32)], columns: u32, rows: u32) -> Vec<u32> {
        let cell =
            |(x, y): &(f32, f32)| (x * columns as f32) as u32 + columns * (y * rows as f32) as u32;
        let mut cells: Vec<u32> = places.iter().map(cell).collect();
        cells.sort_unstable();
        cells
    }

    /// Sixteen samples of a pixel: one in each cell of a 4 × 4 grid, as well as of every
    /// other grid of sixteen (a net: H. Niederreiter, *Random Number Generation and
    /// Quasi-Monte Carlo Methods*, SIAM 1992, ch. 4).
    #[test]
    fn samples_are_spread_evenly() {
        let (places, disc, mut times) = dispatch!(Level::new(), simd => places(simd, 16));
        for (columns, rows) in [(16, 1), (8, 2), (4, 4), (2, 8), (1, 16)] {
            let cells = cells(&places, columns, rows);
            assert!(cells.iter().copied().eq(0..16), "{columns} × {rows}: {cells:?}");
        }
        assert!(disc.iter().all(|(x, y)| x * x + y * y <= 1.0));
        // Areas are kept: a square of half the side holds a quarter of the disc.
        for ((u, v), (x, y)) in places.iter().zip(&disc) {
            let square = (2.0 * u - 1.0).abs().max((2.0 * v - 1.0).abs());
            assert!(((x * x + y * y).sqrt() - square).abs() < 1e-5);
        }
        times.sort_unstable();
        assert!(times.iter().copied().eq(0..16));
    }

    /// Four samples of each of four pixels, which differ; one sample each of sixteen.
    #[test]
    fn pixels_of_few_samples_share_the_lanes() {
        let (places, _, times) = dispatch!(Level::new(), simd => places(simd, 4));
        for (places, times) in places.chunks(4).zip(times.chunks(4)) {
            assert_eq!(cells(places, 2, 2), [0, 1, 2, 3]);
            assert_eq!(times.iter().sum::<u32>(), 6, "{times:?}");
        }
        let (places, _, times) = dispatch!(Level::new(), simd => super::tests::places(simd, 1));
        assert!(places.iter().enumerate().all(|(i, a)| places[..i].iter().all(|b| a != b)));
        assert_eq!(times, [0; 16]);
    }
}
