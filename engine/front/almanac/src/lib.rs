//! Keeps the planner's large tables: builds them once into the user's cache folder
//! and maps them into memory afterwards.
//!
//! A table is written beside its place and moved there when it is whole, so that a
//! build that is killed leaves nothing that is ever read. Its header says what it
//! is and holds a digest of every page; a start checks the header and some of the
//! pages, [`Almanac::verify`] all of them.

mod file;
mod keep;

pub use file::MappedTable;
pub use keep::{Almanac, Held};
