//! What a camera's lens, sensor and filters do with light, whatever it comes from.

pub mod mosaic;
pub mod sensor;
