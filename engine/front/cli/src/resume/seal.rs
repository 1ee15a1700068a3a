//! Bytes that tell whether they are as they were written.

use dryturn_record::digest;

/// Characters of a digest, and the end of its line.
const SEAL: usize = 65;

/// Bytes behind their digest.
pub(crate) fn sealed(bytes: &[u8]) -> Vec<u8> {
    let mut sealed = digest(bytes).into_bytes();
    sealed.push(b'\n');
    sealed.extend_from_slice(bytes);
    sealed
}

/// The bytes, where they are as they were sealed.
pub(crate) fn unsealed(sealed: &[u8]) -> Option<&[u8]> {
    let (seal, bytes) = sealed.split_at_checked(SEAL)?;
    (seal[..SEAL - 1] == *digest(bytes).as_bytes() && seal[SEAL - 1] == b'\n').then_some(bytes)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_damaged_is_not_taken() {
        for bytes in [&b""[..], b"x", b"some bytes"] {
            let whole = sealed(bytes);
            assert_eq!(unsealed(&whole), Some(bytes));
            for end in 0..whole.len() {
                assert_eq!(unsealed(&whole[..end]), None);
            }
            for at in 0..whole.len() {
                let mut damaged = whole.clone();
                damaged[at] ^= 4;
                assert_eq!(unsealed(&damaged), None);
            }
        }
    }
}
