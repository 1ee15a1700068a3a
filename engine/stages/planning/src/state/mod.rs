//! A state as numbers, the steps that change them, and the symmetries that keep them.

mod coordinates;
mod pieces;
mod step_tables;
mod steps;
mod symmetry;

pub(crate) use coordinates::{
    Arrangement, BELTS, CORNER_SENSES, Coordinates, EDGE_SENSES, PERMUTATIONS_8, rank,
};
pub(crate) use pieces::Pieces;
pub(crate) use step_tables::{StepTable, StepTables};
pub use steps::Weights;
pub(crate) use steps::{Step, StepSet};
pub(crate) use symmetry::{
    Classes, SYMMETRIES, Symmetry, cap_order_images, corner_sense_images, seen_along_next_axis,
    seen_back,
};
