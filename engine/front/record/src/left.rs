//! What a script run leaves: expectations, notes, things to show, files.

use std::collections::BTreeMap;
use std::sync::Arc;
use std::time::Duration;

use dryturn_handoff::{Frame, GuestRole, OutputFile, Plan, Run};
use dryturn_metrology::motor::Identified;
use dryturn_rehearsal::Pass;
use dryturn_scene::Scene;
use dryturn_studies::overlay::Overlay;
use dryturn_studies::{
    Drill, ReaderTable, RigComparison, SearchBudgets, Surveyed, Tuning, TurningDrill,
};

use crate::Expectation;
use crate::ledger::Line;

/// Something that the report shows.
#[derive(Clone, Debug)]
pub enum Exhibit {
    /// One pass with its pictures.
    Pass(Arc<Pass>),
    /// A drill with its statistics.
    Drill(Arc<Drill>),
    /// A survey of a layout.
    Survey(Arc<Surveyed>),
    /// Ways to read, compared on several kinds of scans, with a title.
    Readers(Arc<(String, Vec<Arc<ReaderTable>>)>),
    /// Pictures on a contact sheet, with a title.
    Sheet(Arc<(String, Vec<Frame>)>),
    /// One execution with its charts.
    Run(Arc<ShownRun>),
    /// Many executions with their statistics.
    Turning(Arc<TurningDrill>),
    /// Jam rates over a setting.
    Sweep(Arc<Sweep>),
    /// What tuning the axes came to.
    Tuning(Arc<Tuning>),
    /// Search budgets compared.
    Budgets(Arc<SearchBudgets>),
    /// Two plans on two timings.
    Comparison(Arc<RigComparison>),
    /// What logs tell of an axis.
    Identified(Arc<ShownIdentification>),
    /// A log laid over the simulated run.
    Overlay(Arc<ShownOverlay>),
}

/// An execution to be shown.
#[derive(Clone, Debug)]
pub struct ShownRun {
    /// What the script calls it.
    pub title: String,
    /// The scene whose axes turned.
    pub scene: Arc<Scene>,
    /// What was turned.
    pub plan: Arc<Plan>,
    /// What came of it.
    pub run: Arc<Run>,
}

/// What logs tell of an axis, to be shown.
#[derive(Clone, Debug)]
pub struct ShownIdentification {
    /// What the logs are called.
    pub title: String,
    /// What they tell.
    pub found: Arc<Identified>,
}

/// A log laid over the simulated run, to be shown.
#[derive(Clone, Debug)]
pub struct ShownOverlay {
    /// What the log is called.
    pub title: String,
    /// How far it is off, and why.
    pub overlay: Arc<Overlay>,
}

/// Drills over a setting.
#[derive(Clone, Debug)]
pub struct Sweep {
    /// What the script calls it.
    pub title: String,
    /// The setting with its unit.
    pub setting: String,
    /// The setting's values with their drills, in order of value.
    pub points: Vec<(f64, Arc<TurningDrill>)>,
    /// What the values are called where they are no numbers, as with policies; the numbers
    /// of the points then only count from 0. Else empty.
    pub names: Vec<String>,
}

/// All that one script run leaves.
#[derive(Clone, Debug, Default)]
pub struct Record {
    /// One entry a stage.
    pub ledger: Vec<Line>,
    /// In order of the script.
    pub expectations: Vec<Expectation>,
    /// What the script printed.
    pub notes: Vec<String>,
    /// In order of the script.
    pub exhibits: Vec<Exhibit>,
    /// In order of the script; paths are unique.
    pub files: Vec<OutputFile>,
    /// Settings that were given and not asked for.
    pub unused_settings: Vec<String>,
    /// Guests that were named for the run and played in no stage of it.
    pub unplayed: Vec<GuestRole>,
    /// How long the answers of the others took here, in real time; it stands in no file.
    pub thought: BTreeMap<GuestRole, Duration>,
    /// Whether somebody ended the run before the script was at its end.
    pub unfinished: bool,
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
        self.ledger.iter().map(|line| line.text() + "\n").collect()
    }
}
