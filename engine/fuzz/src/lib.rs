//! The bodies that `tests/entrances.rs` runs, for a fuzzer that is led by coverage.

/// One function an entrance.
#[path = "../../../tests/entrances/bodies.rs"]
pub mod bodies;
