//! What the cameras see: ray-cast frames with their labels.
//!
//! A view of the rig is traced once ([`LitView`]): for every pixel, which
//! surfaces it shows and how much of each light reaches them. Painting a
//! cube state on it ([`LitView::expose`]) then costs no more rays, so the same
//! rig shows a solved cube six ways and a scrambled one quickly.
//!
//! Colour is spectral where it matters: lamp × pigment × sensor is integrated
//! once for each pair of lamp and pigment (and, where light bounces, for each two
//! pigments), and rays carry the three results.
//!
//! What is left out: light that bounces more than once, or off the backdrop; lens
//! flare and scattered light; lamps neither block light nor are seen themselves; a
//! pixel's response does not differ from its neighbour's.

mod as_built;
pub mod bare;
mod develop;
mod emitter;
mod exposure;
mod eye;
pub mod flicker;
mod gloss;
#[cfg(test)]
mod grain;
mod jpeg;
mod labels;
mod light_table;
mod lights;
mod lit_view;
pub mod mosaic;
mod occluders;
mod pattern;
pub mod pigment;
mod response;
mod rows;
pub mod sensor;
pub mod spectrum;
mod stage;
pub mod surface;
pub mod survey;

pub use as_built::{AsBuilt, Sticker};
pub use develop::Taken;
pub use exposure::Shot;
pub use labels::GLARE_SHARE;
pub use lit_view::LitView;
pub use response::Response;
