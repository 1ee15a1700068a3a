//! Sets of figures that explain a log, in words for a person.

use core::fmt::Write as _;

use crate::digits::number;
use crate::overlay::{
    Explained, FigurePlace, FigureSets, FittedFigure, HowExplained, MOST_FIGURES, NAMED_CORRELATION,
};

/// What would tell figures apart that a run's log does not.
const HINTS: [(&[&str], &str); 8] = [
    (
        &["link.command_latency_ms", "drive.overhead_ms", "handover.settle_dwell_ms"],
        "Latency, overhead and dwell add up to one wait before each beat: time the link by itself \
         (a command against the axis's first movement), and read the dwell from the host's \
         settings.",
    ),
    (
        &["drive.bus_voltage_v", "drive.torque_setting_n_m_per_v"],
        "Where voltage acts through the torque setting alone, a run cannot tell them apart: \
         measure the bus voltage with a meter rated for it.",
    ),
    (
        &["drive.torque_limit_n_m", "drive.planned_torque_share"],
        "A log at another planned share of torque, half of it say, tells limit and share apart.",
    ),
    (
        &["drive.speed_constant_rpm_per_v"],
        "The torque constant alone: the voltage that a motor gives when it is driven at a known \
         speed, or its maker's figure.",
    ),
    (
        &["drive.friction_torque_n_m", "drive.rotor_inertia_kg_m2"],
        "A coasting log of one axis (`dryturn identify`) tells friction over inertia, whatever the \
         torque.",
    ),
    (
        &["drive.speed_limit_rad_s", "drive.acceleration_limit_rad_s2"],
        "The limits of the profiles stand in the host's or the drive's settings: read them there, \
         or log one slow and one fast move.",
    ),
    (
        &["handover.settle_window_deg", "handover.release_angle_deg"],
        "The window or the release angle stands in the host's settings: read it there.",
    ),
    (
        &["handover.clearance_margin_deg"],
        "The clearance margin stands in the host's settings: read it there.",
    ),
];

/// `a, b and c`.
fn listed(names: &[&str], last: &str) -> String {
    match names {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [rest @ .., end] => format!("{} {last} {end}", rest.join(", ")),
    }
}

impl Explained {
    fn names(&self, figures: &[usize]) -> Vec<&'static str> {
        figures.iter().map(|&k| self.figures[k].words).collect()
    }

    fn place(&self, place: &FigurePlace) -> String {
        let names = self.names(&place.any_of);
        let all = names.len();
        match place.count {
            _ if all == 1 => names[0].to_owned(),
            [least, _] if least == all => listed(&names, "and"),
            [1, 1] => format!("one of ({})", listed(&names, "or")),
            [1, most] if most == all => format!("one or more of ({})", listed(&names, "or")),
            [least, most] if least == most => format!("{least} of ({})", listed(&names, "or")),
            [least, most] => format!("{least} to {most} of ({})", listed(&names, "or")),
        }
    }

    /// What one line of sets says: `inertia; one of (bus voltage or torque setting)`.
    #[must_use]
    pub fn line_words(&self, line: &FigureSets) -> String {
        let (single, several): (Vec<&FigurePlace>, Vec<&FigurePlace>) =
            line.places.iter().partition(|place| place.any_of.len() == 1);
        let all: Vec<String> =
            single.into_iter().chain(several).map(|place| self.place(place)).collect();
        all.join(" + ")
    }

    /// The likeliest set of a line with its values.
    #[must_use]
    pub fn line_values(&self, line: &FigureSets) -> String {
        let sets = line.sets(MOST_FIGURES);
        let best = self.told.iter().find(|told| sets.contains(&told.set));
        let figures = best.map_or(&[][..], |told| &told.figures);
        let all: Vec<String> = figures.iter().map(value).collect();
        all.join("; ")
    }

    /// Pairs of figures that only move together in the joint fit, with their correlation.
    #[must_use]
    pub fn tied(&self) -> Vec<(&FittedFigure, &FittedFigure, f64)> {
        let size = self.figures.len();
        let pairs = (0..size).flat_map(|i| (i + 1..size).map(move |j| (i, j)));
        pairs
            .map(|(i, j)| (&self.figures[i], &self.figures[j], self.correlations[i * size + j]))
            .filter(|(.., correlation)| correlation.abs() > NAMED_CORRELATION)
            .collect()
    }

    /// What would tell apart what the log does not.
    #[must_use]
    pub fn hints(&self) -> Vec<&'static str> {
        let contested = |field: &str| {
            let holds = self
                .told
                .iter()
                .filter(|told| told.figures.iter().any(|own| own.field == field))
                .count();
            holds > 0 && holds < self.told.len()
        };
        let wanted = HINTS.iter().filter(|(fields, _)| fields.iter().any(|own| contested(own)));
        wanted.map(|(_, hint)| *hint).collect()
    }

    /// What comes of it, in one sentence or two.
    #[must_use]
    pub fn verdict(&self) -> String {
        let only = || self.lines.first().map_or_else(String::new, |line| self.line_words(line));
        match self.outcome {
            HowExplained::AsDrawn => "The log differs from the drawing no more than rigs of this \
                                 drawing differ among themselves: there is nothing to explain."
                .to_owned(),
            HowExplained::Certain => format!(
                "Best explained by: {}. Every other set of one to three figures is rejected \
                 (99.9 %).",
                only()
            ),
            HowExplained::Several if self.told.len() > 1 => format!(
                "{} sets of one to three figures explain it equally well and cannot be told apart \
                 by this log.",
                self.told.len()
            ),
            HowExplained::Several => format!(
                "Best explained by: {}. That is not certain: {} more {} rejected at 99 %, but not \
                 at 99.9 %.",
                only(),
                self.doubtful,
                if self.doubtful == 1 { "set is" } else { "sets are" }
            ),
            HowExplained::Unexplained if self.scattered => {
                "No set of one to three figures explains it: turn by turn the log scatters more \
                 than rigs of this drawing do."
                    .to_owned()
            }
            HowExplained::Unexplained => "No set of one to three figures explains it.".to_owned(),
        }
    }

    /// What is told, and what the joint fit of all figures gives, a line each.
    #[must_use]
    pub fn told_words(&self) -> Vec<String> {
        if self.outcome == HowExplained::AsDrawn {
            return Vec::new();
        }
        let mut all = Vec::new();
        for (number, line) in self.lines.iter().enumerate() {
            let words = self.line_words(line);
            let values = self.line_values(line);
            all.push(format!("{}. {words}. Likeliest: {values}.", number + 1));
        }
        if self.lines.len() > 1 || self.told.len() > 1 {
            all.extend(self.hints().into_iter().map(|hint| format!("To tell them apart: {hint}")));
        }
        let (known, open): (Vec<&FittedFigure>, Vec<&FittedFigure>) =
            self.figures.iter().partition(|own| own.determined);
        if !known.is_empty() {
            let values: Vec<String> = known.into_iter().map(value).collect();
            all.push(format!("All figures fitted together: {}.", values.join("; ")));
        }
        if !open.is_empty() {
            let names: Vec<&str> = open.iter().map(|own| own.words).collect();
            all.push(format!("Then this log does not determine: {}.", listed(&names, "and")));
        }
        let tied = self.tied();
        if !tied.is_empty() {
            let mut line = "Then only together are determined".to_owned();
            for (k, (a, b, correlation)) in tied.into_iter().enumerate() {
                let stop = if k == 0 { ":" } else { ";" };
                // Writing to a String cannot fail.
                let _ = write!(line, "{stop} {} with {} ({correlation:+.2})", a.words, b.words);
            }
            all.push(line + " (correlation).");
        }
        all
    }
}

fn value(own: &FittedFigure) -> String {
    let [low, high] = own.interval;
    format!(
        "{} {} instead of {} (95 %: {} to {})",
        own.words,
        number(own.value),
        number(own.drawn),
        number(low),
        number(high)
    )
}
