//! Scripts.

use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, LazyLock};
use std::time::Duration;

use dryturn_record::ledger;
use dryturn_script::{ErrorKind, Host, Limits, Settings, foresee, run_kept};
use dryturn_units::noise::Seed;

use super::common::{rarely, said, text_of, workbench};

/// A run is stopped when it has asked so often whether it shall be: at each of its operations, and
/// every few milliseconds of a long work. So its end hangs on no clock.
const MOST_ASKED: usize = 400;

/// The scene that every path leads to: small, so that pictures take little.
static SCENE: LazyLock<String> = LazyLock::new(|| workbench([64, 64]).to_ron());

/// Lets a script do little.
#[derive(Default)]
struct Short {
    asked: AtomicUsize,
}

impl Host for Short {
    fn read_text(&self, path: &str) -> Result<String, String> {
        if path.ends_with(".ron") {
            Ok(SCENE.clone())
        } else {
            Err(format!("{path}: no such file"))
        }
    }

    fn progress(&self, _: &str, _: usize, _: usize) {}

    fn stopped(&self) -> bool {
        self.asked.fetch_add(1, Ordering::Relaxed) >= MOST_ASKED
    }

    fn limits(&self) -> Limits {
        let timeout = Duration::from_secs(3600);
        Limits { memory_bytes: 64_000_000, timeout, allow_none: true }
    }

    /// Nobody counts what is in use; what is about to be taken at once has its limit so.
    fn bytes_in_use(&self) -> Option<usize> {
        Some(0)
    }
}

/// A script, looked through as `check` and `rehearse` do; some are begun.
pub fn script(bytes: &[u8]) -> bool {
    let Some(text) = text_of(bytes) else { return false };
    if let Err(error) = foresee("script.rhai", text) {
        assert_eq!(error.kind, ErrorKind::Script, "{error}");
        said(&error);
        return false;
    }
    if rarely(bytes, 4) {
        let (seed, settings) = (Seed::new(1), Settings::new());
        let host = Arc::new(Short::default());
        let (record, end) = run_kept("script.rhai", text, (seed, &settings), host);
        if let Err(error) = end {
            // A panic on the way is caught, and told as this.
            assert_ne!(error.kind, ErrorKind::Ours, "{error}");
            said(&error);
        }
        let kept = record.ledger_text();
        let lines = ledger::parse(&kept);
        let lines = lines.unwrap_or_else(|error| panic!("its own ledger is refused: {error}"));
        assert_eq!(lines.len(), record.ledger.len());
    }
    true
}
