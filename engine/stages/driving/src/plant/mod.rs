//! What an axis is made of: its motor, its shaft, what rubs, and the supply that all share.

pub mod braking;
pub mod linear;
mod motion;
mod motor;
pub mod shaft;
mod spin_up;
mod stepping;
mod supply;

pub use motion::{Motion, Piece, rest_to_rest};
pub use motor::{Axis, Motor};
pub use spin_up::spin_up;
pub(crate) use stepping::{HalfWay, Moving, Plant, Step, Touch};
pub(crate) use supply::{Bus, Source};
