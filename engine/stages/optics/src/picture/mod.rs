//! From a traced view to a picture: the electrons that gather ([`exposure`]), what the camera makes
//! of them ([`develop`]), and what the picture truly shows ([`labels`]).

mod develop;
mod exposure;
mod jpeg;
mod labels;
mod light_table;

pub use self::develop::Taken;
pub(crate) use self::develop::{encode, grey_patch, mixed};
pub(crate) use self::exposure::Painted;
pub use self::exposure::Shot;
pub(crate) use self::labels::share_of;
pub(crate) use self::light_table::{Electrons, LightTable, Paint, flux, paints};
