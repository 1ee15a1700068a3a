//! What stands for a text or a file: its SHA-256.

use sha2::{Digest, Sha256};

/// SHA-256 in hexadecimal (FIPS 180-4).
#[must_use]
pub fn digest(bytes: &[u8]) -> String {
    Sha256::digest(bytes).iter().map(|byte| format!("{byte:02x}")).collect()
}
