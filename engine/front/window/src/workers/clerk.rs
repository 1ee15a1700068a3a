//! Runs scripts off the main thread: one at a time, and it can be stopped.

use std::path::Path;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::mpsc::{Receiver, TryRecvError, channel};
use std::sync::{Arc, Mutex};
use std::thread;

use dryturn_console::{Project, locked};
use dryturn_record::Record;
use dryturn_script::{Host, ScriptError};
use dryturn_units::noise::Seed;

/// Stack of the thread: nested values of a script are dropped recursively.
const STACK_BYTES: usize = 256 << 20;

/// What the script thread and the window share.
struct Desk {
    project: Result<Project, String>,
    stop: AtomicBool,
    done: AtomicUsize,
    all: AtomicUsize,
    what: Mutex<String>,
    wake: Box<dyn Fn() + Send + Sync>,
}

impl Host for Desk {
    fn read_text(&self, path: &str) -> Result<String, String> {
        self.project.as_ref().map_err(Clone::clone)?.text(path)
    }

    fn progress(&self, what: &str, done: usize, all: usize) {
        what.clone_into(&mut locked(&self.what));
        self.done.store(done, Ordering::Relaxed);
        self.all.store(all, Ordering::Relaxed);
        (self.wake)();
    }

    fn stopped(&self) -> bool {
        self.stop.load(Ordering::Relaxed)
    }
}

/// A script on its way.
pub(crate) struct Clerk {
    desk: Arc<Desk>,
    result: Mutex<Receiver<Result<Record, ScriptError>>>,
}

/// What became of it.
pub(crate) enum News {
    /// Still at work: what, done and all.
    Working(String, usize, usize),
    /// Ended.
    Ended(Result<Record, ScriptError>),
}

impl Clerk {
    /// Starts a script's text; `path` is where it lies.
    pub(crate) fn start(
        path: &Path,
        text: String,
        seed: Seed,
        wake: impl Fn() + Send + Sync + 'static,
    ) -> std::io::Result<Self> {
        let desk = Arc::new(Desk {
            project: Project::of_script(path, None),
            stop: AtomicBool::new(false),
            done: AtomicUsize::new(0),
            all: AtomicUsize::new(0),
            what: Mutex::default(),
            wake: Box::new(wake),
        });
        let (out, result) = channel();
        let (host, name) = (desk.clone(), path.display().to_string());
        thread::Builder::new().name("clerk".to_owned()).stack_size(STACK_BYTES).spawn(
            move || {
                let ended = dryturn_script::run(&name, &text, seed, host.clone());
                // A window that has closed does not want to know.
                let _ = out.send(ended);
                (host.wake)();
            },
        )?;
        Ok(Self { desk, result: Mutex::new(result) })
    }

    /// Asks it to stop; it does at the next verb or trial.
    pub(crate) fn stop(&self) {
        self.desk.stop.store(true, Ordering::Relaxed);
    }

    /// How it stands.
    pub(crate) fn news(&self) -> News {
        let result = locked(&self.result);
        match result.try_recv() {
            Ok(ended) => News::Ended(ended),
            Err(TryRecvError::Empty) => {
                let what = locked(&self.desk.what).clone();
                let done = self.desk.done.load(Ordering::Relaxed);
                News::Working(what, done, self.desk.all.load(Ordering::Relaxed))
            }
            Err(TryRecvError::Disconnected) => News::Ended(Err(ScriptError::ours(
                "script",
                "this is our fault: the script's thread broke down".to_owned(),
            ))),
        }
    }
}
