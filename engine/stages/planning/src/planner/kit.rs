//! The tables of one metric, as far as they are built or handed in.

use std::sync::{Arc, Mutex, OnceLock, PoisonError};

use crate::bounds::{Compact, Metric};
use crate::search::Tails;
use crate::state::{Pieces, StepTables};

/// A large table in memory or mapped into it.
pub type TableBytes = Box<dyn AsRef<[u8]> + Send + Sync>;

/// Tables of one metric's steps.
pub(super) struct Kit {
    pub(super) tables: StepTables,
    pub(super) compact: Compact,
    pub(super) motions: Vec<Pieces>,
    /// By the costs they were made for.
    tails: Mutex<Vec<(Vec<u32>, Arc<Tails>)>>,
    pub(super) large: OnceLock<[TableBytes; 2]>,
}

impl Kit {
    pub(super) fn new(metric: Metric) -> Self {
        let tables = StepTables::new(metric.steps());
        Self {
            compact: Compact::new(&tables),
            motions: tables.motions(),
            tables,
            tails: Mutex::new(Vec::new()),
            large: OnceLock::new(),
        }
    }

    pub(super) fn tails(&self, costs: &[u32]) -> Arc<Tails> {
        let mut all = self.tails.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some((_, tails)) = all.iter().find(|(made_for, _)| made_for == costs) {
            return tails.clone();
        }
        let tails = Arc::new(Tails::new(&self.tables, costs, &self.motions));
        all.push((costs.to_vec(), tails.clone()));
        tails
    }
}
