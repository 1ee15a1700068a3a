//! Ctrl-C and SIGTERM: the first asks the work to end with what it has, the second ends the
//! program at once.

use std::io;
use std::sync::atomic::{AtomicUsize, Ordering};
use std::sync::{Arc, LazyLock};

use signal_hook::consts::{SIGINT, SIGTERM};
use signal_hook::flag;

/// The signal that has arrived, 0 for none.
static ARRIVED: LazyLock<Arc<AtomicUsize>> = LazyLock::new(Arc::default);

/// A person or a system wants the program to end.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Signal {
    /// Ctrl-C.
    Interrupt,
    /// SIGTERM, as batch systems and CI send it.
    Terminate,
}

impl Signal {
    /// 128 and the signal's number, as shells count.
    pub(crate) fn exit_code(self) -> u8 {
        match self {
            Self::Interrupt => 130,
            Self::Terminate => 143,
        }
    }
}

/// Listens from now on.
///
/// # Errors
/// The system refuses to.
pub(crate) fn listen() -> io::Result<()> {
    let second = Arc::new(std::sync::atomic::AtomicBool::new(false));
    for (signal, said) in [(SIGINT, Signal::Interrupt), (SIGTERM, Signal::Terminate)] {
        // In this order: the first signal finds the flag still down.
        flag::register_conditional_shutdown(signal, said.exit_code().into(), second.clone())?;
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
        _ => Some(Signal::Interrupt),
    }
}
