//! What the lights bring to the surfaces that rays have met: lamps and the room, diffusely
//! and in the coat.
//!
//! On the cube's faces at rest the drawing tells how a light falls, without rays, wherever
//! that changes smoothly ([`Scene::lamp_on`], [`Scene::room_on`]). Rays find the rest: at the
//! edges of shadows, on other parts, where layers turn, and for what the coat mirrors.

use core::f32::consts::FRAC_1_PI;

use dryturn_geometry::lanes::prelude::*;
use dryturn_geometry::lanes::{Floats, LANES, Mask};
use dryturn_geometry::{Simd, Spin};
use dryturn_scene::{Fallen, OnFace, Scene};

use super::gloss::{Coat, fresnel};
use super::pattern::{Purpose, ROUNDS, Samples, towards_sky};
use super::stage::{Arrivals, Found, From, Ground, SKY_MM, Sky, Stage};

/// Above this share a coat mirrors much.
const MUCH_MIRRORED: f32 = 0.08;
/// Rounds of rays where one is not enough: to a lamp of which part is hidden, for what a face's
/// coat mirrors, and to each light where layers turn, since nothing is known there before. The
/// edges of shadows, and coats that mirror much, take all [`ROUNDS`].
const SOME_ROUNDS: usize = 4;

/// How a light falls on lanes.
pub(crate) struct Known {
    arriving: [f32; LANES],
    /// Lanes for which that is known.
    lanes: u64,
    /// Those of them that all of the light reaches, and nothing of it.
    bright: u64,
    dark: u64,
    /// Rounds of rays for the others.
    rounds: usize,
}

impl Stage<'_> {
    /// Where lanes stand on the cube's faces, if nothing turns.
    #[inline(always)]
    pub(crate) fn on_faces<S: Simd>(&self, ground: &Ground<S>) -> [Option<OnFace>; LANES] {
        let mut places = [None; LANES];
        if let Some(scene) = self.drawing {
            let [x, y, z]: [[f32; LANES]; 3] = ground.point.0.map(Into::into);
            let met = ground.met.to_bitmask();
            for lane in (0..LANES).filter(|lane| met >> lane & 1 == 1) {
                let surface = (ground.solid[lane], ground.surface[lane]);
                places[lane] = scene.on_face(surface, [x[lane], y[lane], z[lane]]);
            }
        }
        places
    }

    /// How a light falls on lanes on the cube's faces, where that is known.
    #[inline(always)]
    pub(crate) fn known(
        &self,
        on_faces: &[Option<OnFace>; LANES],
        falls: impl Fn(&Scene, OnFace) -> Option<Fallen>,
    ) -> Known {
        let mut known = Known { arriving: [0.0; LANES], lanes: 0, bright: 0, dark: 0, rounds: 1 };
        let Some(scene) = self.drawing else {
            return Known { rounds: SOME_ROUNDS, ..known };
        };
        for (lane, place) in on_faces.iter().enumerate() {
            let Some(place) = place else { continue };
            match falls(scene, *place) {
                Some(Fallen { arriving, share }) => {
                    known.arriving[lane] = arriving;
                    known.lanes |= 1 << lane;
                    known.bright |= u64::from(share == 1.0) << lane;
                    known.dark |= u64::from(share == 0.0) << lane;
                }
                None => known.rounds = ROUNDS,
            }
        }
        known
    }

    /// A lamp's light: diffusely, and in the coat by way of places on the lamp. What the
    /// coat's own directions meet is left to [`mirror`](Self::mirror); both are weighted by
    /// how likely each would have come by the same direction (the balance heuristic: E. Veach
    /// and L. J. Guibas, *Optimally Combining Sampling Techniques for Monte Carlo Rendering*,
    /// SIGGRAPH 1995).
    #[inline(always)]
    pub(crate) fn lamp<S: Simd>(
        &self,
        simd: S,
        samples: &Samples<'_>,
        (ground, spins): (&Ground<S>, &[Spin<S>]),
        coat: &Coat<S>,
        (place_of, known, mirrors): (usize, &Known, usize),
    ) -> Arrivals {
        let (zero, one) = (Floats::splat(simd, 0.0), Floats::splat(simd, 1.0));
        let (number, lamp) = &self.lamps[place_of];
        let lanes = Mask::from_bitmask(simd, known.lanes);
        let bright = Mask::from_bitmask(simd, known.bright);
        let dark = Mask::from_bitmask(simd, known.dark);
        // Where all of the lamp or nothing of it reaches lanes, no ray need be sent.
        let sure = bright | dark;
        let partly = known.lanes & !(known.bright | known.dark) != 0;
        let rounds = match (lamp.has_area(), partly) {
            (false, _) => 1,
            (true, true) => known.rounds.max(mirrors).max(SOME_ROUNDS),
            (true, false) => known.rounds.max(mirrors),
        };
        let (mut diffuse, mut gloss) = (zero, zero);
        for round in 0..rounds {
            let place = samples.place_of(simd, Purpose::Lamp(*number), round);
            let light = lamp.light(simd, ground.point, ground.normal, place);
            let seen = ground.met & light.shines;
            let way = (From::Lamp(place_of), light.way);
            let lit = (seen & bright) | self.clear(simd, (ground, spins), way, seen & !sure);
            if !lit.any_true() {
                continue;
            }
            diffuse += lit.select(light.per_flux, zero);
            let (lobe, chance) = coat.lobe(simd, light.direction, light.cosine);
            let weight = if lamp.has_area() { light.chance / (light.chance + chance) } else { one };
            gloss += lit.select(light.per_flux * lobe * weight, zero);
        }
        let share = Floats::splat(simd, 1.0 / rounds as f32);
        let (diffuse, gloss) = (diffuse * share, gloss * share);
        let diffuse = lanes.select(Floats::simd_from(simd, known.arriving), diffuse);
        Arrivals { diffuse: diffuse.into(), gloss: gloss.into() }
    }

    /// The room's light, diffusely; in the coat too where nothing stands in its way.
    #[inline(always)]
    pub(crate) fn room<S: Simd>(
        &self,
        simd: S,
        samples: &Samples<'_>,
        (ground, spins): (&Ground<S>, &[Spin<S>]),
        coat: &Coat<S>,
        on_faces: &[Option<OnFace>; LANES],
    ) -> Arrivals {
        let (zero, one) = (Floats::splat(simd, 0.0), Floats::splat(simd, 1.0));
        match self.sky {
            Sky::Left => return Arrivals::NONE,
            Sky::Even => {
                let mirror = fresnel(simd, ground.normal.dot(coat.to_eye), coat.index);
                let mirror = mirror * Floats::splat(simd, FRAC_1_PI);
                return Arrivals {
                    diffuse: ground.met.select(one, zero).into(),
                    gloss: ground.met.select(mirror, zero).into(),
                };
            }
            Sky::Shaded => {}
        }
        let known = self.known(on_faces, Scene::room_on);
        let lanes = Mask::from_bitmask(simd, known.lanes);
        let mut open = zero;
        let unknown = ground.met & !lanes;
        if unknown.any_true() {
            let share = Floats::splat(simd, 1.0 / known.rounds as f32);
            for round in 0..known.rounds {
                let place = samples.place_of(simd, Purpose::Sky, round);
                let up = towards_sky(simd, ground.normal, place);
                let way = up.times(Floats::splat(simd, SKY_MM));
                let clear = self.clear(simd, (ground, spins), (From::Sky, way), unknown);
                open += clear.select(share, zero);
            }
        }
        let diffuse = lanes.select(Floats::simd_from(simd, known.arriving), open);
        Arrivals { diffuse: diffuse.into(), gloss: [0.0; LANES] }
    }

    /// The light in the coat from directions that it mirrors to the eye: the room's, and
    /// that of lamps which they meet.
    #[inline(always)]
    pub(crate) fn mirror<S: Simd>(
        &self,
        simd: S,
        samples: &Samples<'_>,
        (ground, spins): (&Ground<S>, &[Spin<S>]),
        coat: &Coat<S>,
        (rounds, out): (usize, &mut Found),
    ) {
        let zero = Floats::splat(simd, 0.0);
        let share = Floats::splat(simd, 1.0 / rounds as f32);
        if self.sky == Sky::Shaded {
            out.lights[self.lamps.len()].gloss = [0.0; LANES];
        }
        for round in 0..rounds {
            let place = samples.place_of(simd, Purpose::Mirror, round);
            let (direction, weight, above) = coat.mirrored(simd, place);
            let weight = weight * share;
            let seen = ground.met & above;
            if self.sky == Sky::Shaded {
                let way = direction.times(Floats::splat(simd, SKY_MM));
                let open = self.clear(simd, (ground, spins), (From::Sky, way), seen);
                let own = open.select(weight * Floats::splat(simd, FRAC_1_PI), zero);
                let gloss = &mut out.lights[self.lamps.len()].gloss;
                *gloss = (Floats::simd_from(simd, *gloss) + own).into();
            }
            for (place_of, (_, lamp)) in self.lamps.iter().enumerate() {
                if !lamp.has_area() {
                    continue;
                }
                let met = lamp.met_by(simd, ground.point, direction);
                let seen = seen & met.met;
                if !seen.any_true() {
                    continue;
                }
                let way = direction.times(met.distance_mm);
                let lit = self.clear(simd, (ground, spins), (From::Lamp(place_of), way), seen);
                let (_, chance) = coat.lobe(simd, direction, direction.dot(ground.normal));
                let radiance = Floats::splat(simd, lamp.radiance_per_flux());
                let arriving = radiance * weight * (chance / (chance + met.chance));
                let gloss = &mut out.lights[place_of].gloss;
                *gloss = (Floats::simd_from(simd, *gloss) + lit.select(arriving, zero)).into();
            }
        }
    }

    /// Rounds of directions that the coat mirrors: more where lanes on the cube's faces mirror
    /// much, as they do at grazing angles.
    #[inline(always)]
    pub(crate) fn mirrors<S: Simd>(
        &self,
        simd: S,
        ground: &Ground<S>,
        coat: &Coat<S>,
        on_faces: &[Option<OnFace>; LANES],
    ) -> usize {
        let cosine = ground.normal.dot(coat.to_eye);
        let much = fresnel(simd, cosine, coat.index).simd_gt(Floats::splat(simd, MUCH_MIRRORED));
        let much = (ground.met & much).to_bitmask();
        let met = ground.met.to_bitmask();
        let on_face = |lane: &usize| {
            met >> lane & 1 == 1 && (on_faces[*lane].is_some() || self.drawing.is_none())
        };
        let rounds = |lane: usize| if much >> lane & 1 == 1 { ROUNDS } else { SOME_ROUNDS };
        (0..LANES).filter(on_face).map(rounds).max().unwrap_or(1)
    }
}
