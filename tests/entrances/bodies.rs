//! What becomes of strangers' bytes: one function an entrance. Each takes any bytes, hands them to
//! the library as the program does, asserts what must hold of what is taken, and says whether it
//! was taken. It never panics otherwise: a panic is what is looked for.
//!
//! What costs much more than reading (a picture taken, a fit) is done for a few of the inputs, by
//! their bytes alone. Where the program's own reading is private to its package, the same is called
//! of the libraries below it, and the function says so.
//!
//! The functions need nothing else of the tests, for `engine/fuzz/` has them too.
#![allow(unreachable_pub)] // there they are called from other crates

#[path = "bodies/common.rs"]
mod common;
#[path = "bodies/cubes.rs"]
mod cubes;
#[path = "bodies/documents.rs"]
mod documents;
#[path = "bodies/logs.rs"]
mod logs;
#[path = "bodies/pictures.rs"]
mod pictures;
#[path = "bodies/scenes.rs"]
mod scenes;
#[path = "bodies/scripts.rs"]
mod scripts;
#[path = "bodies/tables.rs"]
mod tables;

pub use cubes::{cube, known_cubes, notation, rig_plan};
pub use documents::{calibration, document, ledger};
pub use logs::{axis_log, run_log};
pub use pictures::{picture, raw_picture};
pub use scenes::{scene, setting};
pub use scripts::script;
pub use tables::{PIGMENTS, POWER, SENSOR, curves, pairs, points};
