//! Scenes drawn from the whole ranges that the field table allows, not near the defaults:
//! whatever stands in a scene, nothing panics and everything ends within the limits that it
//! states.
//!
//! The usual tests draw a few dozen. The long form:
//!
//! ```text
//! DRYTURN_DRAWN=2000 DRYTURN_DRAWN_SEED=7 cargo test --release -p dryturn-rehearsal \
//!     --test drawn -- --ignored --nocapture
//! ```
//!
//! `DRYTURN_DRAWN` scenes are executed, and a quarter as many scanned and read;
//! `DRYTURN_DRAWN_ONE=n` repeats the one of that number.

/// One execution each, and what else the drive is asked.
#[path = "drawn/executed.rs"]
mod executed;
/// Values by the field table.
#[path = "drawn/fields.rs"]
mod fields;
/// One scan each, small, and its reading.
#[path = "drawn/scanned.rs"]
mod scanned;

use std::time::Instant;

use rayon::prelude::*;

/// A number from the environment.
fn asked(name: &str) -> Option<u64> {
    std::env::var(name).ok()?.parse().ok()
}

/// How many scenes, and their seed.
fn long_form() -> (u64, u64) {
    (asked("DRYTURN_DRAWN").unwrap_or(2000), asked("DRYTURN_DRAWN_SEED").unwrap_or(1))
}

/// Runs something for each number below `count`, side by side where each keeps to one thread,
/// tells the slowest of them, and gives all results with their seconds.
fn timed<T: Send>(
    (what, count): (&str, u64),
    side_by_side: bool,
    of: impl Fn(u64) -> T + Sync,
) -> Vec<(f64, T)> {
    let numbers = match asked("DRYTURN_DRAWN_ONE") {
        Some(one) => one..one + 1,
        None => 0..count,
    };
    let one = |number| {
        let begun = Instant::now();
        let result = of(number);
        (begun.elapsed().as_secs_f64(), number, result)
    };
    let all: Vec<(f64, u64, T)> = if side_by_side {
        numbers.into_par_iter().map(one).collect()
    } else {
        numbers.map(one).collect()
    };
    let mut slowest: Vec<(f64, u64)> = all.iter().map(|(s, number, _)| (*s, *number)).collect();
    slowest.sort_by(|a, b| b.0.total_cmp(&a.0));
    slowest.truncate(3);
    println!("{what}: slowest (seconds, number) {slowest:.2?}");
    all.into_iter().map(|(seconds, _, result)| (seconds, result)).collect()
}
