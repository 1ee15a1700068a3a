//! What the axes make of a plan: when each face moves, how far it is off when
//! its neighbour starts, and whether that jams.
//!
//! First version of the drive: every turn follows the fastest profile within the
//! axis's voltage, current and speed limits (closed forms); timing, friction,
//! stop and encoder errors come from seeded streams; the next beat is commanded
//! when the profile and the encoder have the one before within the release
//! angle; a turning face jams when it reaches a neighbour that is further off
//! its stop than the pieces' shape and the torques allow (closed form).
//!
//! What is left out: the control loops themselves (stop error and settling are
//! figures of the scene), the supply shared by the axes, shaft wind-up and
//! strength, the drag of a neighbour that is cut past, and the direction of
//! motion (a face that is off blocks its neighbour both ways, which is
//! pessimistic).

mod axis;
mod interlock;
mod motion;
mod moves;
mod predict;
pub mod profile;
mod simulate;

pub use axis::{Axis, Motor, layer_inertia};
pub use interlock::{Interlock, Torques};
pub use motion::{Motion, Piece, rest_to_rest};
pub use predict::{BeatTime, Timing};
pub use simulate::simulate;
