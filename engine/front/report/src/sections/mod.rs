//! Sections of pages: each shows one kind of exhibit, with tables of [`crate::html`] and
//! [`crate::charts`]. A section may show parts of another; none knows on which page it stands.

pub(crate) mod budgets;
pub(crate) mod cautions;
pub(crate) mod comparison;
mod confusion;
pub(crate) mod drill;
pub(crate) mod expectations;
mod failures;
pub(crate) mod identified;
mod names;
pub(crate) mod overlay;
pub(crate) mod pass;
pub(crate) mod readers;
pub(crate) mod run;
pub(crate) mod sheet;
pub(crate) mod survey;
pub(crate) mod sweep;
pub(crate) mod tune;
pub(crate) mod turning;
