//! A rehearsal: scramble → scan → read → plan → execute → judge, once or many
//! times, and the record of it.
//!
//! Here, and only here, what happened is compared with the truth.
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

mod blame;
mod cautions;
mod comparison;
mod drill;
mod failures;
mod findings;
pub mod frame_set;
pub mod ledger;
mod log_words;
mod measured;
pub mod overlay;
mod pass;
mod pieces;
mod readers;
mod record;
mod rig;
mod rig_plan;
mod search_budgets;
mod set_words;
mod small;
mod start_to_stop;
pub mod statistics;
mod survey;
mod tune;
mod turning;
mod turning_summary;
mod watch;

pub use blame::{AxisBlame, Blame, Reason};
pub use cautions::CAUTIONS;
pub use comparison::{ComparedCube, Ended, RigComparison, Saving, WAYS};
pub use drill::{Drill, Trial};
pub use dryturn_driving::{
    BeatCosts, Bench, BenchError, BenchLog, BenchMove, Lead, LogNoise, Squared, Transitions,
    run_log as simulated_log,
};
pub use dryturn_metrology::motor;
pub use failures::{CLAIMED_RATES, Claim, FailureKind, Failures};
pub use findings::{Finding, FindingKind, Severity, findings};
pub use log_words::{OverlayWords, identified_words, overlay_words};
pub use measured::{logs_title, measured_block, with_measured};
pub use pass::{Mistake, Pass, Rehearser, Score, Verdict, beat_costs, least_time};
pub use pieces::{Keeper, Pieces};
pub use readers::{ReaderTable, ReaderTally};
pub use record::{
    Content, Exhibit, Expectation, MapValues, OutputFile, PixelMap, Record, ShownIdentification,
    ShownOverlay, ShownRun, Sweep,
};
pub use rig::BuiltRig;
pub use rig_plan::{
    COMMISSIONING_CEILING, Followed, PROOF_EXECUTIONS, Refusal, RigFile, RigFileError, RigPlan,
    RigRequest, RowTime, least_time_below,
};
pub use search_budgets::{BUDGETS, BudgetPoint, MeanAndInterval, SearchBudgets};
pub use small::small;
pub use start_to_stop::StartToStop;
pub use survey::{
    Apart, Change, ExpectedErrors, Margins, PairMargin, Surveyed, percent_text, range_text,
    sigmas_text,
};
pub use tune::{
    BelowZero, Bought, Dot, Limit, NotTuned, Nudge, Round, Setting, TuneFault, TuneRequest,
    TuneTarget, Tuned, Tuning, lead_kind, lead_nearness, lead_sentence, leads,
};
pub use turning::{DRILL_NODES, DRILL_PLANS, Execution, TurningDrill};
