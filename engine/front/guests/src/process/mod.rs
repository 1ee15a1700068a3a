//! A guest's process: its pipes, its group, its end.
//!
//! Nothing here has a thread. Whoever asks waits for the pipes himself, with a limit, and asks
//! now and then whether the work shall stop; so a guest that floods a pipe is held back by the
//! pipe, and memory holds a line at most.

#[cfg(unix)]
mod group;
#[cfg(unix)]
mod pipes;
#[cfg(unix)]
mod running;
#[cfg(unix)]
mod tail;

#[cfg(not(unix))]
mod elsewhere;

#[cfg(not(unix))]
pub(crate) use elsewhere::Process;
#[cfg(not(unix))]
pub use elsewhere::end_all;
#[cfg(unix)]
pub use group::end_all;
#[cfg(unix)]
pub(crate) use running::Process;

/// Most bytes of a line, its end included.
pub(crate) const LONGEST_LINE: usize = 1 << 20;

/// What a question waits for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Wanted {
    /// A line.
    Line,
    /// So many bytes.
    Bytes(usize),
}
