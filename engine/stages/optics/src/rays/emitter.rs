//! Lamps as the rays see them: a place on the lamp for each lane, and how much of its
//! flux arrives.

use core::f32::consts::PI;

use dryturn_geometry::lanes::prelude::*;
use dryturn_geometry::lanes::{Floats, Mask, V3};
use dryturn_geometry::{DVec3, Simd};
use dryturn_scene::file::{Lamp, LampShape};
use dryturn_scene::lamp::Panel;

use super::pattern::on_disc;

/// Smallest cosine at a lamp that is divided by.
const LEAST_COSINE: f32 = 1e-6;

/// A lamp in single precision.
pub(crate) struct Emitter {
    shape: LampShape,
    centre: [f32; 3],
    half_across: [f32; 3],
    half_up: [f32; 3],
    normal: [f32; 3],
    /// Area; 0 of a point.
    area_mm2: f32,
    /// Across and up over their squared lengths.
    across_inverse: [f32; 3],
    up_inverse: [f32; 3],
}

/// A lamp's light at a receiver, before shadows.
pub(crate) struct Light<S: Simd> {
    /// From the receiver to the place on the lamp.
    pub(crate) way: V3<S>,
    /// Unit vector of the way.
    pub(crate) direction: V3<S>,
    /// Cosine at the receiver.
    pub(crate) cosine: Floats<S>,
    /// Illuminance per flux, 1/m², as if the whole lamp shone like that place.
    pub(crate) per_flux: Floats<S>,
    /// Lanes to which the lamp shines.
    pub(crate) shines: Mask<S>,
    /// How likely a place on the lamp lies in that direction, 1/sr; 0 of a point, which no
    /// other way of choosing directions can meet.
    pub(crate) chance: Floats<S>,
}

/// Where directions meet a lamp.
pub(crate) struct Met<S: Simd> {
    /// Lanes that meet its bright side.
    pub(crate) met: Mask<S>,
    /// How far away, mm, for unit directions.
    pub(crate) distance_mm: Floats<S>,
    /// As in [`Light::chance`].
    pub(crate) chance: Floats<S>,
}

impl Emitter {
    pub(crate) fn of(lamp: &Lamp) -> Self {
        Self::new(&Panel::of(lamp), lamp.shape)
    }

    pub(crate) fn new(panel: &Panel, shape: LampShape) -> Self {
        let single = |v: DVec3| v.as_vec3().to_array();
        let share = match shape {
            LampShape::Rectangle => 4.0,
            LampShape::Disc => core::f64::consts::PI,
            LampShape::Point => 0.0,
        };
        let area = share * panel.half_across.cross(panel.half_up).length();
        let inverse = |v: DVec3| single(v / v.length_squared().max(1e-12));
        Self {
            shape,
            area_mm2: area as f32,
            across_inverse: inverse(panel.half_across),
            up_inverse: inverse(panel.half_up),
            centre: single(panel.centre),
            half_across: single(panel.half_across),
            half_up: single(panel.half_up),
            normal: single(panel.normal),
        }
    }

    /// Light on points with unit normals, from the places on the lamp that the unit
    /// square's places stand for. Lengths in mm.
    #[inline(always)]
    pub(crate) fn light<S: Simd>(
        &self,
        simd: S,
        point: V3<S>,
        normal: V3<S>,
        place: (Floats<S>, Floats<S>),
    ) -> Light<S> {
        let (zero, one, two) =
            (Floats::splat(simd, 0.0), Floats::splat(simd, 1.0), Floats::splat(simd, 2.0));
        let tiny = Floats::splat(simd, LEAST_COSINE);
        let (a, b) = match self.shape {
            LampShape::Rectangle => (place.0 * two - one, place.1 * two - one),
            LampShape::Disc => on_disc(simd, place),
            LampShape::Point => (zero, zero),
        };
        let across = V3::splat(simd, self.half_across).times(a);
        let up = V3::splat(simd, self.half_up).times(b);
        let from = V3::splat(simd, self.centre).plus(across).plus(up);
        let way = from.minus(point);
        let nearness = one / way.dot(way).sqrt();
        let direction = way.times(nearness);
        let cosine = direction.dot(normal);
        let sent = match self.shape {
            // A point sends Φ/4π to every direction; a Lambertian lamp Φ cos/π.
            LampShape::Point => Floats::splat(simd, 0.25),
            LampShape::Rectangle | LampShape::Disc => -direction.dot(V3::splat(simd, self.normal)),
        };
        // 1e6: mm² to m².
        let per_flux = cosine * sent * (nearness * nearness) * Floats::splat(simd, 1e6 / PI);
        let shines = cosine.simd_gt(zero) & sent.simd_gt(zero);
        let chance = match self.shape {
            LampShape::Point => zero,
            LampShape::Rectangle | LampShape::Disc => {
                way.dot(way) / (sent.max(tiny) * Floats::splat(simd, self.area_mm2))
            }
        };
        Light { way, direction, cosine, per_flux, shines, chance }
    }

    /// Whether it has an area that directions can meet.
    pub(crate) fn has_area(&self) -> bool {
        self.area_mm2 > 0.0
    }

    /// Radiance per flux, 1/(m² sr), of every place in every direction.
    pub(crate) fn radiance_per_flux(&self) -> f32 {
        1e6 / (PI * self.area_mm2)
    }

    /// Where unit directions from some points meet the lamp, which must have an area.
    #[inline(always)]
    pub(crate) fn met_by<S: Simd>(&self, simd: S, point: V3<S>, direction: V3<S>) -> Met<S> {
        let (zero, one) = (Floats::splat(simd, 0.0), Floats::splat(simd, 1.0));
        let normal = V3::splat(simd, self.normal);
        let to_centre = V3::splat(simd, self.centre).minus(point);
        let sent = -direction.dot(normal);
        let distance_mm = to_centre.dot(normal) / -sent.max(Floats::splat(simd, LEAST_COSINE));
        let off = direction.times(distance_mm).minus(to_centre);
        let a = off.dot(V3::splat(simd, self.across_inverse));
        let b = off.dot(V3::splat(simd, self.up_inverse));
        let inside = if self.shape == LampShape::Disc {
            (a * a + b * b).simd_le(one)
        } else {
            a.abs().simd_le(one) & b.abs().simd_le(one)
        };
        let met =
            inside & sent.simd_gt(Floats::splat(simd, LEAST_COSINE)) & distance_mm.simd_gt(zero);
        let chance = distance_mm * distance_mm
            / (sent.max(Floats::splat(simd, LEAST_COSINE)) * Floats::splat(simd, self.area_mm2));
        Met { met, distance_mm, chance }
    }
}

#[cfg(test)]
mod tests {
    use dryturn_geometry::{DVec3, Level, dispatch};

    use super::*;

    fn mean_per_flux<S: Simd>(
        simd: S,
        emitter: &Emitter,
        (point, normal): (DVec3, DVec3),
        n: u32,
    ) -> f64 {
        let [point, normal] = [point, normal].map(|v| V3::splat(simd, v.as_vec3().to_array()));
        let mut sum = 0.0;
        for first in (0..n * n).step_by(16) {
            let at = |k: u32| (k as f32 + 0.5) / n as f32;
            let u: [f32; 16] = core::array::from_fn(|i| at((first + i as u32) / n));
            let v: [f32; 16] = core::array::from_fn(|i| at((first + i as u32) % n));
            let place = (Floats::simd_from(simd, u), Floats::simd_from(simd, v));
            let light = emitter.light(simd, point, normal, place);
            let own: [f32; 16] =
                light.shines.select(light.per_flux, Floats::splat(simd, 0.0)).into();
            sum += own.iter().map(|v| f64::from(*v)).sum::<f64>();
        }
        sum / f64::from(n * n)
    }

    fn lamp(shape: LampShape) -> Panel {
        let half = if shape == LampShape::Point { 0.0 } else { 90.0 };
        Panel {
            centre: DVec3::new(40.0, 300.0, 120.0),
            half_across: DVec3::X * half,
            half_up: DVec3::Z * half * if shape == LampShape::Rectangle { 0.5 } else { 1.0 },
            normal: DVec3::NEG_Y,
        }
    }

    /// Light of a rectangle in lanes is the closed form that other programs have checked,
    /// in `lamp`; also where part of the panel is below the receiver's horizon.
    #[test]
    fn a_rectangle_shines_as_in_closed_form() {
        let panel = lamp(LampShape::Rectangle);
        let emitter = Emitter::new(&panel, LampShape::Rectangle);
        let area_mm2 = 4.0 * panel.half_across.cross(panel.half_up).length();
        for (point, normal) in [
            (DVec3::ZERO, DVec3::Y),
            (DVec3::new(60.0, 20.0, -30.0), DVec3::new(0.3, 0.8, 0.5).normalize()),
            (DVec3::new(20.0, 230.0, 100.0), DVec3::X),
        ] {
            let mean =
                dispatch!(Level::new(), simd => mean_per_flux(simd, &emitter, (point, normal), 64));
            // Radiance is flux over π times the area; 1e6 mm² are a m².
            let exact = panel.irradiance_over_radiance_exact(point, normal)
                / (core::f64::consts::PI * area_mm2)
                * 1e6;
            assert!((mean / exact - 1.0).abs() < 2e-3, "{mean} {exact}");
        }
    }

    /// On its axis a disc gives sin² of its half angle times π times its radiance
    /// (a disc source on the axis: J. R. Howell's catalogue, B-8's coaxial case in closed
    /// form, from memory); a point Φ/4π over the square of the distance.
    #[test]
    fn discs_and_points_shine_as_in_closed_form() {
        let below = |panel: &Panel, distance: f64| panel.centre - DVec3::Y * distance;
        let panel = lamp(LampShape::Disc);
        let emitter = Emitter::new(&panel, LampShape::Disc);
        for distance in [50.0, 150.0, 600.0] {
            let at = (below(&panel, distance), DVec3::Y);
            let mean = dispatch!(Level::new(), simd => mean_per_flux(simd, &emitter, at, 128));
            let exact = 1e6 / (core::f64::consts::PI * (distance * distance + 90.0 * 90.0));
            assert!((mean / exact - 1.0).abs() < 2e-3, "{mean} {exact}");
        }
        let panel = lamp(LampShape::Point);
        let emitter = Emitter::new(&panel, LampShape::Point);
        let at = (below(&panel, 200.0), DVec3::Y);
        let mean = dispatch!(Level::new(), simd => mean_per_flux(simd, &emitter, at, 4));
        let exact = 1e6 / (4.0 * core::f64::consts::PI * 200.0 * 200.0);
        assert!((mean / exact - 1.0).abs() < 1e-5, "{mean} {exact}");
    }
}
