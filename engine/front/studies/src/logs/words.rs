//! What logs tell, in words for a person.

use dryturn_metrology::motor::{Estimate, Identified, Parameter};

use crate::digits::number;
use crate::overlay::{Explained, HowExplained, Overlay, SingleCause};

/// Below this share of what is off, nothing is explained.
const EXPLAINS_SHARE: f64 = 0.5;
/// So many causes are listed, or all that cannot be told apart.
const LISTED_CAUSES: usize = 5;

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
    let (moves, rows) = (found.moves.len(), found.rows);
    let mut lines = vec![match &found.slow {
        None => format!(
            "Axis measured from {moves} moves ({rows} samples in motion, low-pass {:.0} Hz both ways); ± is \
             one standard error.",
            found.corner_hz
        ),
        Some(slow) => {
            let how = match slow.current_off_a {
                Some(off) => format!(
                    "under its drawn controller and profile (angles off by {:.3}°, currents by {} A",
                    slow.angle_off_deg,
                    number(off)
                ),
                None => format!("as it coasts (angles off by {:.3}°", slow.angle_off_deg),
            };
            format!(
                "Axis measured from {moves} moves of a slow log ({rows} samples in motion, {:.1} ms apart) \
                 by simulating it {how}, root mean square); ± is one standard error, wider than that of a \
                 log of 1000 samples a second.",
                slow.step_ms
            )
        }
    }];
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
    let computed = if found.over_inertia && found.slow.is_some() {
        "angle computed from its own first angle and speed"
    } else if found.slow.is_some() {
        "angle simulated along the course that its angles tell"
    } else {
        "angle computed from the current"
    };
    lines.push(format!(
        "move {}, kept out of the fit: torque predicted within {:.1} %, {computed} \
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
    let OverlayWords { facts, causes, verdict, told } = OverlayWords::of(overlay);
    facts.into_iter().chain(causes).chain([verdict]).chain(told).collect()
}

/// What a log laid over the simulated run tells, in parts.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OverlayWords {
    /// How much was compared, and how far it is off, a line each.
    pub facts: Vec<String>,
    /// What each figure by itself would explain, the best first; empty where none explains half.
    pub causes: Vec<String>,
    /// What to make of it.
    pub verdict: String,
    /// Which sets of figures explain it, and all figures fitted together, a line each.
    pub told: Vec<String>,
}

impl OverlayWords {
    /// Of an overlay.
    #[must_use]
    pub fn of(overlay: &Overlay) -> Self {
        let causes = if overlay.explained() {
            // All that cannot be told apart stand together at the top.
            let shown = overlay.likely().count().max(LISTED_CAUSES);
            overlay.causes.iter().take(shown).map(cause).collect()
        } else {
            Vec::new()
        };
        let told = overlay.sets.as_ref().map_or_else(Vec::new, Explained::told_words);
        Self { facts: facts(overlay), causes, verdict: verdict(overlay), told }
    }
}

fn late(late_ms: f64) -> String {
    let way = if late_ms < 0.0 { "early" } else { "late" };
    format!("{:.1} ms {way}", late_ms.abs())
}

fn facts(overlay: &Overlay) -> Vec<String> {
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
        lines.push(format!("The last beat starts {}.", late(last.late_ms)));
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
    lines
}

fn cause(cause: &SingleCause) -> String {
    format!(
        "{} ({}) by itself: {} instead of {} explains {:.1} %, leaves {:.2} ms{}",
        cause.words,
        cause.field,
        number(cause.value),
        number(cause.drawn),
        100.0 * cause.explained_share,
        cause.rms_ms,
        if cause.as_good { "" } else { "; less than the best one" }
    )
}

fn verdict(overlay: &Overlay) -> String {
    let Some(sets) = &overlay.sets else {
        return "Too few simulated rigs get through this plan to tell what rigs differ by \
                themselves: sets of figures were not fitted, and no cause is certain."
            .to_owned();
    };
    match (overlay.causes.first(), sets.outcome) {
        (None, HowExplained::AsDrawn) => {
            "The log agrees with the drawing: there is nothing to explain.".to_owned()
        }
        (Some(best), HowExplained::Unexplained) if !overlay.explained() => format!(
            "No single figure explains it: the best, {}, explains {:.0} %. {}",
            best.words,
            100.0 * best.explained_share,
            sets.verdict()
        ),
        _ => sets.verdict(),
    }
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
    fn nothing_is_late_by_less_than_nothing() {
        assert_eq!(
            [-584.7, 0.0, 12.34].map(late),
            ["584.7 ms early", "0.0 ms late", "12.3 ms late"]
        );
    }
}
