//! Whole-program tests, and tests against figures from outside.

/// What a broken input gives: one line, a code, nothing half-written.
mod bad_input;
/// The command `calibrate`.
mod calibrate;
/// The command `camera`: a real camera measured from its pictures.
mod camera;
/// Flags, JSON documents and exit codes.
mod cli;
/// The same seed gives the same bytes, whatever the threads.
mod determinism;
/// The command `drill-axes`, and the verbs about the axes.
mod driving;
/// Strangers' bytes at every entrance, changed at random.
mod entrances;
/// Nonsense that is a valid scene: `check` finds it.
mod findings;
/// Pictures that another renderer made.
mod foreign;
/// The command `guest`: programs of a builder's own.
#[cfg(unix)]
mod guest_check;
/// Guests on stage.
#[cfg(unix)]
mod guests;
/// Calling the program and finding its files.
mod help;
/// Scripts that mean harm.
mod hostile;
/// Pairs of colours, as surveyed and as calibrations find them.
mod margins;
/// A program's end, with its time and its highest memory.
mod measured;
/// What commands take at most of memory where pictures are large.
mod memory;
/// Another camera, or a second exposure, never makes a reading worse.
mod more_pictures;
/// The commands `identify` and `overlay`: logs of real axes.
mod motor_logs;
/// The command `new`.
mod new;
/// Pictures that are not what they should be.
mod odd_pictures;
/// What a script must not read.
#[cfg(unix)]
mod outside;
/// Fields are named the same way everywhere.
mod paths;
/// Reading follows the pixels; nothing is canned.
mod peeking;
/// The command `plan`, large tables.
mod plans;
/// What a reading finds out besides the cube.
mod readings;
/// Against other programs and published figures.
mod references;
/// Plans for a rig, the follower in C, and the command `follow`.
mod rig_plans;
/// Every scene loads, and its reference is up to date.
mod scenes;
/// Every script runs, and its reference is up to date.
mod scripts;
/// Labelled sets of pictures.
mod sets;
/// Pictures that a spectral renderer made in lights that change.
mod spectral;
/// The architecture, from the manifests and the files.
mod tidy;
mod tuning;
/// The command `verbs`.
mod verbs;
/// `check`, `survey`, `rig.hidden` and the reader agree.
mod visible;
/// Output is whole or not there, whatever ends a run.
mod whole;
/// Documents and ledgers are as their types and schemas say.
mod written;
