//! Logs of a real axis and a real run: what they tell in words, and a scene with it.

mod measured;
mod words;

pub use measured::{logs_title, measured_block, with_measured};
pub use words::{OverlayWords, identified_words, overlay_words};
