//! The coat of [`super::surface`], sixteen lanes at a time in single precision.

use core::f32::consts::PI;

use dryturn_geometry::Simd;
use dryturn_geometry::lanes::prelude::*;
use dryturn_geometry::lanes::{Floats, Mask, V3};

use super::pattern::{across, on_disc};

/// Smallest cosine that is divided by.
const GRAZING: f32 = 1e-4;

/// Unpolarised Fresnel reflectance of a dielectric of refractive index `n`.
#[inline(always)]
pub(crate) fn fresnel<S: Simd>(simd: S, cosine: Floats<S>, n: Floats<S>) -> Floats<S> {
    let (zero, one) = (Floats::splat(simd, 0.0), Floats::splat(simd, 1.0));
    let c = cosine.max(zero).min(one);
    // n times the cosine inside, so that there is nothing to divide by.
    let inside = (n * n - (one - c * c)).sqrt();
    let (s_over, s_under) = (c - inside, c + inside);
    let (p_over, p_under) = (n * n * c - inside, n * n * c + inside);
    // Both fractions over one denominator: one division.
    let (s, p) = (s_over * p_under, p_over * s_under);
    let under = s_under * p_under;
    (s * s + p * p) * Floats::splat(simd, 0.5) / (under * under)
}

/// `c (1 + √(1 + α² tan²))`, by a cosine and the squared width: Smith's shadowing is
/// twice the cosine over it.
#[inline(always)]
fn smith_under<S: Simd>(simd: S, c: Floats<S>, width2: Floats<S>) -> Floats<S> {
    let one = Floats::splat(simd, 1.0);
    let c2 = (c * c).min(one);
    c + (c2 + width2 * (one - c2)).sqrt()
}

/// A surface point that lanes look at: normal, direction to the eye, squared width of
/// the highlight, refractive index.
#[derive(Clone, Copy)]
pub(crate) struct Coat<S: Simd> {
    pub(crate) normal: V3<S>,
    pub(crate) to_eye: V3<S>,
    pub(crate) width2: Floats<S>,
    pub(crate) index: Floats<S>,
}

impl<S: Simd> Coat<S> {
    /// Value of the lobe, 1/sr, towards the eye for light from a unit direction whose
    /// cosine is `cos_light`, and how likely [`mirrored`](Self::mirrored) takes that
    /// direction, 1/sr; both sides are taken to be above the horizon.
    #[inline(always)]
    pub(crate) fn lobe(
        &self,
        simd: S,
        to_light: V3<S>,
        cos_light: Floats<S>,
    ) -> (Floats<S>, Floats<S>) {
        let (one, two) = (Floats::splat(simd, 1.0), Floats::splat(simd, 2.0));
        let grazing = Floats::splat(simd, GRAZING);
        let cos_eye = self.normal.dot(self.to_eye).max(grazing);
        let cos_light = cos_light.max(grazing);
        // The half vector's squared length before it is made 1; its cosines follow.
        let length2 = (two + two * self.to_eye.dot(to_light)).max(grazing);
        let on_normal = cos_eye + cos_light;
        let cos_half2 = (on_normal * on_normal / length2).min(one);
        let eye_on_half = length2.sqrt() * Floats::splat(simd, 0.5);
        let base = (self.width2 - one) * cos_half2 + one;
        let seen = smith_under(simd, cos_eye, self.width2);
        // Half vectors as the eye sees them, over the Jacobian of mirroring.
        let chance = self.width2 / (Floats::splat(simd, 2.0 * PI) * base * base * seen);
        // Shadowing of both sides over four times both cosines.
        let shadowed = smith_under(simd, cos_light, self.width2);
        (fresnel(simd, eye_on_half, self.index) * chance * two / shadowed, chance)
    }

    /// A direction that the coat mirrors to the eye, and the lobe's weight (times the light's
    /// cosine) over the chance of the direction; lanes in the mask. Half vectors are drawn as the eye
    /// sees them (E. Heitz, *Sampling the GGX distribution of visible normals*, JCGT
    /// 7, 2018), so the weight is Fresnel's share times the light's shadowing.
    #[inline(always)]
    pub(crate) fn mirrored(
        &self,
        simd: S,
        place: (Floats<S>, Floats<S>),
    ) -> (V3<S>, Floats<S>, Mask<S>) {
        let (zero, one) = (Floats::splat(simd, 0.0), Floats::splat(simd, 1.0));
        let (right, up) = across(simd, self.normal);
        let width = self.width2.sqrt();
        let eye = V3([self.to_eye.dot(right), self.to_eye.dot(up), self.to_eye.dot(self.normal)]);
        let stretched = V3([eye.0[0] * width, eye.0[1] * width, eye.0[2]]).normalised(simd);
        let (t1, t2) = across(simd, stretched);
        let (a, b) = on_disc(simd, place);
        let s = (one + stretched.0[2]) * Floats::splat(simd, 0.5);
        // The vector across that lies level comes first in Heitz's frame; any frame
        // serves if the lower half disc is squeezed along the projected normal.
        let level = stretched.0[0] * stretched.0[0] + stretched.0[1] * stretched.0[1];
        let tilted = level.simd_gt(Floats::splat(simd, 1e-8));
        let inverse = one / level.max(Floats::splat(simd, 1e-8)).sqrt();
        let e1 =
            V3([-stretched.0[1] * inverse, stretched.0[0] * inverse, zero]).or_else(tilted, t1);
        let e2 = stretched.cross(e1).or_else(tilted, t2);
        let b = (one - s) * (one - a * a).max(zero).sqrt() + s * b;
        let c = (one - a * a - b * b).max(zero).sqrt();
        let half = e1.times(a).plus(e2.times(b)).plus(stretched.times(c));
        let half = V3([half.0[0] * width, half.0[1] * width, half.0[2].max(zero)]).normalised(simd);
        let half =
            right.times(half.0[0]).plus(up.times(half.0[1])).plus(self.normal.times(half.0[2]));
        let eye_on_half = self.to_eye.dot(half);
        let light = half.times(eye_on_half + eye_on_half).minus(self.to_eye);
        let cos_light = light.dot(self.normal);
        let above = cos_light.simd_gt(zero) & eye_on_half.simd_gt(zero);
        let cos_light = cos_light.max(Floats::splat(simd, GRAZING));
        let two = Floats::splat(simd, 2.0);
        let shadowing = two * cos_light / smith_under(simd, cos_light, self.width2);
        let weight = fresnel(simd, eye_on_half, self.index) * shadowing;
        (light, weight, above)
    }
}

#[cfg(test)]
mod tests {
    use dryturn_geometry::{DVec3, Level, dispatch};
    use dryturn_units::maths;
    use dryturn_units::noise::Seed;

    use super::super::surface::{COAT_INDEX, ggx};
    use super::*;

    /// Sixteen unit vectors, half of them below the horizon of z.
    fn directions(index: u64) -> [DVec3; 16] {
        let mut noise = Seed::new(3).stream("directions", index, 0);
        core::array::from_fn(|_| {
            DVec3::new(noise.gaussian(), noise.gaussian(), noise.gaussian()).normalize()
        })
    }

    fn lanes<S: Simd>(simd: S, v: &[DVec3; 16]) -> V3<S> {
        V3(core::array::from_fn(|k| {
            let own: [f32; 16] = core::array::from_fn(|i| v[i][k] as f32);
            Floats::simd_from(simd, own)
        }))
    }

    fn lobes<S: Simd>(simd: S, alpha: f64, eyes: &[DVec3; 16], lights: &[DVec3; 16]) -> [f32; 16] {
        let (normal, to_light) = (V3::splat(simd, [0.0, 0.0, 1.0]), lanes(simd, lights));
        let width2 = Floats::splat(simd, (alpha * alpha) as f32);
        let index = Floats::splat(simd, COAT_INDEX as f32);
        let coat = Coat { normal, to_eye: lanes(simd, eyes), width2, index };
        coat.lobe(simd, to_light, to_light.dot(normal)).0.into()
    }

    /// The lanes' lobe is the one that other programs have checked, in `surface`.
    #[test]
    fn the_lobe_is_that_of_surface() {
        let mut compared = 0;
        for (number, alpha) in [0.05, 0.12, 0.35, 0.5, 1.0].into_iter().enumerate() {
            for round in 0..40 {
                let [eyes, lights] =
                    [0, 1].map(|k| directions(100 * number as u64 + 2 * round + k));
                let found = dispatch!(Level::new(), simd => lobes(simd, alpha, &eyes, &lights));
                for i in 0..16 {
                    // What is below the horizon is left to the caller; very near it single
                    // precision ends.
                    if eyes[i].z < 0.02 || lights[i].z < 0.02 {
                        continue;
                    }
                    let wanted = ggx(DVec3::Z, eyes[i], lights[i], alpha, Some(COAT_INDEX));
                    let off = (f64::from(found[i]) - wanted).abs();
                    assert!(off < 2e-3 * wanted + 1e-6, "{alpha}: {} {wanted}", found[i]);
                    compared += 1;
                }
            }
        }
        assert!(compared > 500, "{compared}");
    }

    /// Mean weight of mirrored directions over an even grid of places, and the largest
    /// fault of a direction: it must be above the horizon and of length 1.
    fn mirrored_share<S: Simd>(simd: S, alpha: f32, to_eye: [f32; 3], n: u32) -> (f64, f32) {
        let coat = Coat {
            normal: V3::splat(simd, [0.0, 0.0, 1.0]),
            to_eye: V3::splat(simd, to_eye),
            width2: Floats::splat(simd, alpha * alpha),
            // So dense that it mirrors everything.
            index: Floats::splat(simd, 1e6),
        };
        let (mut sum, mut fault) = (0.0, 0f32);
        for first in (0..n * n).step_by(16) {
            let at = |k: u32| (k as f32 + 0.5) / n as f32;
            let u: [f32; 16] = core::array::from_fn(|i| at((first + i as u32) / n));
            let v: [f32; 16] = core::array::from_fn(|i| at((first + i as u32) % n));
            let place = (Floats::simd_from(simd, u), Floats::simd_from(simd, v));
            let (light, weight, above) = coat.mirrored(simd, place);
            let weight: [f32; 16] = above.select(weight, Floats::splat(simd, 0.0)).into();
            sum += weight.iter().map(|w| f64::from(*w)).sum::<f64>();
            let length: [f32; 16] = light.dot(light).into();
            fault = length.iter().map(|l| (l - 1.0).abs()).fold(fault, f32::max);
        }
        (sum / f64::from(n * n), fault)
    }

    /// A white furnace: what a mirror of this width gives back of light that comes from
    /// everywhere. Figures by Gauss-Legendre quadrature, agreeing with Mitsuba 3.9.1:
    /// group `furnace` of `tests/reference/optics_open.json`, `albedo_separable`.
    #[test]
    fn light_from_everywhere_is_mirrored_as_in_the_furnace() {
        for (alpha, view_deg, wanted) in [
            (0.08, 0.0, 0.992_737),
            (0.08, 75.0, 0.944_468),
            (0.15, 45.0, 0.957_145),
            (0.3, 0.0, 0.877_357),
            (0.3, 75.0, 0.808_411),
            (0.5, 0.0, 0.687_849),
            (0.5, 45.0, 0.678_451),
            (0.5, 75.0, 0.723_4),
        ] {
            let angle = dryturn_units::radians(view_deg);
            let to_eye = [maths::sin(angle) as f32, 0.0, maths::cos(angle) as f32];
            let (share, fault) =
                dispatch!(Level::new(), simd => mirrored_share(simd, alpha, to_eye, 2048));
            assert!((share - wanted).abs() < 2e-3, "{alpha}, {view_deg}°: {share} {wanted}");
            assert!(fault < 1e-4, "{fault}");
        }
    }
}
