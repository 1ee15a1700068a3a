//! What a person looks at after a run: one self-contained HTML page with the
//! pictures, the nets, the plan, the course of what was turned and the expectations; and
//! the pictures as PNG.
//!
//! ```
//! use dryturn_record::Record;
//! let page = dryturn_report::page("<b>.rhai", 1, &Record::default());
//! assert!(page.contains("&lt;b&gt;.rhai")); // names are text, never markup
//! ```

mod budgets;
mod comparison;
mod confusion;
mod course;
mod drill;
mod histogram;
mod html;
mod identified;
mod kinds;
mod lanes;
mod logs_page;
mod margins;
mod marks;
mod net;
mod overlay;
mod page;
mod pass;
mod picture;
mod plans;
mod plot;
mod readers;
mod reading;
mod run;
mod sheet;
mod shell;
mod stacked;
mod survey;
mod sweep;
mod table;
mod timing;
mod tune;
mod turning;
mod turning_page;

pub use dryturn_studies::CAUTIONS;
pub use dryturn_studies::small;
pub use logs_page::logs_page;
pub use page::page;
pub use pass::percent;
pub use picture::{encode, file_bytes};
pub use plans::{CurvePoint, PlanSurvey, plans_page};
pub use sheet::contact_sheet;
pub use survey::survey_page;
pub use turning_page::turning_page;
