//! What a script asks of the program: scene files and progress.

use std::io::IsTerminal as _;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use dryturn_script::Host;
use indicatif::{ProgressBar, ProgressStyle};

use crate::input;

/// Reads files relative to the script's own folder, and shows how far a long
/// work is when a person watches.
pub(crate) struct TerminalHost {
    folder: PathBuf,
    bar: Mutex<Option<ProgressBar>>,
}

impl TerminalHost {
    pub(crate) fn of_script(script: &Path) -> Self {
        let folder = script.parent().map(Path::to_owned).unwrap_or_default();
        Self { folder, bar: Mutex::new(None) }
    }
}

impl Host for TerminalHost {
    fn read_text(&self, path: &str) -> Result<String, String> {
        input::text(&self.folder.join(path)).map_err(|failure| failure.to_string())
    }

    fn progress(&self, what: &str, done: usize, all: usize) {
        if !std::io::stderr().is_terminal() {
            return;
        }
        // The end of a script's stages is not known beforehand.
        let stages = all == 0;
        let mut slot = self.bar.lock().unwrap_or_else(PoisonError::into_inner);
        if slot.as_ref().is_some_and(|bar| bar.message() != what) {
            // Another kind of work: another bar.
            if let Some(bar) = slot.take() {
                bar.finish_and_clear();
            }
        }
        let bar = slot.get_or_insert_with(|| {
            let template =
                if stages { "{msg}: {pos}" } else { "{msg} [{bar:32}] {pos}/{len}, {eta} left" };
            let style = ProgressStyle::with_template(template)
                .unwrap_or_else(|_| ProgressStyle::default_bar());
            ProgressBar::new(all as u64).with_style(style).with_message(what.to_owned())
        });
        bar.set_position(bar.position().max(done as u64));
        if !stages && done >= all {
            bar.finish_and_clear();
            *slot = None;
        }
    }
}
