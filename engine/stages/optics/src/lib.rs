//! What the cameras see: ray-cast frames with their labels.
//!
//! A view of the rig is traced once ([`LitView`]): for every pixel, which
//! surfaces it shows and how much of each lamp's light reaches them. Painting a
//! cube state on it ([`LitView::expose`]) then costs no more rays, so the same
//! rig shows a solved cube six ways and a scrambled one quickly.
//!
//! Colour is spectral where it matters: lamp × pigment × sensor is integrated
//! once for each pair of lamp and pigment, and rays carry the three results.
//!
//! What is left out: light that bounces between parts, lens blur, flicker,
//! motion blur, vignetting, the sensor's colour mosaic. Room light is even from
//! all sides and casts no shadow; lamps neither block light nor are seen
//! themselves.

mod as_built;
pub mod lamp;
mod light_table;
mod lit_view;
mod pigment;
mod sensor;
mod sight;
pub mod spectrum;
pub mod surface;

pub use as_built::AsBuilt;
pub use lit_view::{LitView, Shot};
pub use pigment::reflectance;
pub use sensor::{CHANNELS, ReadOut, quantum_efficiency};
