//! Which facelets make a corner and which an edge.
//!
//! Slots are numbered by geometry: corners and edges in the order in which
//! their reference facelet appears in the facelet order. A corner's reference
//! facelet is the one on U or D; an edge's is the one on U or D, or else on F
//! or B. The others of a corner follow clockwise, seen from outside.

use std::sync::LazyLock;

use crate::{Face, Facelet, FaceletKind};

/// Number of corner pieces.
pub const CORNERS: usize = 8;
/// Number of edge pieces.
pub const EDGES: usize = 12;

struct Pieces {
    corners: [[Facelet; 3]; CORNERS],
    edges: [[Facelet; 2]; EDGES],
}

/// The face reached from `face` by going clockwise round the corner that lies
/// in direction `corner`: the cyclic shift of the axes that is a rotation by
/// −120° about the corner's direction.
fn clockwise_next(face: Face, corner: [i32; 3]) -> Face {
    let axis = face.normal().iter().position(|&c| c != 0).unwrap_or(0);
    // About (+,+,+), x → y → z → x is anticlockwise seen from outside; every
    // reflected coordinate reverses the sense.
    let anticlockwise_is_up = corner.iter().product::<i32>() > 0;
    let next = (axis + if anticlockwise_is_up { 2 } else { 1 }) % 3;
    let mut normal = [0; 3];
    normal[next] = corner[next];
    Face::from_normal(normal).unwrap_or(face)
}

static PIECES: LazyLock<Pieces> = LazyLock::new(|| {
    let on = |face: Face, kind| {
        Facelet::all().filter(move |f| f.face().same_axis(face) && f.kind() == kind)
    };
    let corners: Vec<[Facelet; 3]> = on(Face::U, FaceletKind::Corner)
        .filter_map(|first| {
            let position = first.piece_position();
            let second = clockwise_next(first.face(), position);
            let third = clockwise_next(second, position);
            Some([first, Facelet::at(position, second)?, Facelet::at(position, third)?])
        })
        .collect();
    let beside = |first: Facelet| {
        let position = first.piece_position();
        Face::ALL
            .into_iter()
            .filter(|&face| face != first.face())
            .find_map(|face| Facelet::at(position, face))
    };
    let upper_and_lower = on(Face::U, FaceletKind::Edge);
    let middle = on(Face::F, FaceletKind::Edge).filter(|f| f.piece_position()[1] == 0);
    let edges: Vec<[Facelet; 2]> =
        upper_and_lower.chain(middle).filter_map(|first| Some([first, beside(first)?])).collect();
    Pieces {
        corners: corners.try_into().expect("a cube has eight corners"),
        edges: edges.try_into().expect("a cube has twelve edges"),
    }
});

/// The facelets of corner slot `slot` (0…7), reference facelet first, clockwise.
///
/// # Panics
/// If `slot` is not below [`CORNERS`].
#[must_use]
pub fn corner_facelets(slot: usize) -> [Facelet; 3] {
    PIECES.corners[slot]
}

/// The facelets of edge slot `slot` (0…11), reference facelet first.
///
/// # Panics
/// If `slot` is not below [`EDGES`].
#[must_use]
pub fn edge_facelets(slot: usize) -> [Facelet; 2] {
    PIECES.edges[slot]
}

/// The corner that has these faces' colours, read clockwise from any facelet,
/// and how far clockwise the reference colour stands from the first one read.
/// `None` where no corner of the cube has these colours in this sense.
#[must_use]
pub fn corner_index(colours: [Face; 3]) -> Option<(usize, usize)> {
    (0..CORNERS).find_map(|piece| {
        let own = corner_facelets(piece).map(Facelet::face);
        (0..3)
            .find(|&twist| (0..3).all(|k| colours[(k + twist) % 3] == own[k]))
            .map(|twist| (piece, twist))
    })
}

/// The edge that has these two colours, and whether (1) or not (0) the
/// reference colour is the second one read.
#[must_use]
pub fn edge_index(colours: [Face; 2]) -> Option<(usize, usize)> {
    (0..EDGES).find_map(|piece| {
        let own = edge_facelets(piece).map(Facelet::face);
        (0..2)
            .find(|&flip| (0..2).all(|k| colours[(k + flip) % 2] == own[k]))
            .map(|flip| (piece, flip))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn own_face_first_then_clockwise() {
        let corner: Vec<&str> =
            ["URF", "RFU", "FUR"].iter().map(|n| Facelet::from_name(n).unwrap().name()).collect();
        assert_eq!(corner, ["URF", "RFU", "FUR"]);
        let urf = Facelet::from_name("URF").unwrap();
        assert_eq!((urf.row(), urf.column()), (2, 2), "bottom right of U touches R and F");
        let slot = (0..CORNERS).find(|&s| corner_facelets(s)[0] == urf).unwrap();
        assert_eq!(corner_facelets(slot).map(Facelet::name), ["URF", "RFU", "FUR"]);
        assert_eq!(Facelet::from_name("UF").unwrap().name(), "UF");
        assert_eq!(Facelet::from_name("FU").unwrap().row(), 0);
        assert_eq!(Facelet::from_name("FRU"), None, "anticlockwise is no name");
    }

    #[test]
    fn every_facelet_belongs_to_one_piece() {
        let mut seen = [0; Facelet::COUNT];
        (0..CORNERS).flat_map(corner_facelets).for_each(|f| seen[f.index()] += 1);
        (0..EDGES).flat_map(edge_facelets).for_each(|f| seen[f.index()] += 1);
        for facelet in Facelet::all() {
            let wanted = i32::from(facelet.kind() != FaceletKind::Centre);
            assert_eq!(seen[facelet.index()], wanted, "{facelet}");
        }
    }
}
