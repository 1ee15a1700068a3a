//! A process that leads a group of its own, with all that it starts.
//!
//! A group is ended before its leader is waited for: as long as the leader has not been waited
//! for, its number, which is the group's, belongs to nobody else.

use std::collections::BTreeMap;
use std::io;
use std::os::unix::process::CommandExt as _;
use std::path::{Path, PathBuf};
use std::process::{Child, Command};
use std::sync::{Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant};

use rustix::process::{Pid, Signal, WaitId, WaitIdOptions, kill_process_group, waitid};

use crate::fault::FaultKind;

/// Groups that have been started and not ended, by their leaders' numbers, with their folders.
static LIVE: Mutex<BTreeMap<u32, PathBuf>> = Mutex::new(BTreeMap::new());

fn live() -> MutexGuard<'static, BTreeMap<u32, PathBuf>> {
    LIVE.lock().unwrap_or_else(PoisonError::into_inner)
}

/// Ends all guests that still run, at once and without a word: for a program that ends without
/// ending its work. Whoever drops a guest ends it.
pub fn end_all() {
    for (&leader, folder) in live().iter() {
        // What has ended by itself is as it should be.
        if let Some(pid) = i32::try_from(leader).ok().and_then(Pid::from_raw) {
            let _ = kill_process_group(pid, Signal::KILL);
        }
        let _ = std::fs::remove_dir_all(folder);
    }
}

/// A running leader.
pub(super) struct Group {
    leader: Child,
    ended: bool,
}

impl Group {
    /// Starts a command as the leader of a group of its own; `folder` goes with it.
    pub(super) fn start(command: &mut Command, folder: &Path) -> io::Result<Self> {
        // Under the lock: what is started is known to `end_all`.
        let mut live = live();
        let leader = command.process_group(0).spawn()?;
        live.insert(leader.id(), folder.to_owned());
        Ok(Self { leader, ended: false })
    }

    pub(super) fn leader(&mut self) -> &mut Child {
        &mut self.leader
    }

    fn pid(&self) -> Pid {
        Pid::from_child(&self.leader)
    }

    /// Whether the leader has ended, and how; it stays to be waited for.
    pub(super) fn exited(&self) -> Option<FaultKind> {
        let options = WaitIdOptions::EXITED | WaitIdOptions::NOHANG | WaitIdOptions::NOWAIT;
        let status = waitid(WaitId::Pid(self.pid()), options).ok()??;
        let signal = status.terminating_signal();
        Some(FaultKind::Exited { code: status.exit_status(), signal })
    }

    /// Whether the leader ends within a time; `meanwhile` is done again and again.
    pub(super) fn ends_within(&self, time: Duration, mut meanwhile: impl FnMut()) -> bool {
        let until = Instant::now() + time;
        let mut pause = Duration::from_micros(200);
        loop {
            meanwhile();
            if self.exited().is_some() {
                return true;
            }
            let left = until.saturating_duration_since(Instant::now());
            if left.is_zero() {
                return false;
            }
            std::thread::sleep(pause.min(left));
            pause = (pause * 2).min(Duration::from_millis(10));
        }
    }

    /// Asks all of the group to end.
    pub(super) fn ask_to_end(&self) {
        let _ = kill_process_group(self.pid(), Signal::TERM);
    }

    /// Ends all of the group, and waits for the leader.
    pub(super) fn end(&mut self) {
        if self.ended {
            return;
        }
        self.ended = true;
        let _ = kill_process_group(self.pid(), Signal::KILL);
        live().remove(&self.leader.id());
        let _ = self.leader.wait();
    }
}

impl Drop for Group {
    fn drop(&mut self) {
        self.end();
    }
}
