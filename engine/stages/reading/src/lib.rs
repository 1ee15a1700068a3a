//! From pixels to the state of the cube.
//!
//! The drawing says which pixels show which facelet ([`Patches`]); cubes that somebody
//! knows, scanned once, say what each colour looks like there, and how far samples stray
//! ([`Calibration`]). What a scan then comes to ([`read`]) is one of two things, as the
//! scene wants it:
//!
//! - the most probable of all legal cubes, with its probability ([`decoder`]), where the
//!   light may have changed since: by camera for each colour, each face and across it, with a
//!   second light on some of it and reflections, which are found together with the cube.
//!   Where that is too little, or no calibration is wanted, what cube colours usually look like
//!   takes its place. Below the scene's certainty, or where the samples fit no legal cube,
//!   the scan is refused;
//! - each facelet's colour by itself, as four models see it, from the baseline that every
//!   builder starts with (the smallest summed absolute RGB difference) to Gaussian classes;
//!   what the shafts hide follows from the rest of its piece, and colours that make no
//!   legal cube are unreadable.
//!
//! The stage sees frames and the nominal scene, never labels or true poses. Where the
//! cameras stand, within a few degrees and millimetres of the drawing, is found from where
//! facelets are most even and where their borders are, unless the scene says that the
//! drawing is to be believed.

mod calibration;
mod classes;
mod complete;
pub mod decoder;
mod each;
mod judge;
mod likely;
mod looks;
mod models;
mod nine_each;
mod pixels;
mod read;
mod rendering;

pub use calibration::{
    Calibration, CalibrationError, CameraLight, Checked, KnownColour, KnownScan, LEFT_OUT_WAYS,
    LeftOut, Lessons, PooledClass, PooledClasses, StoredVersion,
};
pub use classes::{ClassModel, Spread};
pub use complete::{Completion, complete};
pub use nine_each::nine_each;
pub use pixels::{FrameError, MeanFrame, Patches, Sampled};
pub use read::{read, read_blind, read_samples};
