//! The solids of the rig as the drawing has them.

use dryturn_cube::{Face, Facelet, FaceletKind};
use dryturn_geometry::{Assembly, DVec3, Shape, Turning};

use super::material::Look;
use super::solids::{Part, Solids, axis_of, vector};
use crate::file::{Body, SceneFile};

/// The solids, what they are part of and what they look like, and all of them
/// together with the cube at rest.
pub struct Rig {
    solids: Solids,
    at_rest: Assembly,
    /// Half the edge of the coloured part of a piece's face.
    facelet_half_mm: f64,
    coloured_share: f64,
    /// From one piece's centre to the next.
    pitch_mm: f64,
    /// From the cube's centre to a face.
    half_mm: f64,
}

impl Rig {
    /// The rig of a scene that is known to be valid.
    pub(crate) fn of(scene: &SceneFile) -> Self {
        let cube = &scene.cube;
        let pitch_mm = cube.edge_mm / 3.0;
        let piece_half = (pitch_mm - cube.gap_mm) / 2.0;
        let half_mm = pitch_mm + piece_half;
        let (facelet_half_mm, coloured_share) = match cube.body {
            Body::Black => {
                let half = cube.sticker_edge_mm().min(2.0 * piece_half) / 2.0;
                let corner = cube.facelet_corner_mm / (2.0 * half);
                (half, 1.0 - (4.0 - core::f64::consts::PI) * corner * corner)
            }
            Body::Coloured => {
                let half = piece_half - cube.rim_radius_mm;
                (half, piece_half * piece_half / (half * half))
            }
        };
        let solids = Solids::of(scene, (piece_half, facelet_half_mm), half_mm);
        let at_rest = Assembly::new(solids.shapes.clone(), Vec::new());
        Self { solids, at_rest, facelet_half_mm, coloured_share, pitch_mm, half_mm }
    }

    /// All solids with every layer at rest.
    #[must_use]
    pub fn at_rest(&self) -> &Assembly {
        &self.at_rest
    }

    /// All solids where the layers of some faces turn, each a group of its own with
    /// its rod and coupler. The faces must share an axis.
    #[must_use]
    pub fn turning(&self, faces: &[Face]) -> Assembly {
        let turns_with = |part: &Part, face: Face| match part {
            Part::Piece(place) => vector(*place).dot(vector(face.normal())) > 0.5,
            Part::Shaft(own) => *own == face,
            Part::Motor(_) | Part::Fixture(_) => false,
        };
        let numbered = || (0u32..).zip(self.parts().iter().zip(self.shapes()));
        let group = |&face: &Face| Turning {
            axis: axis_of(face),
            shapes: numbered()
                .filter(|(_, (part, _))| turns_with(part, face))
                .map(|(id, (_, shape))| (id, *shape))
                .collect(),
        };
        let still: Vec<(u32, Shape)> = numbered()
            .filter(|(_, (part, _))| !faces.iter().any(|&face| turns_with(part, face)))
            .map(|(id, (_, shape))| (id, *shape))
            .collect();
        Assembly::with_numbers(&still, faces.iter().map(group).collect())
    }

    /// What each solid looks like, by its number.
    #[must_use]
    pub fn looks(&self) -> &[Look] {
        &self.solids.looks
    }

    /// Shape of each solid, by its number.
    #[must_use]
    pub fn shapes(&self) -> &[Shape] {
        &self.solids.shapes
    }

    /// What each solid is part of, by its number.
    #[must_use]
    pub fn parts(&self) -> &[Part] {
        &self.solids.parts
    }

    /// The corners of a facelet's coloured square in the world, mm, in the order
    /// top left, top right, bottom right, bottom left of its net.
    #[must_use]
    pub fn facelet_corners_mm(&self, facelet: Facelet) -> [DVec3; 4] {
        let (right, down) = facelet.face().net_directions();
        let (right, down) = (vector(right), vector(down));
        let position = vector(facelet.piece_position());
        let normal = vector(facelet.face().normal());
        let along = position.dot(normal);
        let centre = (position - normal * along) * self.pitch_mm + normal * self.half_mm;
        [(-1.0, -1.0), (1.0, -1.0), (1.0, 1.0), (-1.0, 1.0)]
            .map(|(u, v)| centre + (right * u + down * v) * self.facelet_half_mm)
    }

    /// Coloured area of a facelet over that of its flat square: a sticker lacks its
    /// rounded corners, coloured plastic goes on round the rim.
    #[must_use]
    pub fn coloured_share(&self) -> f64 {
        self.coloured_share
    }

    /// From the cube's centre to a face, mm.
    #[must_use]
    pub fn half_mm(&self) -> f64 {
        self.half_mm
    }

    /// Facelets whose colour must be seen: all but the centres, which the
    /// couplers cover and the mounting fixes.
    pub fn facelets_to_read() -> impl Iterator<Item = Facelet> + Clone {
        Facelet::all().filter(|facelet| facelet.kind() != FaceletKind::Centre)
    }
}
