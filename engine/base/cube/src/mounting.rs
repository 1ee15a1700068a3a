//! Which sticker shows where: the cube's state seen through the way the cube
//! is mounted on the shafts.

use crate::{CubeState, Face, Facelet, turn::rotate_facelet};

/// For each place, the sticker that shows there, named by its home on the
/// solved cube. Unlike [`CubeState`] it may be a whole-cube rotation.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Stickering(pub [Facelet; Facelet::COUNT]);

/// Six ways to mount a solved cube so that every face shows every colour once:
/// quarter turns of the whole cube, clockwise about the named faces, from its
/// usual place. They form a group that moves any face to any other in exactly
/// one way, so six scans show all 36 pairs of face and colour.
pub const MOUNTINGS: [&[Face]; 6] = [
    &[],
    &[Face::U, Face::R],
    &[Face::F, Face::L],
    &[Face::U, Face::U, Face::L],
    &[Face::U, Face::U, Face::B],
    &[Face::U, Face::F, Face::F],
];

impl From<&CubeState> for Stickering {
    fn from(state: &CubeState) -> Self {
        Self(state.stickers())
    }
}

impl Stickering {
    /// The solved cube, mounted the given way.
    #[must_use]
    pub fn solved_in(mounting: &[Face]) -> Self {
        let mut shown = Self::from(&CubeState::SOLVED);
        for &face in mounting {
            let before = shown;
            for from in Facelet::all() {
                shown.0[rotate_facelet(from, face).index()] = before.0[from.index()];
            }
        }
        shown
    }

    /// The colour shown at each place.
    #[must_use]
    pub fn colours(&self) -> [Face; Facelet::COUNT] {
        self.0.map(Facelet::face)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn six_mountings_show_every_colour_on_every_face_once() {
        let mut seen = [[0; 6]; 6];
        for mounting in MOUNTINGS {
            let colours = Stickering::solved_in(mounting).colours();
            for face in Face::ALL {
                let place = Facelet::new(face, 1, 1);
                seen[face.index()][colours[place.index()].index()] += 1;
            }
        }
        assert_eq!(seen, [[1; 6]; 6]);
    }
}
