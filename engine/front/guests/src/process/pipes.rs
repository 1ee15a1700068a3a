//! The three pipes to a guest, which nobody waits on without a limit.

use std::io;
use std::os::fd::AsFd;
use std::process::{Child, ChildStderr, ChildStdin, ChildStdout};
use std::time::{Duration, Instant};

use rustix::buffer::spare_capacity;
use rustix::event::{PollFd, PollFlags, Timespec, poll};
use rustix::io::{Errno, ioctl_fionbio, read, write};

use super::tail::Tail;

/// Bytes that are read at once.
const PIECE: usize = 64 << 10;
/// Most bytes of standard error that are read when a guest has ended.
const LAST_WORDS: usize = 1 << 20;

/// What a pipe says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Said {
    /// So much was read or written.
    Some(usize),
    /// Nothing can be at the moment.
    Nothing,
    /// It is closed.
    Closed,
}

fn said(result: Result<usize, Errno>) -> Said {
    match result {
        Ok(0) => Said::Closed,
        Ok(count) => Said::Some(count),
        Err(Errno::AGAIN | Errno::INTR) => Said::Nothing,
        Err(_) => Said::Closed,
    }
}

pub(super) struct Pipes {
    stdin: Option<ChildStdin>,
    stdout: ChildStdout,
    stderr: Option<ChildStderr>,
    /// What came of standard output and has not been taken.
    pub(super) out: Vec<u8>,
    pub(super) tail: Tail,
}

impl Pipes {
    /// Of a child whose three pipes have not been taken.
    pub(super) fn of(child: &mut Child) -> io::Result<Self> {
        let (Some(stdin), Some(stdout), Some(stderr)) =
            (child.stdin.take(), child.stdout.take(), child.stderr.take())
        else {
            return Err(io::Error::other("a pipe is missing"));
        };
        ioctl_fionbio(&stdin, true)?;
        ioctl_fionbio(&stdout, true)?;
        ioctl_fionbio(&stderr, true)?;
        let (out, tail) = (Vec::new(), Tail::default());
        Ok(Self { stdin: Some(stdin), stdout, stderr: Some(stderr), out, tail })
    }

    /// Writes what the pipe takes at once.
    pub(super) fn write(&self, bytes: &[u8]) -> Said {
        match &self.stdin {
            Some(stdin) => said(write(stdin, bytes)),
            None => Said::Closed,
        }
    }

    /// Closes the guest's standard input.
    pub(super) fn close(&mut self) {
        self.stdin = None;
    }

    /// Reads a piece of standard output, where there is any.
    pub(super) fn read_out(&mut self) -> Said {
        self.out.reserve(PIECE);
        said(read(&self.stdout, spare_capacity(&mut self.out)))
    }

    /// Reads what there is of standard error, a piece at most.
    pub(super) fn read_err(&mut self) -> Said {
        let Some(stderr) = &self.stderr else { return Said::Closed };
        let mut piece = [0; PIECE];
        let said = said(read(stderr, &mut piece[..]));
        match said {
            Said::Some(count) => self.tail.put(&piece[..count]),
            Said::Closed => self.stderr = None,
            Said::Nothing => {}
        }
        said
    }

    /// Reads what there is of standard error, so that nobody waits to write it.
    pub(super) fn listen(&mut self) {
        let _ = self.read_err();
    }

    /// Reads what there is left of standard error.
    pub(super) fn last_words(&mut self) {
        let mut room = LAST_WORDS;
        while let Said::Some(count) = self.read_err()
            && count < room
        {
            room -= count;
        }
    }

    /// Waits until something can be read, or written where `writes`, at most until `until`.
    /// Reads standard error; says whether standard output may be read.
    pub(super) fn wait(&mut self, writes: bool, until: Instant) -> bool {
        let left = until.saturating_duration_since(Instant::now());
        let (out_ready, err_ready) = {
            let mut fds = Vec::with_capacity(3);
            fds.push(PollFd::from_borrowed_fd(self.stdout.as_fd(), PollFlags::IN));
            if let Some(stderr) = &self.stderr {
                fds.push(PollFd::from_borrowed_fd(stderr.as_fd(), PollFlags::IN));
            }
            if let (Some(stdin), true) = (&self.stdin, writes) {
                fds.push(PollFd::from_borrowed_fd(stdin.as_fd(), PollFlags::OUT));
            }
            // Interrupted: whoever waits looks again.
            let _ = poll(&mut fds, Some(&timespec(left)));
            let ready = |fd: &PollFd<'_>| !fd.revents().is_empty();
            (ready(&fds[0]), self.stderr.is_some() && ready(&fds[1]))
        };
        if err_ready {
            self.read_err();
        }
        out_ready
    }
}

fn timespec(time: Duration) -> Timespec {
    // A limit is minutes at most.
    let tv_sec = i64::try_from(time.as_secs()).unwrap_or(i64::MAX);
    Timespec { tv_sec, tv_nsec: time.subsec_nanos().into() }
}
