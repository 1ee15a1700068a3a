//! The lines about search budgets and compared rigs.

use dryturn_studies::{
    BudgetPoint, Ended, MeanAndInterval, RigComparison, Saving, SearchBudgets, WAYS, scene_sha256,
};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::clock::PartsMs;

/// A mean with its 95 % bootstrap interval.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MeanMs {
    /// The mean.
    pub ms: f64,
    /// Lower end of the interval.
    pub low_ms: f64,
    /// Upper end.
    pub high_ms: f64,
}

impl MeanMs {
    fn of((mean_s, (low_s, high_s)): MeanAndInterval) -> Self {
        Self { ms: mean_s * 1e3, low_ms: low_s * 1e3, high_ms: high_s * 1e3 }
    }
}

/// What one budget comes to, on average.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BudgetRow {
    /// Nodes that the search might spend.
    pub budget: u64,
    /// Nodes that it spent.
    pub nodes: f64,
    /// Their time on the scene's host.
    pub search_ms: f64,
    /// Predicted time of the plan.
    pub execution_ms: f64,
    /// Both together.
    pub total: MeanMs,
    /// How much more that is than at the best budget.
    pub over_best: MeanMs,
}

impl BudgetRow {
    fn of(point: &BudgetPoint) -> Self {
        Self {
            budget: point.budget,
            nodes: point.nodes,
            search_ms: point.search_s * 1e3,
            execution_ms: point.execution_s * 1e3,
            total: MeanMs::of(point.total_s),
            over_best: MeanMs::of(point.over_best_s),
        }
    }
}

/// Search budgets compared on the same cubes.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct BudgetsLine {
    /// Name of the scene.
    pub scene: String,
    /// SHA-256 of the scene as used.
    pub scene_sha256: String,
    /// How many random cubes.
    pub cubes: usize,
    /// The budget with the least time of search and execution.
    pub best_nodes: u64,
    /// By budget, ascending.
    pub points: Vec<BudgetRow>,
}

impl BudgetsLine {
    /// Of a comparison of budgets.
    #[must_use]
    pub fn of(budgets: &SearchBudgets) -> Self {
        Self {
            scene: budgets.scene.file().name.clone(),
            scene_sha256: scene_sha256(&budgets.scene),
            cubes: budgets.cubes,
            best_nodes: budgets.best_nodes(),
            points: budgets.points.iter().map(BudgetRow::of).collect(),
        }
    }

    /// The same as text, a line each.
    #[must_use]
    pub fn summary(&self) -> String {
        let row = |point: &BudgetRow| {
            format!(
                "{} nodes: search {:.1} ms + execution {:.1} ms = {:.1} ms, over the best {:.1} ms \
                 ({:.1} to {:.1})",
                point.budget,
                point.search_ms,
                point.execution_ms,
                point.total.ms,
                point.over_best.ms,
                point.over_best.low_ms,
                point.over_best.high_ms,
            )
        };
        let best = format!("best: {} nodes, of {} cubes", self.best_nodes, self.cubes);
        self.points.iter().map(row).chain([best]).collect::<Vec<_>>().join("\n")
    }
}

/// One plan on one timing.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct WayRow {
    /// Which plan and timing.
    pub way: String,
    /// Executions that jammed.
    pub jammed: usize,
    /// Executions that something else stopped.
    pub stopped: usize,
    /// Mean from start to stop over the cubes that count; null where none does.
    pub mean_ms: Option<f64>,
    /// The median; likewise.
    pub median_ms: Option<f64>,
    /// Mean by part; 0 where no cube counts.
    pub parts_ms: PartsMs,
}

impl WayRow {
    fn of(comparison: &RigComparison, way: usize) -> Self {
        Self {
            way: WAYS[way].to_owned(),
            jammed: comparison.count(way, Ended::Jammed),
            stopped: comparison.count(way, Ended::Stopped),
            mean_ms: (comparison.compared().count() > 0).then(|| comparison.mean_s(way) * 1e3),
            median_ms: comparison.median_s(way).map(|s| s * 1e3),
            parts_ms: PartsMs::of(comparison.parts(way)),
        }
    }
}

/// What something saves, on average.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct SavingRow {
    /// What saves.
    pub what: String,
    /// How much.
    #[serde(flatten)]
    pub saved: MeanMs,
    /// Of the mean time of the textbook plan on safe timing.
    pub percent: f64,
    /// Lower end of its 95 % interval.
    pub low_percent: f64,
    /// Upper end.
    pub high_percent: f64,
}

impl SavingRow {
    fn of(saving: &Saving) -> Self {
        let (percent, (low_percent, high_percent)) = saving.percent;
        Self {
            what: saving.what.to_owned(),
            saved: MeanMs::of(saving.saved_s),
            percent,
            low_percent,
            high_percent,
        }
    }
}

/// Two plans on two timings.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CompareLine {
    /// Name of the scene with safe timing.
    pub safe: String,
    /// SHA-256 of that scene as used.
    pub safe_sha256: String,
    /// Name of the scene with tuned timing.
    pub tuned: String,
    /// SHA-256 of that scene as used.
    pub tuned_sha256: String,
    /// How many random cubes.
    pub cubes: usize,
    /// How many of them count: those that all four ways complete.
    pub compared: usize,
    /// The four ways.
    pub ways: Vec<WayRow>,
    /// What plan and timing save.
    pub savings: Vec<SavingRow>,
}

impl CompareLine {
    /// Of a comparison.
    #[must_use]
    pub fn of(comparison: &RigComparison) -> Self {
        Self {
            safe: comparison.safe.file().name.clone(),
            safe_sha256: scene_sha256(&comparison.safe),
            tuned: comparison.tuned.file().name.clone(),
            tuned_sha256: scene_sha256(&comparison.tuned),
            cubes: comparison.cubes.len(),
            compared: comparison.compared().count(),
            ways: (0..WAYS.len()).map(|way| WayRow::of(comparison, way)).collect(),
            savings: comparison.savings.iter().map(SavingRow::of).collect(),
        }
    }

    /// The same as text, a line each.
    #[must_use]
    pub fn summary(&self) -> String {
        let ms = |value: Option<f64>| value.map_or_else(|| "–".to_owned(), |ms| format!("{ms:.1}"));
        let way = |way: &WayRow| {
            format!(
                "{}: mean {} ms, median {} ms; jammed {}, stopped {}",
                way.way,
                ms(way.mean_ms),
                ms(way.median_ms),
                way.jammed,
                way.stopped
            )
        };
        let saving = |row: &SavingRow| {
            format!(
                "{}: {:.1} ms saved ({:.1} to {:.1}), {:.1} % ({:.1} to {:.1})",
                row.what,
                row.saved.ms,
                row.saved.low_ms,
                row.saved.high_ms,
                row.percent,
                row.low_percent,
                row.high_percent,
            )
        };
        let counts = format!("{} of {} cubes compared", self.compared, self.cubes);
        let lines = self.ways.iter().map(way).chain(self.savings.iter().map(saving));
        lines.chain([counts]).collect::<Vec<_>>().join("\n")
    }
}
