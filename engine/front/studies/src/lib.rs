//! What a builder asks of a rig: many rehearsals, many executions, many readings; how a layout
//! sees, what an axis' log tells, which settings are the quickest that are safe, what is strange
//! about a scene. Each study takes a request, runs, and gives an outcome that says what it means.
//!
//! Every study stands on single passes (`dryturn_rehearsal`) or on the stages themselves, draws
//! by trial number alone, and is the same whatever the thread count.

mod axes;
mod cautions;
mod comparison;
mod digits;
mod drill;
mod failures;
mod findings;
mod logs;
pub mod overlay;
mod readers;
mod rig_plan;
mod search_budgets;
pub mod sets;
mod small;
mod survey;
mod tune;
mod varied;
mod work;
mod written;

pub use axes::{
    AxisBlame, BlameRow, DRILL_NODES, DRILL_PLANS, Execution, GuestDrives, ReasonCount,
    TurningDrill, random_plans,
};
pub use cautions::CAUTIONS;
pub use comparison::{ComparedCube, Ended, RigComparison, Saving, WAYS};
pub use drill::{Drill, DrillFault, DrillRequest, SameLuck, Trial};
pub use dryturn_driving::{
    BeatCosts, Bench, BenchError, BenchLog, BenchMove, Lead, LogNoise, Squared, Transitions,
    run_log as simulated_log,
};
pub use dryturn_metrology::motor;
pub use failures::{CLAIMED_RATES, CauseKind, Claim, FailureKind, Failures};
pub use findings::{Finding, FindingKind, Severity, findings};
pub use logs::{
    OverlayWords, identified_words, logs_title, measured_block, overlay_words, with_measured,
};
pub use readers::{
    GuestReads, ReaderCounts, ReaderTable, ReaderTally, ReadersFault, ReadersRequest, Way,
};
pub use rig_plan::{
    COMMISSIONING_CEILING, Followed, FollowedCounts, PROOF_EXECUTIONS, Refusal, RigBeat, RigFile,
    RigFileError, RigPlan, RigPlanDocument, RigRequest, RigTextbook, RowTime, least_time_below,
};
pub use search_budgets::{BUDGETS, BudgetPoint, MeanAndInterval, SearchBudgets};
pub use small::small;
pub use survey::{
    Apart, Change, ExpectedErrors, Margins, PairMargin, Surveyed, percent_text, range_text,
    sigmas_text,
};
pub use tune::{
    BelowZero, Bought, Dot, NotTuned, Nudge, Round, Setting, TuneFault, TuneLimit, TuneRequest,
    TuneTarget, Tuned, Tuning, lead_kind, lead_nearness, lead_sentence, leads,
};
pub use varied::Varied;
pub use work::{Keeper, NumberedPieces, Progress};
pub use written::{digest, finite, json, json_text, scene_sha256};
