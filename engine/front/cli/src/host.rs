//! What a script asks of the program: scene files of its project, its limits, progress.

use std::collections::BTreeMap;
use std::io::IsTerminal as _;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, OnceLock};

use dryturn_console::{Project, locked};
use dryturn_guests::Invited;
use dryturn_record::digest;
use dryturn_script::{ErrorKind, Host, Limits, ScriptError};
use indicatif::{ProgressBar, ProgressStyle};

use crate::failure::Failure;
use crate::stop;

/// What the person who calls lets scripts do.
#[derive(Clone, Debug, Default)]
pub(crate) struct Allowed {
    pub(crate) limits: Limits,
    /// What scripts may read of, instead of the project that they lie in.
    pub(crate) root: Option<PathBuf>,
    /// Who may play besides Dryturn.
    pub(crate) invited: Invited,
}

static ALLOWED: OnceLock<Allowed> = OnceLock::new();

impl Allowed {
    /// What scripts of this call may do.
    pub(crate) fn now() -> Self {
        ALLOWED.get().cloned().unwrap_or_default()
    }
}

/// Where the latest panic came from.
static PANICKED_AT: Mutex<Option<String>> = Mutex::new(None);

/// Lets all scripts of this call do so much.
///
/// # Errors
/// The root is no folder.
pub(crate) fn allow(allowed: Allowed) -> Result<(), Failure> {
    if let Some(root) = allowed.root.as_ref().filter(|root| !root.is_dir()) {
        return Err(Failure::input(format!("--root {}: must be a folder", root.display())));
    }
    // The first call counts; there is one.
    let _ = ALLOWED.set(allowed);
    Ok(())
}

/// Why a script did not come to its end, with its exit code.
pub(crate) fn script_failure(error: ScriptError) -> Failure {
    match error.kind {
        ErrorKind::Ours => Failure::ours(error),
        ErrorKind::Script | ErrorKind::Stopped => Failure::input(error),
    }
}

/// Keeps where a panic came from for the script that it ends; whether one is at work.
pub(crate) fn keep_panic(place: Option<String>) -> bool {
    let scripts_run = ALLOWED.get().is_some();
    if scripts_run {
        *locked(&PANICKED_AT) = place;
    }
    scripts_run
}

/// Most files of one script that are noted, and the longest path, bytes.
const MOST_NOTED: usize = 1000;
const LONGEST_NOTED: usize = 1000;

/// Reads files of the script's project, and shows how far a long work is when a person
/// watches.
pub(crate) struct TerminalHost {
    project: Result<Project, String>,
    /// What was told of each file that was asked for, in short; `None` where that is too much to
    /// be noted, or a file changed meanwhile.
    read: Mutex<Option<BTreeMap<String, String>>>,
    bar: Mutex<Option<ProgressBar>>,
}

impl TerminalHost {
    pub(crate) fn of_script(script: &Path) -> Self {
        let root = ALLOWED.get().and_then(|allowed| allowed.root.as_deref());
        let project = Project::of_script(script, root);
        Self { project, read: Mutex::new(Some(BTreeMap::new())), bar: Mutex::new(None) }
    }

    /// What has been asked for, by path, and what was told: a digest, or why nothing.
    pub(crate) fn read_so_far(&self) -> Option<BTreeMap<String, String>> {
        locked(&self.read).clone()
    }

    /// The same for one answer.
    pub(crate) fn told(answer: &Result<String, String>) -> String {
        match answer {
            Ok(text) => digest(text.as_bytes()),
            Err(error) => format!("refused, {}", digest(error.as_bytes())),
        }
    }
}

impl Host for TerminalHost {
    fn read_text(&self, path: &str) -> Result<String, String> {
        let answer = self.project.as_ref().map_err(Clone::clone)?.text(path);
        let told = Self::told(&answer);
        let mut read = locked(&self.read);
        if let Some(noted) = &mut *read {
            let fits = path.len() <= LONGEST_NOTED && noted.len() < MOST_NOTED;
            let before = fits.then(|| noted.insert(path.to_owned(), told.clone()));
            if before.is_none_or(|before| before.is_some_and(|before| before != told)) {
                *read = None;
            }
        }
        drop(read);
        answer
    }

    fn stopped(&self) -> bool {
        stop::requested().is_some()
    }

    fn limits(&self) -> Limits {
        ALLOWED.get().map_or_else(Limits::default, |allowed| allowed.limits)
    }

    fn invited(&self) -> Invited {
        Allowed::now().invited
    }

    fn bytes_in_use(&self) -> Option<usize> {
        Some(crate::ALLOCATOR.allocated())
    }

    fn panicked_at(&self) -> Option<String> {
        locked(&PANICKED_AT).clone()
    }

    fn progress(&self, what: &str, done: usize, all: usize) {
        if !std::io::stderr().is_terminal() {
            return;
        }
        // The end of a script's stages is not known beforehand.
        let stages = all == 0;
        let mut slot = locked(&self.bar);
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
