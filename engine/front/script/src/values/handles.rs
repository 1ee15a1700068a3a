//! What script values stand for. They are shared, never copied.

use std::sync::Arc;

use dryturn_cube::CubeState;
use dryturn_handoff::{Plan, Reading, Run, RunLog, Scan};
use dryturn_rehearsal::{BuiltRig, Pass, Score};
use dryturn_scene::Scene;
use dryturn_studies::motor::Identified;
use dryturn_studies::overlay::Overlay;
use dryturn_studies::{
    BenchLog, Drill, ReaderTable, RigComparison, SearchBudgets, Squared, Surveyed, Tuning,
    TurningDrill,
};
use rhai::Engine;

use super::learnt::Learnt;

/// Memory of a pixel's labels.
const LABELS_BYTES: usize = 6;

macro_rules! handle {
    ($($(#[$doc:meta])* $name:ident($inner:ty) as $shown:literal;)+) => {
        $( $(#[$doc])* #[derive(Clone)] pub(crate) struct $name(pub(crate) $inner); )+
        /// Registers the types.
        pub(crate) fn register(engine: &mut Engine) {
            $( engine.register_type_with_name::<$name>($shown); )+
        }
        /// What each type is called here, and in scripts.
        pub(crate) const SHOWN: &[(&str, &str)] = &[$( (stringify!($name), $shown) ),+];
    };
}

handle! {
    SceneValue(Arc<Scene>) as "Scene";
    RigValue(Arc<BuiltRig>) as "Rig";
    CalibrationValue(Arc<Learnt>) as "Calibration";
    CubeValue(CubeState) as "Cube";
    ScanValue(Arc<Scan>) as "Scan";
    ReadingValue(Arc<Reading>) as "Reading";
    ScoreValue(Arc<Score>) as "Score";
    PlanValue(Arc<Plan>) as "Plan";
    RunValue(Arc<Executed>) as "Run";
    PassValue(Arc<Pass>) as "Pass";
    DrillValue(Arc<Drill>) as "Drill";
    SurveyValue(Arc<Surveyed>) as "Survey";
    ReadersValue(Arc<ReaderTable>) as "Readers";
    TurningValue(Arc<TurningDrill>) as "TurningDrill";
    SquaredValue(Arc<Squared>) as "Squared";
    TuningValue(Arc<Tuning>) as "Tuning";
    BudgetsValue(Arc<SearchBudgets>) as "SearchBudgets";
    ComparisonValue(Arc<RigComparison>) as "RigComparison";
    /// A log of one axis.
    AxisLogValue(Arc<BenchLog>) as "AxisLog";
    /// A log of a run.
    RunLogValue(Arc<RunLog>) as "RunLog";
    /// What logs tell, and the block for the scene.
    IdentifiedValue(Arc<(Arc<Identified>, String)>) as "Identified";
    /// A log over a run.
    OverlayValue(Arc<Overlay>) as "Overlay";
}

/// A run with what was turned, and on what.
#[derive(Clone)]
pub(crate) struct Executed {
    pub(crate) scene: Arc<Scene>,
    pub(crate) plan: Arc<Plan>,
    pub(crate) run: Arc<Run>,
}

/// Memory that a scan holds.
pub(crate) fn scan_bytes(scan: &Scan) -> usize {
    let frames = scan.frames.iter().map(|frame| frame.pixels.len());
    frames.chain(scan.labels.iter().map(|labels| LABELS_BYTES * labels.codes.len())).sum()
}
