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
mod camera;
#[cfg(test)]
mod grain;
mod light;
mod lit_view;
mod picture;
mod rays;
mod response;
pub mod survey;

pub use as_built::{AsBuilt, Sticker};
pub use camera::{mosaic, sensor};
pub use light::{flicker, pigment, spectrum};
pub use lit_view::LitView;
pub use picture::{Shot, Taken};
pub use rays::{bare, surface};
pub use response::Response;
