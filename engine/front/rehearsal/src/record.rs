//! What a script run leaves: expectations, notes, things to show, files.

use std::sync::Arc;

use dryturn_handoff::{Frame, Labels};
use serde_json::Value as Json;

use crate::drill::Drill;
use crate::pass::Pass;
use crate::survey::Surveyed;

/// One `expect` of a script.
#[derive(Clone, Debug, PartialEq)]
pub struct Expectation {
    /// What was expected, in the script's words.
    pub message: String,
    /// Whether it held.
    pub held: bool,
    /// The figures, for instance `97, wanted at least 98`.
    pub figures: String,
    /// Line in the script, from 1.
    pub line: Option<usize>,
}

/// Something that the report shows.
#[derive(Clone, Debug)]
pub enum Exhibit {
    /// One pass with its pictures.
    Pass(Arc<Pass>),
    /// A drill with its statistics.
    Drill(Arc<Drill>),
    /// A survey of a layout.
    Survey(Arc<Surveyed>),
    /// Pictures on a contact sheet, with a title.
    Sheet(Arc<(String, Vec<Frame>)>),
}

/// A file to be written below the output folder.
#[derive(Clone, Debug, PartialEq)]
pub struct OutputFile {
    /// Path below the output folder, with `/`.
    pub path: String,
    /// What it holds.
    pub content: Content,
}

/// What an output file holds.
#[derive(Clone, Debug, PartialEq)]
pub enum Content {
    /// Text, UTF-8.
    Text(String),
    /// A picture, to be written as PNG.
    Frame(Frame),
    /// Labels, to be written as 8-bit grey PNG: the codes of
    /// `dryturn_scene::Surface`.
    Labels(Labels),
    /// Their depth, to be written as 16-bit grey PNG: tenths of a millimetre along the
    /// optical axis, 65535 for the background.
    Depth(Labels),
}

/// All that one script run leaves.
#[derive(Clone, Debug, Default)]
pub struct Record {
    /// One JSON object a line.
    pub ledger: Vec<Json>,
    /// In order of the script.
    pub expectations: Vec<Expectation>,
    /// What the script printed.
    pub notes: Vec<String>,
    /// In order of the script.
    pub exhibits: Vec<Exhibit>,
    /// In order of the script; paths are unique.
    pub files: Vec<OutputFile>,
}

impl Record {
    /// Expectations that did not hold.
    #[must_use]
    pub fn failed(&self) -> usize {
        self.expectations.iter().filter(|e| !e.held).count()
    }

    /// The ledger as JSON Lines.
    #[must_use]
    pub fn ledger_text(&self) -> String {
        self.ledger.iter().map(|line| format!("{line}\n")).collect()
    }
}
