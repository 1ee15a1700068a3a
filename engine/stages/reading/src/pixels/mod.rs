//! What pixels say: which of them show which facelet, by the drawing and by where the cameras really
//! stand, and what these show together.
//!
//! The drawing says where facelets are in a picture ([`patches`]); where a camera stands, its
//! pictures tell ([`alignment`], [`edges`]). Of a scan's pictures one of each camera is made
//! ([`pictures`]), and sampled there ([`samples`]).

mod alignment;
mod bracket;
mod camera;
mod edges;
mod mean_frame;
mod parts;
mod patches;
mod pictures;
mod samples;
mod shown;

pub use self::mean_frame::MeanFrame;
pub(crate) use self::parts::Part;
pub use self::patches::Patches;
pub(crate) use self::patches::Standing;
pub use self::pictures::FrameError;
pub(crate) use self::samples::Sample;
pub use self::samples::Sampled;
pub(crate) use self::shown::Pixels;
