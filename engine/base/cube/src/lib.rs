//! The 3×3×3 puzzle cube: 26 pieces, 54 facelets, 18 face turns. Integers only.
//!
//! Everything is derived once from geometry (where each facelet sits and how a
//! turn moves it), so there is no table of permutations to mistype.
//!
//! ```
//! use dryturn_cube::{CubeState, Turn, notation};
//!
//! let turns = notation::parse("R U R' U'")?;
//! let mut state = CubeState::SOLVED;
//! for _ in 0..6 {
//!     state = state.turned_by(&turns);
//! }
//! assert_eq!(state, CubeState::SOLVED); // this sequence has order six
//! # Ok::<(), notation::NotationError>(())
//! ```

mod face;
mod facelet;
pub mod legality;
mod mounting;
mod pieces;
mod random;
mod state;
mod turn;
mod writing;

pub use face::Face;
pub use facelet::{Facelet, FaceletKind};
pub use legality::{Colouring, StateError};
pub use mounting::{MOUNTINGS, Stickering};
pub use pieces::{CORNERS, EDGES, corner_facelets, corner_index, edge_facelets, edge_index};
pub use random::random_state;
pub use state::CubeState;
pub use turn::{ALL_TURNS, Amount, Turn};
pub use writing::{net, notation};
