//! Lamps as the rays see them: a place on the lamp for each lane, and how much of its
//! flux arrives.

use core::f32::consts::PI;

use dryturn_geometry::Simd;
use dryturn_geometry::lanes::prelude::*;
use dryturn_geometry::lanes::{Floats, Mask, V3};
use dryturn_scene::file::{Lamp, LampShape};

use crate::lamp::Panel;
use crate::pattern::on_disc;

/// A lamp in single precision.
pub(crate) struct Emitter {
    shape: LampShape,
    centre: [f32; 3],
    half_across: [f32; 3],
    half_up: [f32; 3],
    normal: [f32; 3],
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
}

impl Emitter {
    pub(crate) fn of(lamp: &Lamp) -> Self {
        Self::new(&Panel::of(lamp), lamp.shape)
    }

    pub(crate) fn new(panel: &Panel, shape: LampShape) -> Self {
        let single = |v: dryturn_geometry::DVec3| v.as_vec3().to_array();
        Self {
            shape,
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
        Light { way, direction, cosine, per_flux, shines }
    }
}
