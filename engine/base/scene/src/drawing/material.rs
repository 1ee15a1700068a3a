//! What a picture shows at a point: a facelet, or which part of the rig.

use dryturn_cube::{Face, Facelet};
use dryturn_geometry::lanes::prelude::*;
use dryturn_geometry::lanes::{Floats, LANES, V3};
use dryturn_geometry::{DVec3, Hits, Simd};

/// A kind of surface, by number.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Material(pub u8);

/// The per-pixel label.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Surface {
    /// A coloured facelet.
    Facelet(Facelet),
    /// The cube's body: rims, gaps, inner walls.
    Body,
    /// A rod, a coupler or a cap.
    Shaft,
    /// A motor, a bracket, a panel: what stands still.
    Bracket,
    /// None of the rig.
    Background,
}

impl Surface {
    /// The label as a byte: 0…53 facelet by index, 54 body, 55 shaft, 56 bracket,
    /// 57 background.
    #[must_use]
    pub const fn code(self) -> u8 {
        match self {
            Self::Facelet(facelet) => facelet.index() as u8,
            Self::Body => 54,
            Self::Shaft => 55,
            Self::Bracket => 56,
            Self::Background => 57,
        }
    }

    /// What the label is called: a facelet's name, or `body`, `shaft`, `bracket`,
    /// `background`.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Self::Facelet(facelet) => facelet.name(),
            Self::Body => "body",
            Self::Shaft => "shaft",
            Self::Bracket => "bracket",
            Self::Background => "background",
        }
    }

    /// All 58, in the order of their codes.
    pub fn all() -> impl Iterator<Item = Self> {
        let others = [Self::Body, Self::Shaft, Self::Bracket, Self::Background];
        Facelet::all().map(Self::Facelet).chain(others)
    }
}

const FACES: u8 = 6;

impl Material {
    /// Pieces without colour, and their inner walls.
    pub const BODY: Self = Self(Facelet::COUNT as u8);
    const ROD: u8 = Self::BODY.0 + 1;
    const MOTOR: u8 = Self::ROD + FACES;
    /// The wall behind the rig.
    pub const BACKDROP: Self = Self(Self::MOTOR + FACES);
    const FIXTURE: u8 = Self::BACKDROP.0 + 1;
    /// One more than the greatest number.
    pub const COUNT: usize = Self::FIXTURE as usize + 32;

    /// A facelet's, by its place.
    #[must_use]
    pub const fn of_facelet(facelet: Facelet) -> Self {
        Self(facelet.index() as u8)
    }

    /// Of a face's rod, coupler and cap.
    #[must_use]
    pub const fn rod(face: Face) -> Self {
        Self(Self::ROD + face.index() as u8)
    }

    /// Of a face's motor.
    #[must_use]
    pub const fn motor(face: Face) -> Self {
        Self(Self::MOTOR + face.index() as u8)
    }

    /// Of a fixture, by its place in the scene's list.
    #[must_use]
    pub const fn fixture(index: usize) -> Self {
        Self(Self::FIXTURE + index as u8)
    }

    /// The facelet that has this material.
    #[must_use]
    pub fn facelet(self) -> Option<Facelet> {
        Facelet::from_index(usize::from(self.0))
    }

    /// The face whose rod it is.
    #[must_use]
    pub fn rod_of(self) -> Option<Face> {
        let range = Self::ROD..Self::ROD + FACES;
        range.contains(&self.0).then(|| Face::from_index(usize::from(self.0 - Self::ROD)))
    }

    /// The face whose motor it is.
    #[must_use]
    pub fn motor_of(self) -> Option<Face> {
        let range = Self::MOTOR..Self::MOTOR + FACES;
        range.contains(&self.0).then(|| Face::from_index(usize::from(self.0 - Self::MOTOR)))
    }

    /// The fixture's place in the scene's list.
    #[must_use]
    pub fn fixture_index(self) -> Option<usize> {
        self.0.checked_sub(Self::FIXTURE).map(usize::from)
    }

    /// What the label says.
    #[must_use]
    pub fn surface(self) -> Surface {
        match (self.facelet(), self) {
            (Some(facelet), _) => Surface::Facelet(facelet),
            (_, Self::BODY) => Surface::Body,
            (_, Self::BACKDROP) => Surface::Background,
            _ if self.rod_of().is_some() => Surface::Shaft,
            _ => Surface::Bracket,
        }
    }
}

/// How the materials of a solid are spread.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Spread {
    /// The rim's all over.
    Plain,
    /// Each flat face its own, the rest the rim's.
    Faces,
    /// A square on each flat face, half its edge and the radius of its corners; the rest
    /// is the rim's.
    Squares { half: f32, corner: f32 },
    /// Each flat face its own, and on round the rims.
    Wrapped,
}

/// Which material a solid shows where.
#[derive(Clone, Copy, Debug)]
pub struct Look {
    /// Of the flat faces −x, +x, −y, +y, −z, +z.
    faces: [Material; 6],
    /// Of all the rest.
    rim: Material,
    centre: [f32; 3],
    spread: Spread,
}

impl Look {
    /// The same all over.
    #[must_use]
    pub fn plain(material: Material) -> Self {
        Self::capped(material, material, Spread::Plain)
    }

    /// A prism's sides, and its flat ends.
    #[must_use]
    pub fn sides_and_ends(sides: Material, ends: Material) -> Self {
        Self::capped(sides, ends, Spread::Faces)
    }

    fn capped(rim: Material, face: Material, spread: Spread) -> Self {
        Self { faces: [face; 6], rim, centre: [0.0; 3], spread }
    }

    /// Black with a coloured square of half edge `half` on each face that has one.
    pub(crate) fn stickered(faces: [Material; 6], centre: DVec3, half: f64, corner: f64) -> Self {
        let spread = Spread::Squares { half: half as f32, corner: corner as f32 };
        Self { faces, rim: Material::BODY, centre: centre.as_vec3().to_array(), spread }
    }

    /// Coloured plastic up to the edges.
    pub(crate) fn coloured(faces: [Material; 6], centre: DVec3) -> Self {
        let centre = centre.as_vec3().to_array();
        Self { faces, rim: Material::BODY, centre, spread: Spread::Wrapped }
    }

    /// The material at a point of one of its surfaces.
    fn at(&self, surface: u32, point: [f32; 3]) -> Material {
        let offset: [f32; 3] = core::array::from_fn(|k| point[k] - self.centre[k]);
        let face = self.faces.get(surface as usize).copied();
        match (self.spread, face) {
            (Spread::Plain, _) => self.rim,
            (Spread::Faces, face) => face.unwrap_or(self.rim),
            (Spread::Squares { half, corner }, Some(face)) => {
                let axis = surface as usize / 2;
                let [u, v] = [1, 2].map(|k| offset[(axis + k) % 3].abs());
                if in_square(u, v, half, corner) { face } else { self.rim }
            }
            (Spread::Squares { .. }, None) => self.rim,
            (Spread::Wrapped, Some(face)) => face,
            (Spread::Wrapped, None) => {
                let farther =
                    |a: usize, b: usize| if offset[b].abs() > offset[a].abs() { b } else { a };
                let axis = farther(farther(0, 1), 2);
                self.faces[2 * axis + usize::from(offset[axis] > 0.0)]
            }
        }
    }
}

fn in_square(u: f32, v: f32, half: f32, corner: f32) -> bool {
    let (du, dv) = (u - (half - corner), v - (half - corner));
    let inside = u <= half && v <= half;
    inside && !(du > 0.0 && dv > 0.0 && du * du + dv * dv > corner * corner)
}

/// The materials that lanes have met; `points` are as the solids see them. Lanes that
/// met nothing show the backdrop.
#[inline(always)]
pub fn materials<S: Simd>(
    simd: S,
    looks: &[Look],
    hits: &Hits<S>,
    points: V3<S>,
) -> [Material; LANES] {
    let (x, y, z) = (*points.0[0], *points.0[1], *points.0[2]);
    let solids: [u32; LANES] = hits.solid.into();
    let surfaces: [u32; LANES] = hits.surface.into();
    let alike = |values: &[u32; LANES]| values.iter().all(|&v| v == values[0]);
    if alike(&solids) && alike(&surfaces) {
        // Nearly always: all lanes on one face of one solid.
        let Some(look) = looks.get(solids[0] as usize) else {
            return [Material::BACKDROP; LANES];
        };
        let face = look.faces.get(surfaces[0] as usize);
        match (look.spread, face) {
            (Spread::Plain, _) => return [look.rim; LANES],
            (Spread::Squares { half, corner }, Some(face)) => {
                let axis = surfaces[0] as usize / 2;
                let (u, v) = ((axis + 1) % 3, (axis + 2) % 3);
                let flat = Floats::splat(simd, half - corner);
                let u = (points.0[u] - Floats::splat(simd, look.centre[u])).abs();
                let v = (points.0[v] - Floats::splat(simd, look.centre[v])).abs();
                if (u.simd_le(flat) & v.simd_le(flat)).all_true() {
                    return [*face; LANES];
                }
            }
            _ => {}
        }
    }
    core::array::from_fn(|i| match looks.get(solids[i] as usize) {
        Some(look) => look.at(surfaces[i], [x[i], y[i], z[i]]),
        None => Material::BACKDROP,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_and_what_they_stand_for() {
        let mut seen = std::collections::BTreeSet::new();
        for face in Face::ALL {
            assert_eq!(Material::rod(face).rod_of(), Some(face));
            assert_eq!(Material::motor(face).motor_of(), Some(face));
            seen.extend([Material::rod(face), Material::motor(face)]);
        }
        for facelet in Facelet::all() {
            assert_eq!(Material::of_facelet(facelet).surface(), Surface::Facelet(facelet));
            seen.insert(Material::of_facelet(facelet));
        }
        for i in 0..32 {
            assert_eq!(Material::fixture(i).fixture_index(), Some(i));
            assert_eq!(Material::fixture(i).surface(), Surface::Bracket);
            seen.insert(Material::fixture(i));
        }
        seen.extend([Material::BODY, Material::BACKDROP]);
        assert_eq!(seen.len(), Material::COUNT);
        assert_eq!(seen.last().unwrap().0 as usize, Material::COUNT - 1);
    }

    #[test]
    fn stickers_have_round_corners() {
        assert!(in_square(7.9, 7.0, 8.0, 1.0) && in_square(7.6, 7.6, 8.0, 1.0));
        assert!(!in_square(7.8, 7.8, 8.0, 1.0) && !in_square(8.1, 0.0, 8.0, 0.0));
        assert!(in_square(8.0, 8.0, 8.0, 0.0));
    }
}
