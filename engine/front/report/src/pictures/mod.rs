//! Pictures as files, small side by side, and within a page.

mod png;
mod sheet;

use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;
use dryturn_handoff::Frame;
use image::ImageError;

pub use png::{encode, file_bytes};
pub use sheet::contact_sheet;

/// A frame as an address that holds it whole.
pub(crate) fn data_address(frame: &Frame) -> Result<String, ImageError> {
    Ok(format!("data:image/png;base64,{}", STANDARD.encode(encode(frame)?)))
}
