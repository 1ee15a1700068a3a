//! Which program is running: records hold for its own bytes, for another build may come to other
//! results.

use std::sync::LazyLock;

use dryturn_record::digest;

/// Read once, where a record asks for it.
static SHA256: LazyLock<Option<String>> = LazyLock::new(|| {
    let path = std::env::current_exe().ok()?;
    Some(digest(&std::fs::read(path).ok()?))
});

/// Digest of the running program; `None` where it cannot be read.
pub(super) fn sha256() -> Option<&'static str> {
    SHA256.as_deref()
}
