//! The program `dryturn`: flags → request → call → exit code.
//!
//! Exit codes: 0 every expectation held; 1 an expectation failed, or a reading
//! was refused; 2 bad input or usage; 3 our fault.

mod args;
mod commands;
mod failure;
mod host;
mod input;
mod output;
mod say;

use std::process::ExitCode;

use clap::Parser;

use crate::args::{Args, Request};
use crate::failure::Failure;

fn main() -> ExitCode {
    // A panic is a bug: one line, code 3, no trace in a user's face.
    std::panic::set_hook(Box::new(|info| {
        let place = info.location().map_or_else(String::new, |at| format!(" at {at}"));
        let what = info.payload_as_str().unwrap_or("no message");
        say::message(&format!("dryturn: this is our fault{place}: {what}"));
    }));
    let args = Args::parse();
    let outcome = std::panic::catch_unwind(|| run(args));
    ExitCode::from(match outcome {
        Ok(Ok(code)) => code,
        Ok(Err(failure)) => {
            say::message(&format!("dryturn: {failure}"));
            failure.exit_code()
        }
        Err(_) => 3,
    })
}

fn run(args: Args) -> Result<u8, Failure> {
    let (request, shared) = args.resolve();
    let pool = rayon::ThreadPoolBuilder::new()
        .num_threads(shared.threads)
        .build()
        .map_err(|error| Failure::ours(format!("no threads: {error}")))?;
    pool.install(|| match request {
        Request::Rehearse { scripts } => commands::rehearse::run(&scripts, &shared),
        Request::Read(read) => commands::read::run(&read, &shared),
        Request::Plan { cube, nodes } => commands::plan::run(&cube, nodes, &shared),
        Request::Check { files } => commands::check::run(&files, &shared),
    })
}
