//! What commands and holds an axis: the profiles of its moves, their set-points, its controller.

mod planned;
pub mod profile;
mod servo;
mod setpoints;

pub(crate) use planned::Planned;
pub(crate) use servo::{Encoder, Gains, Servo};
pub(crate) use setpoints::{Belief, HALF, QUARTER, Setpoint, Setpoints, kind};
