//! What commands and holds an axis: the profiles of its moves, their set-points, its controller.

mod asked;
mod encoder;
mod outside;
mod planned;
pub mod profile;
mod servo;
mod setpoints;
mod window;

pub(crate) use encoder::Encoder;
pub(crate) use planned::Planned;
pub(crate) use servo::{Gains, Servo};
pub(crate) use setpoints::{Belief, HALF, QUARTER, Setpoint, Setpoints, kind};
