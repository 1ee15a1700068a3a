//! What sixteen rays meet, and the light that arrives there.

use dryturn_geometry::lanes::prelude::*;
use dryturn_geometry::lanes::{Floats, LANES, Mask, Rays, V3, Words};
use dryturn_geometry::{Assembly, Hits, Simd, Spin};
use dryturn_scene::{Look, Material, Scene, materials};

use super::emitter::Emitter;
use super::eye::Glance;
use super::gloss::Coat;
use super::occluders::Occluders;
use super::pattern::{Purpose, Samples, towards_sky};

/// Rays to the sky end so far away, mm.
pub(crate) const SKY_MM: f32 = 1e5;

/// How the room's light arrives.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(crate) enum Sky {
    /// Evenly from all sides, whatever stands in the way.
    Even,
    /// From all sides where nothing stands in the way.
    Shaded,
    /// Not asked for; nothing bounces then.
    Left,
}

/// Solids and lights.
pub(crate) struct Stage<'a> {
    pub(crate) assembly: &'a Assembly,
    pub(crate) looks: &'a [Look],
    /// By material.
    pub(crate) coats: Vec<CoatOf>,
    /// The lamps that are asked for, with their numbers.
    pub(crate) lamps: Vec<(usize, Emitter)>,
    pub(crate) sky: Sky,
    pub(crate) bounce: bool,
    /// What can bar which way, where nothing turns.
    pub(crate) occluders: Option<Occluders>,
    /// The drawing, which knows how the lights fall on the cube's faces, where nothing turns.
    pub(crate) drawing: Option<&'a Scene>,
}

/// Where light comes from.
#[derive(Clone, Copy)]
pub(crate) enum From {
    /// A lamp, by its place among those asked for.
    Lamp(usize),
    Sky,
}

/// The coat of a material.
#[derive(Clone, Copy)]
pub(crate) struct CoatOf {
    /// Squared width of the highlight.
    pub(crate) width2: f32,
    /// Refractive index.
    pub(crate) index: f32,
}

/// How much of a light arrives: diffusely (illuminance per flux), and through the
/// gloss lobe (the same times 1/sr).
#[derive(Clone, Copy, Default, Debug, PartialEq)]
pub(crate) struct Arriving {
    pub(crate) diffuse: f32,
    pub(crate) gloss: f32,
}

/// The same for sixteen lanes.
#[derive(Clone, Copy)]
pub(crate) struct Arrivals {
    pub(crate) diffuse: [f32; LANES],
    pub(crate) gloss: [f32; LANES],
}

impl Arrivals {
    pub(crate) const NONE: Self = Self { diffuse: [0.0; LANES], gloss: [0.0; LANES] };
}

/// What sixteen rays have found.
pub(crate) struct Found {
    pub(crate) materials: [Material; LANES],
    /// One for each lamp asked for, then the room.
    pub(crate) lights: Vec<Arrivals>,
    /// Materials from which light has bounced, and how much of each light.
    pub(crate) bounced_from: [Material; LANES],
    pub(crate) bounced: Vec<[f32; LANES]>,
}

impl Found {
    pub(crate) fn new(lights: usize) -> Self {
        Self {
            materials: [Material::BACKDROP; LANES],
            lights: vec![Arrivals::NONE; lights],
            bounced_from: [Material::BACKDROP; LANES],
            bounced: vec![[0.0; LANES]; lights],
        }
    }
}

/// A surface that lanes stand on.
#[derive(Clone, Copy)]
pub(crate) struct Ground<S: Simd> {
    pub(crate) point: V3<S>,
    pub(crate) normal: V3<S>,
    pub(crate) solid: Words<S>,
    pub(crate) surface: Words<S>,
    pub(crate) met: Mask<S>,
}

impl<S: Simd> Ground<S> {
    /// The one surface of one solid that all of some lanes stand on, where it is one.
    #[inline(always)]
    fn alike(&self, simd: S, lanes: Mask<S>) -> Option<(u32, u32)> {
        let first = lanes.to_bitmask().trailing_zeros() as usize;
        let (solid, surface) = (self.solid[first], self.surface[first]);
        let same = self.solid.simd_eq(Words::splat(simd, solid))
            & self.surface.simd_eq(Words::splat(simd, surface));
        (same | !lanes).all_true().then_some((solid, surface))
    }
}

impl Stage<'_> {
    /// Lamps asked for, and the room.
    pub(crate) fn lights(&self) -> usize {
        self.lamps.len() + 1
    }

    #[inline(always)]
    fn ground<S: Simd>(
        &self,
        simd: S,
        rays: &Rays<S>,
        spins: &[Spin<S>],
        live: Mask<S>,
    ) -> (Ground<S>, [Material; LANES]) {
        let hits: Hits<S> = self.assembly.nearest(simd, rays, spins, live);
        let met = live & hits.t.simd_lt(Floats::splat(simd, f32::INFINITY));
        let point = rays.at(met.select(hits.t, Floats::splat(simd, 0.0)));
        let local = self.assembly.on_solids(simd, spins, &hits, point);
        let materials = materials(simd, self.looks, &hits, local);
        let Hits { normal, solid, surface, .. } = hits;
        (Ground { point, normal, solid, surface, met }, materials)
    }

    /// Lanes to which nothing bars the way along `way`, which ends at its length.
    #[inline(always)]
    pub(crate) fn clear<S: Simd>(
        &self,
        simd: S,
        (ground, spins): (&Ground<S>, &[Spin<S>]),
        (from, way): (From, V3<S>),
        lanes: Mask<S>,
    ) -> Mask<S> {
        if !lanes.any_true() {
            return lanes;
        }
        let rays = Rays::new(simd, ground.point, way, ground.solid);
        if let Some(occluders) = &self.occluders
            && let Some(place) = ground.alike(simd, lanes)
        {
            let few = match from {
                From::Lamp(lamp) => occluders.of_lamp(lamp, place),
                From::Sky => occluders.of_sky(place),
            };
            match few {
                Some([]) => return lanes,
                Some(few) => return self.assembly.clear_of(simd, &rays, few, lanes),
                None => {}
            }
        }
        self.assembly.clear(simd, &rays, spins, lanes)
    }

    /// Follows sixteen rays and gathers the light at what they meet.
    #[inline(always)]
    pub(crate) fn follow<S: Simd>(
        &self,
        simd: S,
        glance: &Glance<'_, S>,
        spins: &[Spin<S>],
        out: &mut Found,
    ) {
        let Glance { samples, rays, live } = glance;
        let (ground, materials) = self.ground(simd, rays, spins, *live);
        out.materials = materials;
        if !ground.met.any_true() {
            return;
        }
        let (mut width2, mut index) = ([0.0; LANES], [0.0; LANES]);
        for (lane, material) in materials.iter().enumerate() {
            let coat = self.coats[usize::from(material.0)];
            (width2[lane], index[lane]) = (coat.width2, coat.index);
        }
        let to_eye = rays.direction.reversed();
        let coat = Coat {
            normal: ground.normal,
            to_eye,
            width2: Floats::simd_from(simd, width2),
            index: Floats::simd_from(simd, index),
        };
        let on_faces = self.on_faces(&ground);
        let rounds = self.mirrors(simd, &ground, &coat, &on_faces);
        for (place_of, into) in out.lights.iter_mut().take(self.lamps.len()).enumerate() {
            let known =
                self.known(&on_faces, |scene, place| scene.lamp_on(self.lamps[place_of].0, place));
            *into = self.lamp(simd, samples, (&ground, spins), &coat, (place_of, &known, rounds));
        }
        let room = self.lamps.len();
        out.lights[room] = self.room(simd, samples, (&ground, spins), &coat, &on_faces);
        self.mirror(simd, samples, (&ground, spins), &coat, (rounds, out));
        if self.bounce {
            self.bounce(simd, samples, &ground, spins, out);
        }
    }

    /// One ray on from the surface, as often as the cosine says: where it meets another part
    /// it brings what the lights do there.
    #[inline(always)]
    fn bounce<S: Simd>(
        &self,
        simd: S,
        samples: &Samples<'_>,
        ground: &Ground<S>,
        spins: &[Spin<S>],
        out: &mut Found,
    ) {
        let (zero, one) = (Floats::splat(simd, 0.0), Floats::splat(simd, 1.0));
        let room = self.lamps.len();
        let up = towards_sky(simd, ground.normal, samples.place(simd, Purpose::Bounce));
        let rays = Rays::new(simd, ground.point, up, ground.solid);
        let (second, materials) = self.ground(simd, &rays, spins, ground.met);
        out.bounced_from = materials;
        if !second.met.any_true() {
            out.bounced.iter_mut().for_each(|light| *light = [0.0; LANES]);
            return;
        }
        for (place_of, ((number, lamp), into)) in
            self.lamps.iter().zip(&mut out.bounced).enumerate()
        {
            let place = samples.place(simd, Purpose::BounceLamp(*number));
            let light = lamp.light(simd, second.point, second.normal, place);
            let seen = second.met & light.shines;
            let lit = self.clear(simd, (&second, spins), (From::Lamp(place_of), light.way), seen);
            *into = lit.select(light.per_flux, zero).into();
        }
        let place = samples.place(simd, Purpose::BounceSky);
        let way = towards_sky(simd, second.normal, place).times(Floats::splat(simd, SKY_MM));
        let open = self.clear(simd, (&second, spins), (From::Sky, way), second.met);
        out.bounced[room] = open.select(one, zero).into();
    }
}
