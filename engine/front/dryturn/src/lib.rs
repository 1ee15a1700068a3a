//! Dryturn rehearses a machine that scans, plans and turns a 3×3×3 puzzle cube with six
//! shafts, in simulation. This crate is its library: the stages as modules, each of which works
//! alone, and the whole rehearsal on top of them.
//!
//! Everything is deterministic: the same scene and [`Seed`] give the same bits on every machine,
//! whatever the number of threads. The ending of a name is its unit: `width_mm`, `flux_lm`,
//! `angle_deg`, `total_s`.
//!
//! # A rig, and what its cameras see
//!
//! A [`Scene`] is the drawing: cube, shafts, cameras, lamps, drive, tolerances. It is read from
//! a RON file ([`Scene::parse`]); [`scene::starter`] is one to begin with. Any field can be
//! changed by its path.
//!
//! A [`Rehearser`] holds the seed. It builds rigs from drawings, each trial with other errors of
//! making, and a rig scans cubes: pictures, and labels of what is truly on them.
//!
//! ```
//! use std::sync::Arc;
//! use dryturn::cube::{CubeState, Stickering, notation};
//! use dryturn::{Rehearser, Seed};
//!
//! let scene = dryturn::scene::starter().with_text("shafts.*.width_mm", "6")?;
//! let rehearser = Rehearser::new(Seed::new(1));
//! let rig = rehearser.build(&Arc::new(scene), 0);
//! let scrambled = CubeState::SOLVED.turned_by(&notation::parse("R U2 F'")?);
//! let scan = rig.scan(&Stickering::from(&scrambled));
//! assert_eq!(scan.frames.len(), 2); // sRGB, 8 bit, row by row
//! assert!(scan.labels[0].facelets.iter().any(|facelet| facelet.visible_px > 500));
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! # Reading
//!
//! The reader learns each colour from solved cubes that the rig scans ([`reading::Calibration`]),
//! then takes the most probable of all legal cubes, or refuses. It sees pictures and the drawing,
//! never the truth. Your own colour code can bring its log-likelihoods to the decoder alone:
//!
//! ```
//! use dryturn::cube::{CubeState, Facelet};
//! use dryturn::reading::decoder::{Evidence, decode};
//!
//! let colours = CubeState::SOLVED.colours();
//! let mut evidence = Evidence::none();
//! for facelet in Facelet::all() {
//!     let mut log_likelihoods = [-6.0; 6]; // natural logarithms, in the order U R F D L B
//!     log_likelihoods[colours[facelet.index()].index()] = 0.0;
//!     evidence.set(facelet, log_likelihoods);
//! }
//! let decoded = decode(&evidence);
//! assert_eq!(decoded.best.state, CubeState::SOLVED);
//! assert!(decoded.probability() > 0.99);
//! ```
//!
//! # Planning and driving
//!
//! A plan is a row of beats: one turn, or two of opposite faces together. It is made for the
//! fewest turns or for the least time on a scene's own drive, and the drive's simulation says
//! what becomes of it: times, angles, currents, jams.
//!
//! ```
//! use dryturn::driving::{Timing, simulate};
//! use dryturn::planning::{Objective, Planner};
//! use dryturn::{CubeState, Seed, cube::notation};
//!
//! let scene = dryturn::scene::starter();
//! let cube = CubeState::SOLVED.turned_by(&notation::parse("R U F2 B")?);
//! let plan = Planner::new().plan(&cube, Objective::FewestTurns, 10_000).plan;
//! let as_drawn_s = Timing::of(&scene).total_s(&plan).expect("this drive gets through");
//! let run = simulate(&scene, &cube, &plan, Seed::new(1).trial(0)); // with the errors of trial 0
//! assert_eq!(run.final_state, CubeState::SOLVED);
//! assert!((run.total_s / as_drawn_s - 1.0).abs() < 0.2);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! # Many trials
//!
//! One rehearsal says little. [`studies`] has drills of whole rehearsals and of the axes alone,
//! surveys of a layout, comparisons with the same luck, tuning; [`statistics`] the intervals.
//! [`script`] runs scripts of rehearsals, [`record`] is what they leave, [`report`] the page for a
//! person.
//!
//! ```
//! use std::ops::ControlFlow;
//! use std::sync::Arc;
//! use dryturn::studies::TurningDrill;
//! use dryturn::{Rehearser, Seed, cube::notation, handoff::Plan};
//!
//! let scene = Arc::new(dryturn::scene::starter());
//! let plans = Arc::new(vec![Plan::of_turns(&notation::parse("R U2 F'")?)]);
//! let rehearser = Rehearser::new(Seed::new(7));
//! let go_on = |_done: usize| ControlFlow::Continue(());
//! let drill = TurningDrill::of(&rehearser, &scene, &plans, 50, &go_on).expect("nobody stopped it");
//! let (low, high) = drill.jam_interval(); // Wilson's 95 % interval of the share that jams
//! assert!(low == 0.0 && high < 0.1);
//! # Ok::<(), Box<dyn std::error::Error>>(())
//! ```
//!
//! # How far to trust it
//!
//! What a simulation says of a rig holds as far as its models do; the crates of the stages say what
//! they leave out. Measure your own rig ([`metrology`]) before you trust a figure. Fast parts, stored energy
//! and hot brake resistors hurt people: follow your local codes and leave to licensed people what
//! needs a licence.

#[doc(inline)]
pub use dryturn_cube as cube;
#[doc(inline)]
pub use dryturn_driving as driving;
#[doc(inline)]
pub use dryturn_geometry as geometry;
#[doc(inline)]
pub use dryturn_guests as guests;
#[doc(inline)]
pub use dryturn_handoff as handoff;
#[doc(inline)]
pub use dryturn_metrology as metrology;
#[doc(inline)]
pub use dryturn_numerics as numerics;
#[doc(inline)]
pub use dryturn_optics as optics;
#[doc(inline)]
pub use dryturn_planning as planning;
#[doc(inline)]
pub use dryturn_reading as reading;
#[doc(inline)]
pub use dryturn_record as record;
#[doc(inline)]
pub use dryturn_rehearsal as rehearsal;
#[doc(inline)]
pub use dryturn_report as report;
#[doc(inline)]
pub use dryturn_scene as scene;
#[doc(inline)]
pub use dryturn_script as script;
#[doc(inline)]
pub use dryturn_statistics as statistics;
#[doc(inline)]
pub use dryturn_studies as studies;
#[doc(inline)]
pub use dryturn_units as units;

pub use dryturn_cube::CubeState;
pub use dryturn_rehearsal::{Pass, Rehearser, Verdict};
pub use dryturn_scene::Scene;
pub use dryturn_units::noise::Seed;

/// The examples of the crate's own page hold too.
#[cfg(doctest)]
#[doc = include_str!("../README.md")]
struct Readme;
