//! Many rehearsals with fresh seeds, and what they add up to.

mod same_luck;
mod series;
mod trial;

use std::collections::BTreeMap;
use std::sync::Arc;
use std::time::Duration;

use dryturn_cube::Face;
use dryturn_handoff::GuestRole;
use dryturn_rehearsal::{Guests, Mistake, Verdict};
use dryturn_scene::Scene;
use dryturn_statistics::quantile;

pub use self::same_luck::SameLuck;
pub use self::series::{DrillFault, DrillRequest};
pub use self::trial::Trial;
use crate::failures::{FailureKind, Failures};

/// Many trials of one scene.
#[derive(Clone, Debug)]
pub struct Drill {
    /// The scene that was read and driven in.
    pub scene: Arc<Scene>,
    /// The scene whose light the reading was calibrated in.
    pub calibrated_in: Arc<Scene>,
    /// In order of their numbers; the first few alone where guests never answered in those.
    pub trials: Vec<Trial>,
    /// Who played, besides Dryturn's own stages.
    pub guests: Guests,
    /// How long their answers took here together, in real time; never a part of a result.
    pub thought: BTreeMap<GuestRole, Duration>,
    /// The same trials by Dryturn's own stages alone, with the same luck: rigs, stickers,
    /// scrambles, noise of the pictures and errors of the drive. `None` where nobody else played.
    pub built_in: Option<Arc<Drill>>,
}

impl Drill {
    /// Trials whose true state was read.
    #[must_use]
    pub fn right_reads(&self) -> usize {
        self.count(|trial| trial.score.right())
    }

    /// Trials that satisfy a condition.
    pub fn count(&self, condition: impl Fn(&Trial) -> bool) -> usize {
        self.trials.iter().filter(|trial| condition(trial)).count()
    }

    /// Trials that ended so.
    #[must_use]
    pub fn ended(&self, verdict: Verdict) -> usize {
        self.count(|trial| trial.verdict == verdict)
    }

    /// Runs that were broken off, by kind; trials without a run count as if they were not.
    #[must_use]
    pub fn failures(&self) -> Failures {
        let kind = |trial: &Trial| FailureKind::of(trial.jam.as_ref(), trial.stop.as_ref());
        self.trials.iter().map(kind).collect()
    }

    /// Who solved what that the built-in stages did not, and the other way round.
    #[must_use]
    pub fn same_luck(&self) -> Option<SameLuck> {
        Some(SameLuck::of(&self.trials, &self.built_in.as_ref()?.trials))
    }

    /// Execution times of the trials that were completed, s, sorted.
    #[must_use]
    pub fn completed_times_s(&self) -> Vec<f64> {
        let completed =
            self.trials.iter().filter(|trial| trial.jam.is_none() && trial.stop.is_none());
        let mut times: Vec<f64> = completed.filter_map(|trial| trial.total_s).collect();
        times.sort_by(f64::total_cmp);
        times
    }

    /// Quantile of the completed trials' times, ms.
    #[must_use]
    pub fn time_ms(&self, share: f64) -> Option<f64> {
        quantile(&self.completed_times_s(), share).map(|s| s * 1e3)
    }

    /// How often each colour (row, true) was read as each other (column), over
    /// all facelets of all trials; the diagonal is zero.
    #[must_use]
    pub fn confusion(&self) -> [[usize; 6]; 6] {
        let mut table = [[0; 6]; 6];
        for Mistake { read, truth, .. } in self.trials.iter().flat_map(|t| &t.score.mistakes) {
            table[truth.index()][read.index()] += 1;
        }
        table
    }

    /// Trials in which a facelet was taken for the other of two colours.
    #[must_use]
    pub fn cubes_confusing(&self, one: Face, other: Face) -> usize {
        self.count(|trial| trial.score.confused(one, other))
    }
}
