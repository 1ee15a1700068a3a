//! Where rays go, what they meet, and how much of each light arrives there.

pub mod bare;
mod emitter;
mod eye;
mod gloss;
mod lights;
mod occluders;
mod pattern;
mod rows;
mod stage;
pub mod surface;
mod tracing;

pub(crate) use self::emitter::Emitter;
pub(crate) use self::eye::Eye;
pub(crate) use self::occluders::Occluders;
pub(crate) use self::rows::Row;
pub(crate) use self::stage::{CoatOf, Sky, Stage};
pub(crate) use self::tracing::{Turns, trace_rows};
