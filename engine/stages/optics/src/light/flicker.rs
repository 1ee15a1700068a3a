//! Lamps whose light goes up and down, seen through an exposure.

use core::f64::consts::TAU;

use dryturn_scene::file::{FlickerWave, Lamp};
use dryturn_units::noise::Seed;
use dryturn_units::{maths, radians};

/// A wave's level over time, with mean 1.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Wave {
    /// `1 + depth · cos(2π f t + phase)`.
    Sine {
        /// 0 to 1.
        depth: f64,
    },
    /// High for a share of the period, low for the rest.
    Pulse {
        /// How far below the high level the low one is, as a share of it.
        depth: f64,
        /// Share of the period that is high.
        duty: f64,
    },
}

/// A flickering light: wave, frequency and phase.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Flicker {
    /// Shape of the wave.
    pub wave: Wave,
    /// Periods a second.
    pub hz: f64,
    /// Phase at time 0, radians: of the cosine, or of the pulse's start.
    pub phase_rad: f64,
}

impl Flicker {
    /// How a lamp flickers in one shot: at its own phase where that is locked, else at
    /// one drawn for the shot. Lamps that follow the mains (sines) share the draw.
    pub(crate) fn of(lamp: &Lamp, number: usize, (seed, name, trial): (Seed, &str, u64)) -> Self {
        let wave = match lamp.flicker_wave {
            FlickerWave::Sine => Wave::Sine { depth: lamp.flicker_depth_share },
            FlickerWave::Pulse => {
                Wave::Pulse { depth: lamp.flicker_depth_share, duty: lamp.flicker_duty_share }
            }
        };
        let own = if lamp.flicker_wave == FlickerWave::Sine { 0 } else { 1 + number as u64 };
        let drawn = || TAU * seed.stream(&format!("flicker-{name}"), trial, own).uniform();
        let drawn = if lamp.flicker_locked { 0.0 } else { drawn() };
        Self { wave, hz: lamp.flicker_hz, phase_rad: radians(lamp.flicker_phase_deg) + drawn }
    }

    /// Mean level from `start_s` over `length_s`, 1 for a steady light. In closed form:
    /// for a sine `1 + m sinc(f T) cos(…)`, for a pulse the overlap with its high times.
    #[must_use]
    pub fn mean(&self, start_s: f64, length_s: f64) -> f64 {
        let periods = self.hz * length_s;
        let phase = self.phase_rad / TAU + self.hz * start_s;
        match self.wave {
            Wave::Sine { depth } => {
                let half = core::f64::consts::PI * periods;
                let sinc = if half < 1e-9 { 1.0 } else { maths::sin(half) / half };
                1.0 + depth * sinc * maths::cos(TAU * phase + half)
            }
            Wave::Pulse { depth, duty } => {
                // High time from 0 to a place in periods.
                let high = |place: f64| {
                    let whole = place.floor();
                    whole * duty + (place - whole).min(duty)
                };
                let share = if periods < 1e-12 {
                    f64::from(u8::from(phase - phase.floor() < duty))
                } else {
                    (high(phase + periods) - high(phase)) / periods
                };
                let mean = duty + (1.0 - duty) * (1.0 - depth);
                (share + (1.0 - share) * (1.0 - depth)) / mean
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Against sums over many instants.
    #[test]
    fn means_are_what_instants_add_up_to() {
        for wave in [
            Wave::Sine { depth: 0.7 },
            Wave::Pulse { depth: 1.0, duty: 0.3 },
            Wave::Pulse { depth: 0.6, duty: 0.8 },
        ] {
            let flicker = Flicker { wave, hz: 100.0, phase_rad: 1.3 };
            for (start, length) in [(0.0, 0.004), (0.0123, 0.0007), (0.4, 0.033)] {
                let n = 20_000;
                let at = |i: i32| start + length * (f64::from(i) + 0.5) / f64::from(n);
                let sum: f64 = (0..n).map(|i| flicker.mean(at(i), 0.0)).sum();
                let mean = flicker.mean(start, length);
                assert!((mean - sum / f64::from(n)).abs() < 2e-4, "{wave:?}: {mean}");
            }
            // A whole number of periods shows no flicker.
            assert!((flicker.mean(0.0037, 0.03) - 1.0).abs() < 1e-12);
        }
    }
}
