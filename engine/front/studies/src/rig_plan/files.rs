//! All that a firmware is given: the rows, the document, the drive's figures and the follower.

use super::draft::times;
use super::{RigPlan, remarks, rows};
use crate::cautions::CAUTIONS;

/// The follower in C: its header and its source, with `rig-follower` for its name.
const FOLLOWER_H: &str = include_str!("follower.h");
const FOLLOWER_C: &str = include_str!("follower.c");

impl RigPlan {
    /// Comma-separated rows, one a turn, below remarks and above two checksums.
    #[must_use]
    pub fn csv(&self) -> String {
        let about: String = self.about.iter().map(|text| format!("# {text}\n")).collect();
        let title = rows::TITLE;
        let times = times(&self.timing, &self.sheet, &self.run);
        let rows = rows::write(&self.sheet, &times, (self.ceiling.share(), self.safe()));
        rows::sealed(format!("{title}\n{about}# state {}\n{rows}", self.state_hash()))
    }

    /// All that a firmware is given, by file name: `NAME.csv`, `NAME.json`, the drive's figures
    /// and the follower.
    #[must_use]
    pub fn files(&self, name: &str) -> Vec<(String, String)> {
        let stem = name.rsplit('/').next().unwrap_or(name);
        let follower = format!("{stem}-follower");
        let named = |text: &str| text.replace("rig-follower", &follower);
        let remarks = remarks::remarks(&CAUTIONS.map(|caution| format!("CAUTION: {caution}")));
        vec![
            (format!("{name}.csv"), self.csv()),
            (format!("{name}.json"), crate::json_text(&self.document())),
            (format!("{name}-drive.h"), self.drive.clone()),
            (format!("{name}-follower.h"), remarks.clone() + &named(FOLLOWER_H)),
            (format!("{name}-follower.c"), remarks + &named(FOLLOWER_C)),
        ]
    }
}
