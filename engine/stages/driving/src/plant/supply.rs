//! The supply that all axes share: source, capacitor, chopper and brake resistor.
//!
//! The source gives `(V_s − V) / R` up to its limit and takes nothing back, so braking
//! pumps the capacitor up until the chopper burns what is too much. Implicit midpoint
//! rule for the capacitor.

use dryturn_handoff::{Energy, Power};
use dryturn_scene::file::{Faults, Supply};

/// How often the chopper may switch in one step.
const MOST_SWITCHES: usize = 1000;

/// A supply far too weak for its axes does not fall below this, whatever they take.
const LEAST_V: f64 = 1.0;

/// More than two axes give back when braking, W.
const ENOUGH_W: f64 = 250.0;
/// How far above the chopper's threshold the bus may be for a moment (assumed).
const PUMPED_V: f64 = 1.0;

/// The supply's figures, SI units.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Source {
    source_v: f64,
    /// Conductance of the source and its wires.
    source_s: f64,
    limit_a: f64,
    capacitance_f: f64,
    per_farad: f64,
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
            source_s: 1.0 / supply.source_resistance_ohm,
            limit_a: supply.source_current_limit_a,
            capacitance_f: supply.capacitance_uf * 1e-6,
            per_farad: 1e6 / supply.capacitance_uf,
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

    /// The bus does not stay above this: the chopper sees to it where it burns enough,
    /// else the drives.
    pub(crate) fn highest_v(&self) -> f64 {
        let burns_w = self.on_v * self.on_v * self.brake_s;
        let held_v = if burns_w > ENOUGH_W { self.on_v.min(self.over_v) } else { self.over_v };
        held_v.max(self.source_v) + PUMPED_V
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
    /// One step, in which the axes take `taken_j`, evenly. The chopper switches within it,
    /// where its voltages are passed: it is far quicker than a step. How often it did.
    pub(crate) fn step(
        &mut self,
        source: &Source,
        taken_j: f64,
        step_s: f64,
        energy: &mut Energy,
        power: &mut Power,
    ) -> u64 {
        if taken_j == 0.0 && !self.chopping && self.voltage_v == source.source_v {
            return 0;
        }
        let taken_w = taken_j / step_s;
        let mut left_s = step_s;
        let mut whole = self.change(source, taken_w, step_s);
        let mut switches = 0;
        for _ in 0..MOST_SWITCHES {
            let Some(share) = self.until_switch(source, whole.0) else { break };
            let part_s = share * left_s;
            self.go_on(source, part_s, self.change(source, taken_w, part_s), energy, power);
            self.chopping = !self.chopping;
            left_s -= part_s;
            switches += 1;
            whole = self.change(source, taken_w, left_s);
        }
        self.go_on(source, left_s, whole, energy, power);
        switches
    }

    /// Share of a change of voltage after which the chopper switches, where it does.
    fn until_switch(&self, source: &Source, change: f64) -> Option<f64> {
        let after = self.voltage_v + change;
        let (limit_v, passed) = if self.chopping {
            (source.off_v, after < source.off_v && !source.stuck_on)
        } else {
            (source.on_v, after > source.on_v)
        };
        passed.then(|| ((limit_v - self.voltage_v) / change).clamp(0.0, 1.0))
    }

    /// How the voltage changes in a stretch of time, and the source's current in it.
    fn change(&self, source: &Source, taken_w: f64, time_s: f64) -> (f64, f64) {
        let before = self.voltage_v;
        let brake_s = if self.chopping { source.brake_s } else { 0.0 };
        let per_farad = time_s * source.per_farad;
        // The axes take power: half-way, less current at a higher voltage.
        let load_a = taken_w / before;
        let load_s = brake_s - load_a / before;
        // With the source as a resistor, else as a constant current.
        let with = |constant_a: f64, slope: f64| {
            let change = per_farad * (constant_a - load_a - brake_s * before)
                / (1.0 + 0.5 * per_farad * (slope + load_s)).max(0.5);
            change.max(LEAST_V - before)
        };
        let slope = source.source_s;
        let change = with((source.source_v - before) * slope, slope);
        let source_a = (source.source_v - before - 0.5 * change) * slope;
        if (0.0..=source.limit_a).contains(&source_a) {
            return (change, source_a);
        }
        let source_a = source_a.clamp(0.0, source.limit_a);
        (with(source_a, 0.0), source_a)
    }

    #[inline]
    fn go_on(
        &mut self,
        source: &Source,
        time_s: f64,
        (change, source_a): (f64, f64),
        energy: &mut Energy,
        power: &mut Power,
    ) {
        let middle = self.voltage_v + 0.5 * change;
        let brake_s = if self.chopping { source.brake_s } else { 0.0 };
        let burnt_j = brake_s * middle * middle * time_s;
        self.voltage_v += change;
        energy.supply_j += source.source_v * source_a * time_s;
        energy.source_j += (source.source_v - middle) * source_a * time_s;
        energy.brake_j += burnt_j;
        self.resistor_k += burnt_j / source.heat_j_k - self.resistor_k * time_s / source.cooling_s;
        power.lowest_v = power.lowest_v.min(self.voltage_v);
        power.highest_v = power.highest_v.max(self.voltage_v);
        power.peak_w = power.peak_w.max(source.source_v * source_a);
        power.resistor_c = power.resistor_c.max(source.ambient_c + self.resistor_k);
    }

    pub(crate) fn resistor_c(&self, source: &Source) -> f64 {
        source.ambient_c + self.resistor_k
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What 8 ms of 200 W from braking axes make of a supply of 48 V.
    fn braking(supply: &Supply, step_s: f64) -> (Bus, Energy, Power) {
        let source = Source::of(48.0, supply, &Faults::default());
        let mut bus = source.bus();
        let before_j = source.stored_j(&bus);
        let (mut energy, mut power) =
            (Energy::default(), Power { lowest_v: 48.0, highest_v: 48.0, ..Power::default() });
        for _ in 0..(8e-3 / step_s).round() as usize {
            bus.step(&source, -200.0 * step_s, step_s, &mut energy, &mut power);
        }
        energy.stored_j = source.stored_j(&bus) - before_j;
        (bus, energy, power)
    }

    /// Where the chopper switches faster than the steps, its voltages hold all the same,
    /// next to nothing is lost, and the supply gives nothing.
    #[test]
    fn a_quick_chopper_holds_its_voltages() {
        for (capacitance_uf, chopper_hysteresis_v) in [(1000.0, 1.0), (300.0, 0.25), (50.0, 0.1)] {
            let supply = Supply { capacitance_uf, chopper_hysteresis_v, ..Supply::default() };
            let (bus, energy, power) = braking(&supply, 25e-6);
            assert!(power.highest_v < 50.01, "{power:?}");
            assert!(bus.voltage_v > 50.0 - chopper_hysteresis_v - 0.01, "{bus:?}");
            assert_eq!(energy.supply_j, 0.0);
            let lost = 1.6 - energy.brake_j - energy.stored_j;
            assert!(lost.abs() < 1e-4, "{lost} of {energy:?}");
        }
    }

    /// A supply's terminal voltage under a constant power: V² − V_s V + R P = 0.
    #[test]
    fn a_constant_power_load_settles_where_it_must() {
        let supply = Supply::default();
        let source = Source::of(48.0, &supply, &Faults::default());
        let mut bus = source.bus();
        let (mut energy, mut power) = (Energy::default(), Power::default());
        for _ in 0..2000 {
            bus.step(&source, 300.0 * 25e-6, 25e-6, &mut energy, &mut power);
        }
        let wanted = 24.0 + (24.0_f64 * 24.0 - supply.source_resistance_ohm * 300.0).sqrt();
        assert!((bus.voltage_v - wanted).abs() < 1e-9, "{} for {wanted}", bus.voltage_v);
    }

    #[test]
    fn a_supply_that_is_far_too_weak_stays_above_zero() {
        let supply =
            Supply { source_current_limit_a: 0.1, capacitance_uf: 50.0, ..Supply::default() };
        let source = Source::of(48.0, &supply, &Faults::default());
        let mut bus = source.bus();
        let (mut energy, mut power) = (Energy::default(), Power::default());
        for _ in 0..100 {
            bus.step(&source, 5000.0 * 25e-6, 25e-6, &mut energy, &mut power);
            assert!(bus.voltage_v >= LEAST_V, "{bus:?}");
        }
    }
}
