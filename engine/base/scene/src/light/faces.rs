//! Places on the outer faces of the cube's pieces, on a grid: what changes smoothly over a
//! face is worked out at its nodes once, and read off in between.

use std::sync::OnceLock;

use dryturn_geometry::DVec3;

use crate::drawing::{Part, Rig};

/// Flat faces of a solid.
const FACES: usize = 6;
/// Nodes along each side of a face.
const NODES: usize = 13;
/// Between nodes that differ by more than this, as a share of the light, it is no smooth
/// function: an edge of a shadow lies there, or something stands on the face.
const MOST_STEP: f32 = 0.1;

/// A flat outer face.
struct Face {
    solid: usize,
    axis: usize,
    outwards: f64,
    low: DVec3,
    high: DVec3,
    /// Across the face: where its grid begins, mm, and nodes for each mm.
    begins: [f32; 2],
    nodes_per_mm: [f32; 2],
}

/// The axes across a face.
fn across(axis: usize) -> [usize; 2] {
    [(axis + 1) % 3, (axis + 2) % 3]
}

/// A node of a face's grid, where light arrives.
pub(crate) struct Node {
    /// The solid that it lies on.
    pub(crate) solid: usize,
    /// mm.
    pub(crate) point: DVec3,
    /// Axis across the face, and its sign outwards.
    pub(crate) axis: usize,
    pub(crate) outwards: f64,
}

/// The outer faces of the cube at rest.
pub(crate) struct Faces {
    /// `[solid · faces + face]`: place among the outer faces.
    numbers: Vec<Option<u16>>,
    faces: Vec<Face>,
}

/// A point of an outer face: between which nodes of its grid it lies.
#[derive(Clone, Copy, Debug)]
pub struct OnFace {
    face: usize,
    /// The node with the least coordinates.
    node: usize,
    /// Shares of the way to the next ones.
    way: [f32; 2],
}

impl Faces {
    pub(crate) fn of(rig: &Rig) -> Self {
        let (mut numbers, mut faces) = (Vec::new(), Vec::new());
        for (solid, (part, shape)) in rig.parts().iter().zip(rig.shapes()).enumerate() {
            let (low, high) = shape.bounds();
            for number in 0..FACES {
                let (axis, outwards) = (number / 2, if number % 2 == 1 { 1 } else { -1 });
                let outer = matches!(part, Part::Piece(place) if place[axis] == outwards);
                numbers.push(outer.then_some(faces.len() as u16));
                if outer {
                    let begins = across(axis).map(|k| low[k] as f32);
                    let nodes_per_mm =
                        across(axis).map(|k| (NODES - 1) as f32 / (high[k] - low[k]) as f32);
                    let outwards = f64::from(outwards);
                    faces.push(Face { solid, axis, outwards, low, high, begins, nodes_per_mm });
                }
            }
        }
        Self { numbers, faces }
    }

    pub(crate) fn len(&self) -> usize {
        self.faces.len()
    }

    /// Where a point of a solid's flat face lies; `None` if that is no outer face of the cube.
    #[inline]
    pub(crate) fn place(&self, (solid, number): (u32, u32), point: [f32; 3]) -> Option<OnFace> {
        let number = if number < FACES as u32 { number as usize } else { return None };
        let face = usize::from((*self.numbers.get(solid as usize * FACES + number)?)?);
        let Face { axis, begins, nodes_per_mm, .. } = self.faces[face];
        let [a, b] = across(axis);
        let [(column, u), (row, v)] = [(0, a), (1, b)].map(|(k, along)| {
            let at = (point[along] - begins[k]) * nodes_per_mm[k];
            let at = at.clamp(0.0, (NODES - 1) as f32);
            let cell = (at as usize).min(NODES - 2);
            (cell, at - cell as f32)
        });
        Some(OnFace { face, node: row * NODES + column, way: [u, v] })
    }

    /// The first node of the face at a share of all faces, and the face's number on its solid.
    #[cfg(test)]
    pub(crate) fn somewhere(&self, share: f64) -> (Node, u32) {
        let face = ((share * self.len() as f64) as usize).min(self.len() - 1);
        let node = self.node(face, 0);
        (node, 2 * self.faces[face].axis as u32 + u32::from(self.faces[face].outwards > 0.0))
    }

    /// Node number `number` of a face.
    fn node(&self, face: usize, number: usize) -> Node {
        let Face { solid, axis, outwards, low, high, .. } = self.faces[face];
        let mut point = if outwards > 0.0 { high } else { low };
        for (k, at) in across(axis).into_iter().zip([number % NODES, number / NODES]) {
            point[k] = low[k] + (high[k] - low[k]) * at as f64 / (NODES - 1) as f64;
        }
        Node { solid, point, axis, outwards }
    }
}

/// How a light falls on a point.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fallen {
    /// What arrives past what stands in the way: illuminance over the lamp's flux, 1/m², or
    /// over the room's illuminance.
    pub arriving: f32,
    /// Its share of what would arrive with nothing in the way, 0 to 1.
    pub share: f32,
}

impl Fallen {
    /// Inside a solid.
    pub(crate) const NOWHERE: Self = Self { arriving: f32::NAN, share: f32::NAN };

    fn mix(self, other: Self, way: f32) -> Self {
        Self {
            arriving: self.arriving + way * (other.arriving - self.arriving),
            share: self.share + way * (other.share - self.share),
        }
    }
}

/// How a light falls on the nodes of every outer face; worked out face by face, when one is
/// first asked for.
pub(crate) struct Falling(Vec<OnceLock<Vec<Fallen>>>);

impl Falling {
    pub(crate) fn of(faces: &Faces) -> Self {
        Self((0..faces.len()).map(|_| OnceLock::new()).collect())
    }

    /// At a point, linearly between nodes; `None` where it is no smooth function.
    #[inline]
    pub(crate) fn at(
        &self,
        faces: &Faces,
        place: OnFace,
        fallen: impl Fn(&Node) -> Fallen,
    ) -> Option<Fallen> {
        let OnFace { face, node, way: [u, v] } = place;
        let nodes = self.0[face].get_or_init(|| {
            (0..NODES * NODES).map(|number| fallen(&faces.node(face, number))).collect()
        });
        let of = [node, node + 1, node + NODES, node + NODES + 1].map(|number| nodes[number]);
        let range = |own: fn(Fallen) -> f32| {
            let [a, b, c, d] = of.map(own);
            (a.min(b).min(c).min(d), a.max(b).max(c).max(d), a + b + c + d)
        };
        let (least, most, sum) = range(|own| own.share);
        let (weakest, strongest, _) = range(|own| own.arriving);
        // Not so either where one of them is no number.
        let smooth = most - least <= MOST_STEP
            && strongest - weakest <= MOST_STEP * strongest
            && !sum.is_nan();
        let [a, b, c, d] = of;
        smooth.then(|| a.mix(b, u).mix(c.mix(d, u), v))
    }
}
