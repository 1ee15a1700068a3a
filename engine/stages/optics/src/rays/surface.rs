//! How surfaces throw light back: Lambert for the pigment, and a microfacet
//! coat of glass-like plastic for the gloss.
//!
//! The coat is GGX with the separable Smith shadowing of B. Walter et al.,
//! *Microfacet Models for Refraction through Rough Surfaces*, EGSR 2007. Coat
//! and pigment are simply added, which slightly exceeds energy conservation.

use core::f64::consts::PI;

use dryturn_geometry::DVec3;

/// Refractive index of the coat, a usual figure for plastics (from memory).
pub const COAT_INDEX: f64 = 1.5;

/// Unpolarised Fresnel reflectance of a dielectric; `cosine` of the angle of
/// incidence from outside, `index` the refractive index (at least 1).
#[must_use]
pub fn fresnel(cosine: f64, index: f64) -> f64 {
    // The same on both sides: nothing is thrown back, also not at the horizon.
    if index == 1.0 {
        return 0.0;
    }
    let c = cosine.clamp(0.0, 1.0);
    let t = (1.0 - (1.0 - c * c) / (index * index)).sqrt();
    let s = (c - index * t) / (c + index * t);
    let p = (index * c - t) / (index * c + t);
    (s * s + p * p) / 2.0
}

/// Value of the GGX lobe in 1/sr, for unit vectors normal, to the eye and to
/// the light. `alpha` is Walter's width (not the square of a "roughness");
/// `index` the refractive index, `None` for a perfect mirror. Zero where eye
/// or light is below the horizon.
#[must_use]
pub fn ggx(normal: DVec3, to_eye: DVec3, to_light: DVec3, alpha: f64, index: Option<f64>) -> f64 {
    let (cos_eye, cos_light) = (normal.dot(to_eye), normal.dot(to_light));
    if cos_eye <= 0.0 || cos_light <= 0.0 {
        return 0.0;
    }
    let half = (to_eye + to_light).normalize();
    let cos_half = half.dot(normal);
    let a2 = alpha * alpha;
    let base = (a2 - 1.0) * cos_half * cos_half + 1.0;
    let distribution = a2 / (PI * base * base);
    let shadowing = smith(cos_eye, alpha) * smith(cos_light, alpha);
    let reflected = index.map_or(1.0, |index| fresnel(half.dot(to_light), index));
    reflected * distribution * shadowing / (4.0 * cos_eye * cos_light)
}

/// Smith's shadowing of one direction, by the cosine of its angle to the normal.
#[must_use]
pub fn smith(cosine: f64, alpha: f64) -> f64 {
    let tan2 = (1.0 - cosine * cosine).max(0.0) / (cosine * cosine);
    2.0 / (1.0 + (1.0 + alpha * alpha * tan2).sqrt())
}
