//! The window of Dryturn: the rig in 3D, what its cameras see, what was read and
//! planned, and what happened. The same scenes, scripts and engine as the
//! program `dryturn`; it only shows.
//!
//! Exit codes: 0 closed by the person, or the picture is written; 2 bad input,
//! no display or no graphics driver; 3 our fault.

mod args;
mod desk;
mod errands;
mod inspect;
mod offscreen;
mod shell;
mod ui;
mod view;
mod workers;

use std::process::ExitCode;
use std::sync::Once;
use std::sync::atomic::{AtomicU8, Ordering};

use clap::Parser;

use crate::args::Args;

/// What a panic comes to: 3, or 2 where a driver is missing.
static PANIC_CODE: AtomicU8 = AtomicU8::new(3);

const NO_DRIVER: &str = "no graphics driver was found: install a Vulkan driver (on Debian \
                         mesa-vulkan-drivers brings a software one)";

fn main() -> ExitCode {
    let args = match Args::try_parse() {
        Ok(args) => args,
        Err(error) => {
            let Some(line) = dryturn_console::usage_line(&error) else { error.exit() };
            eprintln!("dryturn-window: {line}");
            return ExitCode::from(2);
        }
    };
    let has_display =
        ["DISPLAY", "WAYLAND_DISPLAY"].iter().any(|name| std::env::var_os(name).is_some());
    if cfg!(target_os = "linux") && !has_display && args.picture.is_none() {
        eprintln!(
            "dryturn-window: no display: set DISPLAY, or draw a picture without one (--picture)"
        );
        return ExitCode::from(2);
    }
    // One line for a person; a panic is a bug, or the graphics library's way of
    // saying that there is no driver.
    std::panic::set_hook(Box::new(|info| {
        static FIRST: Once = Once::new();
        let what = info.payload_as_str().unwrap_or("no message").to_owned();
        let place = info.location().map_or_else(String::new, |at| format!(" at {at}"));
        FIRST.call_once(|| {
            if what.contains("GPU") || what.contains("adapter") {
                PANIC_CODE.store(2, Ordering::Relaxed);
                eprintln!("dryturn-window: {NO_DRIVER}");
            } else {
                let what = what.replace('\n', " ");
                eprintln!("dryturn-window: this is our fault{place}: {what}");
            }
        });
    }));
    match std::panic::catch_unwind(|| shell::run(args)) {
        Ok(Ok(code)) => code,
        Ok(Err(error)) => {
            eprintln!("dryturn-window: {error:#}");
            ExitCode::from(2)
        }
        Err(_) => ExitCode::from(PANIC_CODE.load(Ordering::Relaxed)),
    }
}
