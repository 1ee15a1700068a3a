//! A scene's text before it is values: where everything stands in it, what it must look like,
//! and what six shafts share in it.

mod read;
mod shape;
mod shared;
mod tree;

pub(crate) use shape::{Shape, ShapeField};
pub(crate) use shared::{EVERY_SHAFT, every_shaft, share_shafts};
pub(crate) use tree::Node;
