//! What a person looks at after a run: one self-contained HTML page with the
//! pictures, the nets, the plan, the course of what was turned and the expectations; and
//! the pictures as PNG.
//!
//! ```
//! use dryturn_record::Record;
//! let page = dryturn_report::page("<b>.rhai", 1, &Record::default());
//! assert!(page.contains("&lt;b&gt;.rhai")); // names are text, never markup
//! ```

mod charts;
mod html;
mod pages;
mod pictures;
mod sections;

pub use dryturn_studies::{CAUTIONS, small};
pub use html::figures::percent;
pub use pages::{CurvePoint, PlanSurvey, logs_page, page, plans_page, survey_page, turning_page};
pub use pictures::{contact_sheet, encode, file_bytes};
