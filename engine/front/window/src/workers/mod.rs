//! What works beside the window, each on a thread of its own.

pub(crate) mod clerk;
pub(crate) mod darkroom;
