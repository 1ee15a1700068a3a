//! A running guest.

use std::path::Path;
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use dryturn_units::stop;
use tempfile::TempDir;

use super::group::Group;
use super::pipes::{Pipes, Said};
use super::{LONGEST_LINE, Wanted};
use crate::command::GuestCommand;
use crate::fault::FaultKind;
use crate::visible::visible_bytes;

/// So often somebody who waits looks whether the work shall stop, or the guest has ended.
const LOOK: Duration = Duration::from_millis(50);
/// So long a guest that closed a pipe may take to end, for its end to be the reason.
const LAST_BREATH: Duration = Duration::from_millis(300);
/// So long a guest may take to end once it has been asked to.
const PATIENCE: Duration = Duration::from_millis(150);
/// Longest output that is shown.
const SHOWN: usize = 80;

/// A guest's process. Dropped, it is ended with all that it has started.
pub(crate) struct Process {
    group: Group,
    pipes: Pipes,
    /// How long the answer in `pipes.out` is, its line end included.
    answer_bytes: usize,
    /// Bytes of it that have been looked at for a line end.
    looked_at: usize,
    ended: bool,
    // The last field: it goes when the process has ended.
    folder: TempDir,
}

impl Process {
    /// Starts it in a group of its own, with a private folder for what is handed to it.
    pub(crate) fn start(command: &GuestCommand) -> Result<Self, FaultKind> {
        let not_started = |error: std::io::Error| FaultKind::NotStarted { why: error.to_string() };
        let folder =
            tempfile::Builder::new().prefix("dryturn-guest-").tempdir().map_err(not_started)?;
        let (program, arguments) =
            command.words().split_first().map_or(("", &[][..]), |(p, a)| (p, a));
        let mut starts = Command::new(program);
        starts.args(arguments);
        starts.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
        let named = |error| FaultKind::NotStarted { why: format!("{program:?}: {error}") };
        let mut group = Group::start(&mut starts, folder.path()).map_err(named)?;
        let pipes = Pipes::of(group.leader()).map_err(not_started)?;
        Ok(Self { group, pipes, answer_bytes: 0, looked_at: 0, ended: false, folder })
    }

    /// A folder that only this user can look into; it goes when the guest does.
    pub(crate) fn folder(&self) -> &Path {
        self.folder.path()
    }

    /// Writes a question and waits for its answer.
    pub(crate) fn ask(
        &mut self,
        question: &[u8],
        wanted: Wanted,
        limit: Duration,
    ) -> Result<(), FaultKind> {
        self.take_answer()?;
        let until = Instant::now() + limit;
        let mut left = question;
        loop {
            if !left.is_empty() {
                match self.pipes.write(left) {
                    Said::Some(count) => left = &left[count..],
                    Said::Nothing => {}
                    Said::Closed => return Err(self.gone(FaultKind::ClosedInput)),
                }
            }
            if (left.is_empty() || !self.pipes.out.is_empty())
                && let Some(bytes) = self.has(wanted)?
            {
                // An answer to half a question is none.
                let whole = left.is_empty() && bytes == self.pipes.out.len();
                self.answer_bytes = bytes;
                return if whole { Ok(()) } else { Err(self.unasked()) };
            }
            let now = Instant::now();
            if now >= until {
                return Err(late(left.is_empty(), self.pipes.out.len(), limit));
            }
            let writes = !left.is_empty();
            if self.pipes.wait(writes, until.min(now + LOOK)) {
                if self.pipes.read_out() == Said::Closed {
                    return Err(self.gone(FaultKind::ClosedOutput));
                }
            } else {
                stop::checkpoint();
                if now.elapsed() >= LOOK
                    && let Some(end) = self.group.exited()
                {
                    return Err(end);
                }
            }
        }
    }

    /// The answer to the last question; a line without its end.
    pub(crate) fn answer(&self) -> &[u8] {
        let answer = &self.pipes.out[..self.answer_bytes];
        answer.strip_suffix(b"\n").unwrap_or(answer)
    }

    /// How long the answer is, where it is there.
    fn has(&mut self, wanted: Wanted) -> Result<Option<usize>, FaultKind> {
        let out = &self.pipes.out;
        match wanted {
            Wanted::Bytes(count) => Ok((out.len() >= count).then_some(count)),
            Wanted::Line => {
                let end = out[self.looked_at..].iter().position(|&byte| byte == b'\n');
                let bytes = end.map_or(out.len(), |end| self.looked_at + end + 1);
                if bytes > LONGEST_LINE {
                    return Err(FaultKind::TooLong { most_bytes: LONGEST_LINE as u64 });
                }
                self.looked_at = out.len();
                Ok(end.map(|_| bytes))
            }
        }
    }

    /// Forgets the last answer.
    fn take_answer(&mut self) -> Result<(), FaultKind> {
        self.pipes.out.drain(..self.answer_bytes);
        (self.answer_bytes, self.looked_at) = (0, 0);
        if self.pipes.out.is_empty() { Ok(()) } else { Err(self.unasked()) }
    }

    fn unasked(&self) -> FaultKind {
        let more = &self.pipes.out[self.answer_bytes..];
        let shown = if more.is_empty() { &self.pipes.out[..] } else { more };
        FaultKind::Unasked { output: visible_bytes(shown.trim_ascii_end(), SHOWN) }
    }

    /// Sees to it that it has written nothing since its last answer.
    pub(crate) fn said_nothing(&mut self) -> Result<(), FaultKind> {
        self.take_answer()?;
        match self.pipes.read_out() {
            Said::Some(_) => Err(self.unasked()),
            Said::Nothing => Ok(()),
            Said::Closed => Err(self.gone(FaultKind::ClosedOutput)),
        }
    }

    /// Why it can no longer be talked to: its end, where it ends, else `otherwise`.
    fn gone(&mut self, otherwise: FaultKind) -> FaultKind {
        let Self { group, pipes, .. } = self;
        let ends = group.ends_within(LAST_BREATH, || pipes.listen());
        if ends { group.exited().unwrap_or(otherwise) } else { otherwise }
    }

    /// Closes its standard input and waits until it has ended by itself; what it writes by then
    /// is nobody's.
    pub(crate) fn leave(&mut self, limit: Duration) -> Result<(), FaultKind> {
        self.pipes.close();
        let Self { group, pipes, .. } = self;
        let ends = group.ends_within(limit, || {
            pipes.listen();
            pipes.read_out();
            pipes.out.clear();
            stop::checkpoint();
        });
        self.answer_bytes = 0;
        self.end();
        if ends { Ok(()) } else { Err(FaultKind::StaysOn { limit_ms: limit.as_millis() as u64 }) }
    }

    /// Ends it and all that it has started: asks, waits a little, then ends.
    pub(crate) fn end(&mut self) {
        if self.ended {
            return;
        }
        self.ended = true;
        self.pipes.close();
        self.group.ask_to_end();
        let Self { group, pipes, .. } = self;
        group.ends_within(PATIENCE, || pipes.listen());
        group.end();
        self.pipes.last_words();
    }

    /// The last lines of its standard error.
    pub(crate) fn stderr_tail(&mut self) -> Vec<String> {
        self.pipes.last_words();
        self.pipes.tail.lines()
    }
}

impl Drop for Process {
    fn drop(&mut self) {
        self.end();
    }
}

fn late(taken: bool, begun: usize, limit: Duration) -> FaultKind {
    let limit_ms = limit.as_millis() as u64;
    if taken {
        FaultKind::TooLate { limit_ms, begun_bytes: begun as u64 }
    } else {
        FaultKind::NotTaken { limit_ms }
    }
}
