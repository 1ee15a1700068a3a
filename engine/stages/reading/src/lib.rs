//! From pixels to the state of the cube.
//!
//! This is the baseline that every builder starts with: the drawing says which
//! pixels show which facelet ([`Patches`]); a solved cube, scanned in the same
//! light, says what each colour looks like there ([`Calibration`]); a facelet
//! takes the colour at the smallest summed absolute RGB difference; what the
//! shafts hide follows from the rest of its piece; and the laws of the cube have
//! the last word ([`read`]).
//!
//! The stage sees frames and the nominal scene, never labels or true poses. It
//! does not correct for light that has changed since the calibration, and it
//! repairs nothing: colours that make no legal cube are reported as unreadable.

mod calibration;
mod classes;
mod complete;
pub mod decoder;
mod nine_each;
mod patches;
mod read;

pub use calibration::{Calibration, CalibrationError, SolvedScan};
pub use classes::{ClassModel, Spread};
pub use complete::{Completion, complete};
pub use nine_each::nine_each;
pub use patches::{FrameError, Patches};
pub use read::read;
