//! Long works: how far they are, whether somebody breaks them off, and the pieces that are kept.

mod in_vain;
mod pieces;
mod stored;
mod watch;

pub(crate) use self::in_vain::all_unless_in_vain;
pub use self::pieces::{Keeper, NumberedPieces};
pub(crate) use self::stored::Stored;
pub use self::watch::Progress;
pub(crate) use self::watch::Watch;
