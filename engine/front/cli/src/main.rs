//! The program `dryturn`: flags → request → call → exit code.
//!
//! Exit codes: 0 every expectation held; 1 an expectation failed, or a reading
//! was refused; 2 bad input or usage; 3 our fault; 130 and 143 ended by Ctrl-C and SIGTERM.

mod args;
mod commands;
mod failure;
mod host;
mod input;
mod output;
mod resume;
mod say;
mod shared;
mod stop;

use std::alloc::System;
use std::num::NonZero;
use std::process::ExitCode;
use std::sync::Once;
use std::sync::mpsc::{RecvTimeoutError, channel};
use std::time::{Duration, Instant};

use cap::Cap;
use clap::error::ErrorKind;
use dryturn_record::documents::{Document, ErrorDocument, Issued};

use crate::args::Args;
use crate::failure::Failure;

/// The system's allocator, counted: what scripts may use up is told by it.
#[global_allocator]
static ALLOCATOR: Cap<System> = Cap::new(System, usize::MAX);

/// Stack of the thread that does the work: deeply nested values of a script are
/// printed and dropped recursively. Only what is used takes memory.
const STACK_BYTES: usize = 512 << 20;

/// So often the main thread looks whether somebody wants the program to end.
const LOOK: Duration = Duration::from_millis(50);

fn main() -> ExitCode {
    // A panic is a bug: one line, code 3, no trace in a user's face.
    std::panic::set_hook(Box::new(|info| {
        static FIRST: Once = Once::new();
        // A script that panics says so itself.
        if host::keep_panic(info.location().map(ToString::to_string)) {
            return;
        }
        let place = info.location().map_or_else(String::new, |at| format!(" at {at}"));
        let what = info.payload_as_str().unwrap_or("no message");
        FIRST.call_once(|| say::message(&format!("dryturn: this is our fault{place}: {what}")));
    }));
    if let Err(error) = stop::listen() {
        say::message(&format!("dryturn: cannot listen for signals: {error}"));
    }
    let args = match args::parse() {
        Ok(args) => args,
        Err(error) => return usage(&error),
    };
    let json = args.wants_json();
    let (done, ended) = channel::<()>();
    let work = std::thread::Builder::new().stack_size(STACK_BYTES).spawn(move || {
        // Dropped when the work ends, however it ends.
        let _done = done;
        run(args)
    });
    let outcome = match work {
        Ok(thread) => {
            let mut asked: Option<Instant> = None;
            while ended.recv_timeout(LOOK) == Err(RecvTimeoutError::Timeout) {
                let Some(signal) = stop::requested() else { continue };
                if asked.get_or_insert_with(Instant::now).elapsed() > stop::patience() {
                    return end_now(signal, json);
                }
            }
            thread.join()
        }
        Err(error) => Ok(Err(Failure::input(format!("cannot start a thread: {error}")))),
    };
    ExitCode::from(match outcome {
        Ok(Ok(code)) => code,
        Ok(Err(failure)) => {
            say::failure(&failure);
            fail_in_json(json, &failure.to_string(), failure.exit_code());
            failure.exit_code()
        }
        Err(_) => {
            fail_in_json(json, "this is our fault", 3);
            3
        }
    })
}

/// Ends a work that does not end by itself: what is just being put in place is, nothing else
/// is left.
fn end_now(signal: stop::Signal, json: bool) -> ExitCode {
    output::abandon();
    // Its thread goes on until the program has ended, and lets go of nothing.
    dryturn_guests::end_all();
    let failure = Failure::Stopped(signal, "what was not finished is not kept".to_owned());
    say::failure(&failure);
    match stop::so_far().filter(|_| json) {
        Some(mut document) => {
            document.exit_code = failure.exit_code();
            document.error = Some(failure.to_string());
            let _ = say::document(&Issued::from(Document::Rehearse(document)));
        }
        None => fail_in_json(json, &failure.to_string(), failure.exit_code()),
    }
    ExitCode::from(failure.exit_code())
}

/// Who asked for JSON gets it on failure too.
fn fail_in_json(wanted: bool, error: &str, code: u8) {
    if wanted {
        // Stdout itself may be what failed.
        let _ = say::document(&ErrorDocument { error: error.to_owned(), exit_code: code });
    }
}

/// Help and version as asked for; a wrong call in one line.
fn usage(error: &clap::Error) -> ExitCode {
    let message = match error.kind() {
        ErrorKind::DisplayHelpOnMissingArgumentOrSubcommand => {
            Some(format!("a command is missing: {}; see --help", args::commands()))
        }
        _ => args::renamed(error).or_else(|| dryturn_console::usage_line(error)),
    };
    let Some(message) = message else {
        let _ = error.print();
        return ExitCode::SUCCESS;
    };
    say::message(&format!("dryturn: {message}"));
    fail_in_json(std::env::args_os().any(|arg| arg == "--json"), &message, 2);
    ExitCode::from(2)
}

/// What a thread may work on at once, and what the allocator keeps for it.
const THREAD_BYTES: usize = 30_000_000;

/// As many threads as are wanted, 0 for all cores, if scripts have the memory for them.
fn threads_within(wanted: usize, memory_bytes: usize) -> usize {
    let cores = || std::thread::available_parallelism().map_or(1, NonZero::get);
    let wanted = if wanted == 0 { cores() } else { wanted };
    wanted.min((memory_bytes / THREAD_BYTES).max(1))
}

fn run(args: Args) -> Result<u8, Failure> {
    let threads = match args.script_memory() {
        Some(bytes) => threads_within(args.threads(), bytes),
        None => args.threads(),
    };
    rayon::ThreadPoolBuilder::new().num_threads(threads).build_global().map_err(|error| {
        Failure::input(format!("cannot start the worker threads (--threads): {error}"))
    })?;
    args.run()
}
