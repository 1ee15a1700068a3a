//! The six axes of a scene: what does not differ from run to run, and what a trial makes of it.

mod budget;
mod built;
mod ceiling;
mod drawn;
mod exact;
mod machine;
mod settings;

pub(crate) use built::BuiltAxes;
pub use ceiling::Ceiling;
pub use drawn::Drawn;
pub use machine::Machine;
pub(crate) use machine::encoder_step_rad;
pub use settings::DriveSettings;
