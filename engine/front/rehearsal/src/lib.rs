//! A rehearsal: scramble → scan → read → plan → execute → judge, once.
//!
//! Here, and only here, what happened is compared with the truth. Somebody from outside may play
//! any of the stages from reading on ([`Stages`]).
//!
//! ```
//! use dryturn_rehearsal::{Rehearser, Verdict};
//! use dryturn_scene::Scene;
//! use dryturn_units::noise::Seed;
//!
//! let text = std::fs::read_to_string("../../../scenes/workbench.ron").unwrap();
//! let scene = std::sync::Arc::new(Scene::parse(&text, "workbench.ron").unwrap());
//! let rehearser = Rehearser::new(Seed::new(1));
//! let rig = rehearser.build(&scene, 0);
//! let calibration = rig.calibrate().unwrap();
//! let pass = rehearser.rehearse(&rig, &calibration, &rehearser.random_cube(0)).unwrap();
//! assert!(pass.score.right());
//! assert_eq!(pass.verdict, Verdict::Solved);
//! ```

mod objective;
mod pass;
mod rehearser;
mod rig;
mod score;
mod seats;
mod start_to_stop;

pub use objective::{beat_costs, least_time, objective};
pub use pass::{Pass, Verdict};
pub use rehearser::Rehearser;
pub use rig::BuiltRig;
pub use score::{Mistake, Score};
pub use seats::{
    Guests, LatencyMs, MOST_TURNS, PlanCosts, PlannerSeat, Reader, ReaderSeat, SeatPlan, Stages,
    read_by,
};
pub use start_to_stop::{GuestCost, StartToStop, reading_ms};
