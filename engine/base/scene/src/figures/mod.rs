//! What follows from the figures of a scene file.

mod derived;
mod quickness;

pub use derived::{CORE_SHARE, Derived, HOLLOW_RATIO, USUAL_EDGE_MM, USUAL_MASS_G, layer_inertia};
pub use quickness::{QUICKEST_PER_S, Rate, WALL_OVER_CUBE};
