//! Scripts: Rhai with verbs for every stage of a rehearsal and for the whole
//! pass, and expectations that are collected and reported.
//!
//! A script has no clock, no files of its own and no platform maths; it reads
//! scenes through what the caller gives it and leaves everything in a
//! [`Record`](dryturn_record::Record). It ends after a fixed number of
//! operations.
//!
//! ```
//! use dryturn_script::{Host, run};
//! use dryturn_units::noise::Seed;
//!
//! struct NoFiles;
//! impl Host for NoFiles {
//!     fn read_text(&self, path: &str) -> Result<String, String> {
//!         Err(format!("{path}: no such file"))
//!     }
//!     fn progress(&self, _: &str, _: usize, _: usize) {}
//! }
//!
//! let text = r#"
//!     let cube = cube_after("R U R' U'");
//!     expect_at_most(plan(cube).turns, 4, "four turns undo four turns");
//! "#;
//! let record = run("four.rhai", text, Seed::new(1), std::sync::Arc::new(NoFiles)).unwrap();
//! assert_eq!(record.failed(), 0);
//! ```

mod described;
mod run;
mod session;
mod values;
mod verbs;

pub use described::{definitions, example_names, names_used_by, verb_reference, verbs};
pub use run::{
    ErrorKind, Foreseen, ScriptError, check, foresee, renamed, run, run_kept, run_with,
    within_limits,
};
pub use session::limits::{Limits, MAX_OPERATIONS};
pub use session::{Host, Settings};
