//! The supply that all axes share: source, capacitor, chopper and brake resistor.
//!
//! The source gives `(V_s − V) / R` up to its limit and takes nothing back, so braking
//! pumps the capacitor up until the chopper burns what is too much. Implicit midpoint
//! rule for the capacitor.

use dryturn_handoff::{Energy, Power};
use dryturn_scene::file::{Faults, Supply};

/// A bus that breaks down keeps this.
const LEAST_V: f64 = 0.5;

/// How far above the chopper's threshold the bus may be for a moment (assumed).
const PUMPED_V: f64 = 1.0;

/// The supply's figures, SI units.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Source {
    source_v: f64,
    resistance_ohm: f64,
    limit_a: f64,
    capacitance_f: f64,
    on_v: f64,
    off_v: f64,
    brake_s: f64,
    heat_j_k: f64,
    cooling_s: f64,
    pub(crate) limit_c: f64,
    pub(crate) over_v: f64,
    pub(crate) under_v: f64,
    pub(crate) ambient_c: f64,
    stuck_on: bool,
}

/// The bus at one moment.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Bus {
    pub(crate) voltage_v: f64,
    chopping: bool,
    /// Of the brake resistor, above ambient.
    resistor_k: f64,
}

impl Source {
    pub(crate) fn of(source_v: f64, supply: &Supply, faults: &Faults) -> Self {
        let on_v = source_v + supply.chopper_above_v;
        Self {
            source_v,
            resistance_ohm: supply.source_resistance_ohm,
            limit_a: supply.source_current_limit_a,
            capacitance_f: supply.capacitance_uf * 1e-6,
            on_v,
            off_v: on_v - supply.chopper_hysteresis_v,
            brake_s: 1.0 / supply.brake_resistor_ohm,
            heat_j_k: supply.resistor_heat_capacity_j_per_k,
            cooling_s: supply.resistor_cooling_s,
            limit_c: supply.resistor_limit_c,
            over_v: supply.over_voltage_v,
            under_v: supply.under_voltage_share * source_v,
            ambient_c: supply.ambient_c,
            stuck_on: faults.chopper_stuck_on,
        }
    }

    /// The bus does not stay above this: the chopper, or the drives, see to it.
    pub(crate) fn highest_v(&self) -> f64 {
        self.on_v.min(self.over_v).max(self.source_v) + PUMPED_V
    }

    pub(crate) fn bus(&self) -> Bus {
        Bus { voltage_v: self.source_v, chopping: self.stuck_on, resistor_k: 0.0 }
    }

    /// What the capacitor holds, J.
    pub(crate) fn stored_j(&self, bus: &Bus) -> f64 {
        0.5 * self.capacitance_f * bus.voltage_v * bus.voltage_v
    }
}

impl Bus {
    /// One step, in which the axes take `taken_j`.
    pub(crate) fn step(
        &mut self,
        source: &Source,
        taken_j: f64,
        step_s: f64,
        energy: &mut Energy,
        power: &mut Power,
    ) {
        if taken_j == 0.0 && !self.chopping && self.voltage_v == source.source_v {
            return;
        }
        let before = self.voltage_v;
        let load_a = taken_j / (step_s * before);
        let brake_s = if self.chopping { source.brake_s } else { 0.0 };
        let per_farad = step_s / source.capacitance_f;
        // With the source as a resistor, else as a constant current.
        let slope = 1.0 / source.resistance_ohm;
        let with = |constant_a: f64, slope: f64| {
            per_farad * (constant_a - load_a - brake_s * before)
                / (1.0 + 0.5 * per_farad * (slope + brake_s))
        };
        let mut change = with((source.source_v - before) * slope, slope);
        let middle = before + 0.5 * change;
        let mut source_a = (source.source_v - middle) * slope;
        if !(0.0..=source.limit_a).contains(&source_a) {
            source_a = source_a.clamp(0.0, source.limit_a);
            change = with(source_a, 0.0);
        }
        let middle = before + 0.5 * change;
        // Drives let go long before; what they cannot get is not there.
        self.voltage_v = (before + change).max(LEAST_V);
        if self.voltage_v > source.on_v {
            self.chopping = true;
        } else if self.voltage_v < source.off_v {
            self.chopping = source.stuck_on;
        }
        let burnt_j = brake_s * middle * middle * step_s;
        energy.supply_j += source.source_v * source_a * step_s;
        energy.source_j += (source.source_v - middle) * source_a * step_s;
        energy.brake_j += burnt_j;
        self.resistor_k += burnt_j / source.heat_j_k - self.resistor_k * step_s / source.cooling_s;
        power.lowest_v = power.lowest_v.min(self.voltage_v);
        power.highest_v = power.highest_v.max(self.voltage_v);
        power.peak_w = power.peak_w.max(source.source_v * source_a);
        power.resistor_c = power.resistor_c.max(source.ambient_c + self.resistor_k);
    }

    pub(crate) fn resistor_c(&self, source: &Source) -> f64 {
        source.ambient_c + self.resistor_k
    }
}
