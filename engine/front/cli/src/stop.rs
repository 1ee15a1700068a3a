//! Ctrl-C, SIGTERM, and a terminal that is closed: the first asks the work to end with what it has, the second ends the
//! program at once.

use core::fmt;
use std::io;
use std::ops::ControlFlow;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::sync::{Arc, LazyLock, Mutex};
use std::time::Duration;

use dryturn_console::locked;
use dryturn_record::documents::RehearseDocument;
#[cfg(unix)]
use signal_hook::consts::{SIGHUP, SIGQUIT};
use signal_hook::consts::{SIGINT, SIGTERM};

/// So long a work may take to end by itself once it has been asked to; and where it has begun to
/// write what there is. What takes longer is ended.
const PATIENCE: Duration = Duration::from_millis(1000);
const PATIENCE_WRITING: Duration = Duration::from_millis(1700);

/// Whether the work is writing what there is.
static WRITING: AtomicBool = AtomicBool::new(false);

/// What there is of an ended work is being written.
pub(crate) fn writing() {
    WRITING.store(true, Ordering::Relaxed);
}

/// How long to wait for the work to end by itself.
pub(crate) fn patience() -> Duration {
    if WRITING.load(Ordering::Relaxed) { PATIENCE_WRITING } else { PATIENCE }
}

/// The signal that has arrived, 0 for none.
static ARRIVED: LazyLock<Arc<AtomicUsize>> = LazyLock::new(Arc::default);

/// A person or a system wants the program to end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Signal {
    /// Ctrl-C.
    Interrupt,
    /// SIGTERM, as batch systems and CI send it.
    Terminate,
    /// SIGHUP: the terminal was closed.
    HangUp,
    /// SIGQUIT.
    Quit,
}

impl Signal {
    /// 128 and the signal's number, as shells count.
    pub(crate) fn exit_code(self) -> u8 {
        match self {
            Self::Interrupt => 130,
            Self::Terminate => 143,
            Self::HangUp => 129,
            Self::Quit => 131,
        }
    }
}

/// What a person calls it.
impl fmt::Display for Signal {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(match self {
            Self::Interrupt => "SIGINT (Ctrl-C)",
            Self::Terminate => "SIGTERM",
            Self::HangUp => "SIGHUP (the terminal was closed)",
            Self::Quit => "SIGQUIT",
        })
    }
}

/// A signal that comes so soon after the first is the same one: `timeout` and shells send it to
/// the program and to its group.
#[cfg(unix)]
const SAME: Duration = Duration::from_millis(250);

/// Listens from now on: the first signal is remembered, a second one ends the program.
///
/// # Errors
/// The system refuses to.
#[cfg(unix)]
pub(crate) fn listen() -> io::Result<()> {
    use std::time::Instant;

    use signal_hook::iterator::Signals;
    use signal_hook::low_level;

    let mut signals = Signals::new([SIGINT, SIGTERM, SIGHUP, SIGQUIT])?;
    std::thread::Builder::new().name("signals".to_owned()).spawn(move || {
        let mut first: Option<Instant> = None;
        for signal in signals.forever() {
            match first {
                None => {
                    first = Some(Instant::now());
                    ARRIVED.store(signal as usize, Ordering::Relaxed);
                }
                Some(at) if at.elapsed() < SAME => {}
                Some(_) => {
                    dryturn_guests::end_all();
                    low_level::exit(128 + signal)
                }
            }
        }
    })?;
    Ok(())
}

/// Listens from now on: the first signal is remembered, a second one ends the program.
///
/// # Errors
/// The system refuses to.
#[cfg(not(unix))]
pub(crate) fn listen() -> io::Result<()> {
    use signal_hook::flag;

    let second = Arc::new(std::sync::atomic::AtomicBool::new(false));
    for signal in [SIGINT, SIGTERM] {
        // In this order: the first signal finds the flag still down.
        flag::register_conditional_shutdown(signal, 128 + signal, second.clone())?;
        flag::register(signal, second.clone())?;
        flag::register_usize(signal, ARRIVED.clone(), signal as usize)?;
    }
    Ok(())
}

/// The signal that has arrived, if any.
pub(crate) fn requested() -> Option<Signal> {
    match ARRIVED.load(Ordering::Relaxed) as i32 {
        0 => None,
        SIGTERM => Some(Signal::Terminate),
        #[cfg(unix)]
        SIGHUP => Some(Signal::HangUp),
        #[cfg(unix)]
        SIGQUIT => Some(Signal::Quit),
        _ => Some(Signal::Interrupt),
    }
}

/// For works that are told at every step whether to go on.
pub(crate) fn go_on() -> ControlFlow<()> {
    if requested().is_some() { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
}

/// What `--json` says if the program must be ended in the middle of a work.
static SO_FAR: Mutex<Option<RehearseDocument>> = Mutex::new(None);

/// Takes down what has been done so far, for [`so_far`].
pub(crate) fn done_so_far(document: RehearseDocument) {
    *locked(&SO_FAR) = Some(document);
}

/// What has been done so far, if that was taken down.
pub(crate) fn so_far() -> Option<RehearseDocument> {
    locked(&SO_FAR).take()
}
