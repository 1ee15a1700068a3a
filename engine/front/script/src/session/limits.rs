//! What a script may use up.

use std::time::Duration;

/// Most operations of one script, those of callbacks included; an endless loop ends here,
/// after some seconds.
pub const MAX_OPERATIONS: u64 = 5_000_000;
/// Most nested function calls.
pub(crate) const MAX_CALLS: usize = 32;
/// Most bytes of one text.
pub(crate) const MAX_TEXT: usize = 100_000;
/// Most items of one list or map, nested ones included.
pub(crate) const MAX_ITEMS: usize = 10_000;

/// What the person who starts a script lets it use.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limits {
    /// Most bytes of memory of the whole program while the script runs and while its report
    /// is made, where the [`Host`](crate::Host) can tell how many are in use.
    pub memory_bytes: usize,
    /// Longest time on the wall's clock.
    pub timeout: Duration,
    /// Whether a script that expects nothing may pass.
    pub allow_none: bool,
}

impl Default for Limits {
    /// 1 GB, ten minutes; what expects nothing may pass.
    fn default() -> Self {
        Self { memory_bytes: 1_000_000_000, timeout: Duration::from_secs(600), allow_none: true }
    }
}

/// Bytes in the unit that fits, for people.
pub(crate) fn size(bytes: usize) -> String {
    match bytes as f64 {
        gb if gb >= 1e9 => format!("{} GB", (gb / 1e7).round() / 100.0),
        mb => format!("{} MB", (mb / 1e5).round() / 10.0),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_are_said_in_the_unit_that_fits() {
        for (bytes, said) in [
            (1_000_000_000, "1 GB"),
            (2_340_000_000, "2.34 GB"),
            (256_000_000, "256 MB"),
            (0, "0 MB"),
        ] {
            assert_eq!(size(bytes), said);
        }
    }
}
