//! A program's end, with its time and its highest memory.

use std::io::Read;
use std::process::{Command, Stdio};
use std::thread;
use std::time::{Duration, Instant};

/// How a program ended.
pub(crate) struct End {
    /// `None` by a signal.
    pub(crate) code: Option<i32>,
    pub(crate) stdout: String,
    pub(crate) stderr: String,
    pub(crate) wall_s: f64,
    /// Most memory that it had resident, thousands of 1024 bytes; 0 where the system does not
    /// tell.
    pub(crate) peak_kb: u64,
}

/// What the system says of the most that a process has had resident.
fn peak_kb(process: u32) -> Option<u64> {
    let status = std::fs::read_to_string(format!("/proc/{process}/status")).ok()?;
    let line = status.lines().find(|line| line.starts_with("VmHWM:"))?;
    line.split_whitespace().nth(1)?.parse().ok()
}

/// Runs a program to its end, and looks every other millisecond.
pub(crate) fn measured(mut command: Command) -> End {
    let started = Instant::now();
    let mut child =
        command.stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    fn drain(mut from: impl Read + Send + 'static) -> thread::JoinHandle<String> {
        thread::spawn(move || {
            let mut bytes = Vec::new();
            from.read_to_end(&mut bytes).unwrap();
            String::from_utf8_lossy(&bytes).into_owned()
        })
    }
    let stdout = drain(child.stdout.take().unwrap());
    let stderr = drain(child.stderr.take().unwrap());
    let mut highest = 0;
    let status = loop {
        highest = highest.max(peak_kb(child.id()).unwrap_or(0));
        if let Some(status) = child.try_wait().unwrap() {
            break status;
        }
        thread::sleep(Duration::from_millis(2));
    };
    End {
        code: status.code(),
        stdout: stdout.join().unwrap(),
        stderr: stderr.join().unwrap(),
        wall_s: started.elapsed().as_secs_f64(),
        peak_kb: highest,
    }
}
