//! The ledger: one JSON object a line, one line a stage. Nothing in it depends on the clock,
//! the machine or the thread count.

mod axes;
mod clock;
mod drills;
mod ends;
mod explained;
mod guests;
mod identify;
mod overlay;
mod readers;
mod rigs;
mod scans;
mod session;
mod shares;
mod tuned;
mod tuning;
mod turning;

use dryturn_studies::sets::SetAsked;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use thiserror::Error;

pub use self::axes::{BeatSpan, EnergyRecord, ExecuteLine, ShaftRecord, SquareLine};
pub use self::clock::{ClockMs, PartsMs};
pub use self::drills::{DrillLine, DrillTimes, SameLuckRecord, TrialLine};
pub use self::ends::{JamRecord, StopRecord};
pub use self::explained::{
    FigureRecord, JointRecord, OutcomeWord, TiedRecord, ToldRecord, WordsRecord,
};
pub use self::guests::TeachLine;
pub use self::identify::{
    DriveFieldRecord, EstimateRecord, FrictionAt, HeldOutRecord, IdentifyLine, LimitRecord,
    MoveRecord, SlowRecord,
};
pub use self::overlay::{BeatOffRecord, CauseRecord, HeldUpRecord, OverlayLine};
pub use self::readers::{ReaderRow, ReadersLine};
pub use self::rigs::{BudgetRow, BudgetsLine, CompareLine, MeanMs, SavingRow, WayRow};
pub(crate) use self::scans::refused;
pub use self::scans::{
    CalibrateLine, FrameRecord, PlanLine, ReadLine, ScanLine, ScoreLine, centres_of,
};
pub use self::session::{EndLine, ExpectLine, JudgeLine, SceneLine, StartLine};
pub use self::shares::{KindCount, Share};
pub use self::tuned::{
    BelowZeroRecord, BoughtRecord, FoundRecord, HowFar, LeadRecord, NudgeRecord, SettingRecord,
    TuneLimitRecord,
};
pub use self::tuning::{DotRecord, TuneLine};
pub use self::turning::{QuantileMs, SafetyFactors, TurningLine, TurningTimes};
use crate::survey::SurveyRecord;

// Parts of lines that rehearsals and studies give as they are written.
pub use dryturn_rehearsal::Mistake;
pub use dryturn_studies::overlay::Problem;
pub use dryturn_studies::{
    AxisBlame, BlameRow, CauseKind, FailureKind, ReaderCounts, ReasonCount, Round, Setting,
};

/// Version of the ledger's keys. A key that is renamed, dropped or comes to mean something else
/// makes a new one; a key that is added does not.
pub const VERSION: u32 = 4;

/// What one line says.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(tag = "stage", rename_all = "snake_case")]
pub enum Line {
    /// The first line: what was run.
    Start(StartLine),
    /// A scene as it is used, changes by the script included.
    Scene(SceneLine),
    /// A calibration.
    Calibrate(CalibrateLine),
    /// A guest that reads was taught.
    Teach(TeachLine),
    /// A scan.
    Scan(ScanLine),
    /// A reading, by itself.
    Read(Box<ReadLine>),
    /// A reading against the truth.
    Score(ScoreLine),
    /// A plan and whether it solves the state it is for.
    Plan(PlanLine),
    /// One execution on a scene's axes.
    Execute(Box<ExecuteLine>),
    /// Faces led to their stops after a run was broken off.
    Square(SquareLine),
    /// A drill of the axes alone.
    DrillAxes(Box<TurningLine>),
    /// What tuning came to.
    Tune(Box<TuneLine>),
    /// Search budgets compared on the same cubes.
    SearchBudgets(BudgetsLine),
    /// Two plans on two timings.
    CompareRigs(CompareLine),
    /// What logs of one axis tell of it.
    Identify(Box<IdentifyLine>),
    /// A log laid over the simulated run.
    Overlay(Box<OverlayLine>),
    /// The verdict on a pass.
    Judge(JudgeLine),
    /// One trial of a drill.
    Trial(Box<TrialLine>),
    /// What a drill of whole rehearsals adds up to.
    DrillRehearsals(Box<DrillLine>),
    /// A survey of a layout, as `survey.json` has it.
    Survey(Box<SurveyRecord>),
    /// Ways to read, compared on scans of one kind.
    Readers(ReadersLine),
    /// A labelled set that a script has made.
    Frames(SetMade),
    /// What was expected.
    Expect(ExpectLine),
    /// The last line.
    End(EndLine),
}

/// A labelled set that a script has made.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SetMade {
    /// What the script calls it.
    pub name: String,
    /// What was asked for.
    #[serde(flatten)]
    pub asked: SetAsked,
}

/// A line with the version of its keys.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Entry {
    /// Version of the ledger's keys.
    pub ledger_version: u32,
    /// What it says.
    #[serde(flatten)]
    pub line: Line,
}

/// Why a line of a ledger cannot be read.
#[derive(Debug, Error)]
pub enum LineError {
    /// Of a version that this program does not know.
    #[error("line {line}: ledger_version is {found}: must be {VERSION}")]
    Version {
        /// Line, from 1.
        line: usize,
        /// The version that is there.
        found: u64,
    },
    /// No line of a ledger.
    #[error("line {line}: {error}")]
    Form {
        /// Line, from 1.
        line: usize,
        /// What is wrong with it.
        error: serde_json::Error,
    },
}

impl Line {
    /// As it stands in the ledger, without its line break: keys in alphabetical order.
    ///
    /// # Panics
    /// Never: every line has a form as JSON.
    #[must_use]
    pub fn text(&self) -> String {
        let mut json = crate::json(self);
        json["ledger_version"] = VERSION.into();
        json.to_string()
    }
}

/// A ledger, line by line.
///
/// # Errors
/// The first line that is none, or of another version.
pub fn parse(text: &str) -> Result<Vec<Line>, LineError> {
    let mut lines = Vec::new();
    for (line, text) in text.lines().enumerate() {
        let line = line + 1;
        let form = |error| LineError::Form { line, error };
        let value: serde_json::Value = serde_json::from_str(text).map_err(form)?;
        match value["ledger_version"].as_u64() {
            Some(found) if found != u64::from(VERSION) => {
                return Err(LineError::Version { line, found });
            }
            _ => lines.push(serde_json::from_value::<Entry>(value).map_err(form)?.line),
        }
    }
    Ok(lines)
}
