//! What neighbouring faces are to each other: how far off they may be, how early they may begin,
//! what they do where they meet.

mod interlock;
mod leads;
mod meeting;
mod overlaps;
pub mod separation;

pub(crate) use interlock::CONTACTS;
pub use interlock::{Interlock, Torques};
pub use leads::Lead;
pub(crate) use leads::Leads;
pub(crate) use meeting::{Contact, Engaged, Facing};
pub(crate) use overlaps::{Overlaps, lucky};
