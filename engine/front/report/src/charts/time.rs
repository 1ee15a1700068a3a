//! The time axis of a run, shared by all its charts.

use dryturn_handoff::Run;

use crate::charts::chart::{Below, Chart, Plot};
use crate::charts::scale::Scale;

/// Room that the axis takes below a plot, px.
pub(crate) const ROOM: f64 = 38.0;

const LAYOUT: Below = Below { across: true, end: 4.0, figures: 18.0, name: 32.0 };

/// When a run's charts end, s: with the trace or the run, whichever is later.
pub(crate) fn end_s(run: &Run) -> f64 {
    let traced_s = run.trace.step_s * run.trace.angles_deg.len() as f64;
    let end_s = traced_s.max(run.total_s).max(1e-3);
    if end_s.is_finite() { end_s } else { 1e-3 }
}

/// The scale of a run, ms.
pub(crate) fn scale(run: &Run, plot: &Plot) -> Scale {
    plot.across((0.0, end_s(run) * 1e3), 0.0)
}

/// Lines at round times over a plot, their figures and the axis's name below it.
pub(crate) fn axis(chart: &mut Chart, x: &Scale) {
    chart.axis_below(&LAYOUT, x, 14, "time from the start, ms");
}
