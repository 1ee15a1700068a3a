//! The script that lies on the desk, and what its last run left to look at.

use std::path::PathBuf;
use std::sync::Arc;

use dryturn_record::{Exhibit, Record};
use dryturn_rehearsal::Pass;
use dryturn_studies::Drill;

use crate::workers::clerk::Clerk;

/// A script in the window.
#[derive(Default)]
pub(crate) struct Rehearsed {
    pub(crate) path: PathBuf,
    pub(crate) text: String,
    /// Line of the last error, from 1.
    pub(crate) error_line: Option<usize>,
    pub(crate) clerk: Option<Clerk>,
    /// What, done and all, while it runs.
    pub(crate) progress: (String, usize, usize),
    pub(crate) record: Option<Record>,
    /// Which exhibit of the record is looked at.
    pub(crate) shown: usize,
}

impl Rehearsed {
    /// What the run left to look at, in the script's order.
    pub(crate) fn exhibits(&self) -> &[Exhibit] {
        self.record.as_ref().map_or(&[], |record| &record.exhibits)
    }

    /// The pass that is looked at.
    pub(crate) fn pass(&self) -> Option<&Arc<Pass>> {
        match self.exhibits().get(self.shown) {
            Some(Exhibit::Pass(pass)) => Some(pass),
            _ => None,
        }
    }

    /// The drill that is looked at.
    pub(crate) fn drill(&self) -> Option<&Arc<Drill>> {
        match self.exhibits().get(self.shown) {
            Some(Exhibit::Drill(drill)) => Some(drill),
            _ => None,
        }
    }

    /// One exhibit in a few words.
    pub(crate) fn title(&self, index: usize) -> String {
        let number = index + 1;
        match self.exhibits().get(index) {
            Some(Exhibit::Pass(pass)) => {
                format!("{number}: pass, {}, {}", pass.scene.file().name, pass.verdict.word())
            }
            Some(Exhibit::Drill(drill)) => {
                format!("{number}: drill of {}, {}", drill.trials.len(), drill.scene.file().name)
            }
            Some(Exhibit::Survey(surveyed)) => {
                format!("{number}: survey, {} (in the report)", surveyed.scene.file().name)
            }
            Some(Exhibit::Readers(shown)) => {
                format!("{number}: ways to read, {} (in the report)", shown.0)
            }
            Some(Exhibit::Sheet(sheet)) => {
                format!("{number}: contact sheet, {} (in the report)", sheet.0)
            }
            Some(Exhibit::Run(shown)) => {
                format!("{number}: execution, {} (in the report)", shown.title)
            }
            Some(Exhibit::Turning(drill)) => {
                let (count, name) = (drill.trials(), &drill.scene.file().name);
                format!("{number}: {count} executions, {name} (in the report)")
            }
            Some(Exhibit::Sweep(sweep)) => {
                format!("{number}: sweep, {} (in the report)", sweep.title)
            }
            Some(Exhibit::Tuning(tuning)) => {
                format!("{number}: tuning, {} (in the report)", tuning.request.scene.file().name)
            }
            Some(Exhibit::Budgets(budgets)) => {
                let name = &budgets.scene.file().name;
                format!("{number}: search budgets, {name} (in the report)")
            }
            Some(Exhibit::Comparison(comparison)) => {
                let (count, name) = (comparison.cubes.len(), &comparison.safe.file().name);
                format!("{number}: {count} cubes compared, {name} (in the report)")
            }
            Some(Exhibit::Identified(shown)) => {
                format!("{number}: axis measured, {} (in the report)", shown.title)
            }
            Some(Exhibit::Overlay(shown)) => {
                format!("{number}: log over run, {} (in the report)", shown.title)
            }
            None => String::new(),
        }
    }
}
