//! What light is made of, what pigments leave of it, and how it goes up and down.

pub mod flicker;
pub mod pigment;
pub mod spectrum;
