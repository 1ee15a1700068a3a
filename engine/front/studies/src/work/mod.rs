//! Long works: how far they are, whether somebody breaks them off, and the pieces that are kept.

mod pieces;
mod stored;
mod watch;

pub use self::pieces::{Keeper, NumberedPieces};
pub(crate) use self::stored::Stored;
pub use self::watch::Progress;
pub(crate) use self::watch::Watch;
