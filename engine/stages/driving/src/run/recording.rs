//! The trace of a run, sample by sample.

use dryturn_handoff::{Trace, neighbours};
use dryturn_units::degrees;

use super::Detail;
use crate::execution::Execution;

/// Time between samples of the trace, about.
const SAMPLE_S: f64 = 5e-4;
/// A trace with so many samples is thinned out by half, and goes on in steps twice as long: a
/// minute in the steps that it begins with.
const MOST_SAMPLES: usize = 120_000;

/// What is kept as the run goes on.
pub(super) struct Recording {
    detail: Detail,
    pub(super) trace: Trace,
    per_sample: usize,
}

impl Recording {
    pub(super) fn new(detail: Detail, tick_s: f64) -> Self {
        let per_sample = ((SAMPLE_S / tick_s).round() as usize).max(1);
        Self { detail, trace: Trace::default(), per_sample }
    }

    /// Takes a sample, if it is time for one.
    pub(super) fn sample(&mut self, execution: &Execution<'_>) {
        if self.detail == Detail::Figures || !execution.tick.is_multiple_of(self.per_sample) {
            return;
        }
        let trace = &mut self.trace;
        if trace.angles_deg.len() >= MOST_SAMPLES {
            trace.thin_out();
            self.per_sample *= 2;
        }
        trace.step_s = self.per_sample as f64 * execution.machine.tick_s;
        let axes = &execution.axes;
        trace.angles_deg.push(core::array::from_fn(|i| degrees(axes[i].moving.layer_rad)));
        trace.encoders_deg.push(core::array::from_fn(|i| {
            degrees(execution.built.axes[i].encoder.reads(axes[i].moving.motor_rad))
        }));
        trace.speeds_rad_s.push(core::array::from_fn(|i| axes[i].moving.motor_rad_s));
        trace.currents_a.push(core::array::from_fn(|i| axes[i].moving.current_a));
        trace.gaps_mm.push(neighbours().map(|(one, other)| {
            let (one, other) = (&axes[one.index()], &axes[other.index()]);
            let (late, turning) = if one.order < other.order { (one, other) } else { (other, one) };
            let interlock = &execution.built.contact.interlock;
            interlock.gap_mm(late.off_stop_rad(), turning.turned_rad())
        }));
        trace.bus_v.push(execution.bus.voltage_v);
        trace.resistor_c.push(execution.bus.resistor_c(&execution.machine.source));
        trace.winding_c.push(execution.hottest_c());
    }
}
