//! Whole pages: sections within what every page has.

mod logs;
mod plans;
mod rehearsal;
mod shell;
mod survey;
mod turning;

pub use logs::logs_page;
pub use plans::{CurvePoint, PlanSurvey, plans_page};
pub use rehearsal::page;
pub use survey::survey_page;
pub use turning::turning_page;
