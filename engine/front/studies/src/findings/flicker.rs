//! Lamps that flicker, and what an exposure shows of it.

use core::f64::consts::PI;

use dryturn_scene::file::{FlickerWave, Lamp, Shutter};
use dryturn_units::maths;

use super::lit::Lit;
use super::{Finding, FindingKind as Kind};

/// Brightness that differs by more than this from shot to shot or row to row.
const MUCH_FLICKER: f64 = 0.1;

/// Largest difference of a lamp's light from one exposure to another, over its mean.
fn modulation(lamp: &Lamp, exposure_s: f64) -> f64 {
    let periods = lamp.flicker_hz * exposure_s;
    match lamp.flicker_wave {
        // The mean of a sine over a window: its amplitude times sin x / x.
        FlickerWave::Sine => {
            2.0 * lamp.flicker_depth_share * (maths::sin(PI * periods) / (PI * periods)).abs()
        }
        FlickerWave::Pulse => {
            let (on, rest) = (lamp.flicker_duty_share, periods - periods.floor());
            let low = 1.0 - lamp.flicker_depth_share;
            let part = rest.min(on) - (rest - (1.0 - on)).max(0.0);
            (1.0 - low) * part / (periods * (low + (1.0 - low) * on))
        }
    }
}

pub(super) fn flicker(lit: &Lit<'_>, camera: usize, number: usize) -> Option<Finding> {
    let file = lit.scene.file();
    let (settings, lamp) = (&file.cameras[camera], &file.lamps[number]);
    // A locked lamp is the same in every shot, and a global shutter the same in every row.
    let seen = !lamp.flicker_locked || settings.shutter == Shutter::Rolling;
    if lamp.flicker_depth_share == 0.0 || !seen || settings.auto_exposure_share > 0.0 {
        return None;
    }
    let lux = lit.mean_lux(camera);
    let share = lux[number] / lux.iter().sum::<f64>().max(1e-9);
    let period_ms = 1e3 / lamp.flicker_hz;
    let varies = |exposure_ms: f64| share * modulation(lamp, exposure_ms * 1e-3);
    let says = |what: &str, exposure_ms: f64| {
        format!(
            "lamp {} flickers at {} Hz, {:.2} periods in {what}: its light varies by {:.0} %",
            lamp.name,
            lamp.flicker_hz,
            exposure_ms / period_ms,
            100.0 * varies(exposure_ms)
        )
    };
    let finding = |field: &str, exposure_ms: f64| {
        Finding::doubtful(Kind::FlickerShows, lit.field(camera, field))
            .figure("varies_share", varies(exposure_ms))
            .figure("periods", exposure_ms / period_ms)
    };
    let first_ms = settings.exposure_ms;
    if varies(first_ms) > MUCH_FLICKER {
        let whole = (first_ms / period_ms).round().max(1.0);
        let advice = format!("{:.3} ms are whole periods", whole * period_ms);
        return Some(finding("exposure_ms", first_ms).says(says("an exposure", first_ms), advice));
    }
    let darker_ms = settings.darker()?.exposure_ms;
    (varies(darker_ms) > MUCH_FLICKER).then(|| {
        let whole = (1.0 / settings.bracket_share).round();
        let advice = format!(
            "at {:.3} ms and a share of {:.3} both pictures have whole periods",
            whole * period_ms,
            1.0 / whole
        );
        finding("bracket_share", darker_ms)
            .says(says("its darker picture's exposure", darker_ms), advice)
    })
}

#[cfg(test)]
mod tests {
    use dryturn_scene::Scene;

    use super::*;

    /// By adding up many exposures that start anywhere in the period.
    #[test]
    fn modulation_is_what_exposures_vary_by() {
        let text = include_str!("../../../../../scenes/workbench.ron");
        let mut lamp = Scene::parse(text, "workbench").unwrap().file().lamps[0].clone();
        for wave in [FlickerWave::Sine, FlickerWave::Pulse] {
            for (depth, duty, exposure_s) in
                [(0.3, 0.5, 0.004), (1.0, 0.2, 0.013), (0.6, 0.8, 0.0371), (0.5, 0.5, 0.01)]
            {
                (lamp.flicker_depth_share, lamp.flicker_wave) = (depth, wave);
                (lamp.flicker_hz, lamp.flicker_duty_share) = (100.0, duty);
                let light = |t: f64| {
                    let phase = (t * 100.0).rem_euclid(1.0);
                    match wave {
                        FlickerWave::Sine => 1.0 + depth * maths::sin(2.0 * PI * phase),
                        FlickerWave::Pulse if phase < duty => 1.0,
                        FlickerWave::Pulse => 1.0 - depth,
                    }
                };
                let mean = |start: f64, length: f64| {
                    let at = |i: i32| light(start + length * (f64::from(i) + 0.5) / 4000.0);
                    (0..4000).map(at).sum::<f64>() / 4000.0
                };
                let shots: Vec<f64> =
                    (0..200).map(|k| mean(f64::from(k) * 5e-5, exposure_s)).collect();
                let (low, high) = shots
                    .iter()
                    .fold((f64::INFINITY, 0.0), |(a, b): (f64, f64), s| (a.min(*s), b.max(*s)));
                let wanted = (high - low) / mean(0.0, 0.01);
                let found = modulation(&lamp, exposure_s);
                assert!((found - wanted).abs() < 0.02, "{wave:?} {depth}: {found}, {wanted}");
            }
        }
    }
}
