//! What the six colours look like to each camera at each place, and how far samples stray from that:
//! as sightings of known cubes tell ([`references`], [`scales`]), or as a measured chart and the
//! camera's matrix do ([`measured`], [`overlap`]).

mod appearance;
mod censored;
pub(crate) mod measured;
mod overlap;
mod plane;
mod references;
mod scales;
mod seen;

pub(crate) use self::appearance::{Appearance, Stray};
pub(crate) use self::overlap::Overlap;
pub(crate) use self::plane::plane;
pub(crate) use self::references::{References, Sighting, median};
pub(crate) use self::scales::Scales;
pub(crate) use self::seen::{Expected, Seen};
