//! What logs tell, in words for a person.

use dryturn_metrology::motor::{Estimate, Identified, Parameter};

use crate::overlay::Overlay;

/// Below this share of what is off, nothing is explained.
const EXPLAINS_SHARE: f64 = 0.5;

/// A number with four significant digits, large and small ones with their power of ten.
fn number(value: f64) -> String {
    if value == 0.0 {
        return "0".to_owned();
    }
    if !(1e-2..1e5).contains(&value.abs()) {
        return format!("{value:.3e}");
    }
    let whole = value.abs().log10().floor() as i32;
    format!("{value:.*}", usize::try_from(3 - whole).unwrap_or(0))
}

fn estimate(found: &Identified, own: &Estimate) -> String {
    let (words, unit) = (own.parameter.words(), own.parameter.unit(found.over_inertia));
    let over = if found.over_inertia { " over inertia" } else { "" };
    match (&own.open, own.error, own.interval) {
        (None, Some(error), Some([low, high])) => format!(
            "{words}{over}: {} ± {} {unit}, 95 % within {} to {}",
            number(own.value),
            number(error),
            number(low),
            number(high)
        ),
        (why, ..) => format!(
            "{words}{over}: cannot be determined from this log, because {}",
            why.as_deref().unwrap_or("it was not looked for")
        ),
    }
}

/// What an axis's logs tell of it, a line each.
#[must_use]
pub fn identified_words(found: &Identified) -> Vec<String> {
    let mut lines = vec![format!(
        "Axis measured from {} moves ({} samples in motion, low-pass {:.0} Hz both ways); ± is one \
         standard error.",
        found.moves.len(),
        found.rows,
        found.corner_hz
    )];
    lines.push(if found.over_inertia {
        "No currents were logged: a coasting axis tells friction over inertia alone.".to_owned()
    } else {
        format!(
            "Torques stand on the drawn torque constant, {} N·m/A: what is determined is each figure \
             over it.",
            number(found.constant_n_m_per_a)
        )
    });
    lines.extend(found.estimates.iter().map(|own| estimate(found, own)));
    let unit = Parameter::Coulomb.unit(found.over_inertia);
    let [speed, friction] = found.friction_at;
    lines.push(format!(
        "friction in all at {speed:.0} rad/s: {} {unit} (Coulomb and viscous together)",
        number(friction)
    ));
    lines.push(format!("condition number of the scaled columns {:.1}", found.condition_ratio));
    for limit in &found.limits {
        let value = limit.reached.map_or_else(String::new, |reached| {
            format!("{} {}; ", number(reached), limit.kind.unit())
        });
        lines.push(format!("{}: {value}{}", limit.kind.words(), limit.because));
    }
    let held = &found.held_out;
    lines.push(format!(
        "move {}, kept out of the fit: torque predicted within {:.1} %, angle computed from the current \
         within {:.1} % ({:+.1}° at the end): {}",
        held.number,
        100.0 * held.torque_off_share,
        100.0 * held.angle_off_share,
        held.end_off_deg,
        if held.accepted() { "accepted" } else { "not accepted" }
    ));
    lines
}

/// What a log laid over the simulated run tells, a line each.
#[must_use]
pub fn overlay_words(overlay: &Overlay) -> Vec<String> {
    let beats = overlay.beats.len();
    let mut lines = vec![format!(
        "{beats} of {} beats compared; times of turns and hand-overs are off by {:.2} ms (root mean \
         square).",
        overlay.plan.beats.len(),
        overlay.rms_ms
    )];
    if overlay.ends_early {
        lines.push(format!("The log ends early, in beat {}.", beats + 1));
    }
    if let Some(last) = overlay.beats.last() {
        lines.push(format!("The last beat starts {:+.1} ms late.", last.late_ms));
    }
    for held in &overlay.held_up {
        lines.push(format!(
            "Beat {}, {}: {} takes {:+.1} ms more than any one figure explains; left out.",
            held.beat + 1,
            held.turn,
            held.stretch.words(),
            held.longer_ms
        ));
    }
    let Some(best) = overlay.causes.first() else {
        lines.push("The log agrees with the drawing: there is nothing to explain.".to_owned());
        return lines;
    };
    if best.explained_share < EXPLAINS_SHARE {
        lines.push(format!(
            "No single figure explains it: the best, {}, explains {:.0} %.",
            best.words,
            100.0 * best.explained_share
        ));
        return lines;
    }
    for cause in overlay.causes.iter().take(5) {
        lines.push(format!(
            "{} ({}): {} instead of {} explains {:.1} %, leaves {:.2} ms{}",
            cause.words,
            cause.field,
            number(cause.value),
            number(cause.drawn),
            100.0 * cause.explained_share,
            cause.rms_ms,
            if cause.as_good { "" } else { "; less than the best" }
        ));
    }
    let as_good: Vec<&str> = overlay.likely().map(|cause| cause.words).collect();
    lines.push(if as_good.len() > 1 {
        format!("These explain it equally well and cannot be told apart: {}.", as_good.join(", "))
    } else {
        format!("Best explained by: {}.", best.words)
    });
    lines
}

impl Overlay {
    /// Whether some single figure explains at least half of what is off.
    #[must_use]
    pub fn explained(&self) -> bool {
        self.causes.first().is_some_and(|best| best.explained_share >= EXPLAINS_SHARE)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_have_four_digits() {
        let shown = [8e-5, 0.1703, 2.0, -91.26, 4553.2, 0.0].map(number);
        assert_eq!(shown, ["8.000e-5", "0.1703", "2.000", "-91.26", "4553", "0"]);
    }
}
