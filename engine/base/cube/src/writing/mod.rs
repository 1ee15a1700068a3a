//! Cubes and turns in writing: for people, in files, and in documents.

mod documents;
pub mod net;
pub mod notation;
