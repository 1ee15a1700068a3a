//! Why executions fail: the one place where failures are told apart and counted. Tables,
//! charts, sentences and documents of drills, sweeps and tuning all split them so.

mod causes;
mod count;
mod kind;

pub use causes::CauseKind;
pub use count::{CLAIMED_RATES, Claim, Failures};
pub use kind::FailureKind;
