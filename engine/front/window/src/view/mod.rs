//! The rig in 3D: what stands there, from where it is looked at, and when it is drawn.

pub(crate) mod orbit;
pub(crate) mod stage;
pub(crate) mod stand;
