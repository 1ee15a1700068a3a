//! Margins in words.

use dryturn_cube::Face;

use super::Surveyed;
use super::margins::{Apart, ExpectedErrors, Margins};

/// A figure in standard deviations: no more digits than it is worth.
#[must_use]
pub fn sigmas_text(sigmas: f64) -> String {
    match sigmas {
        f64::INFINITY => "∞".to_owned(),
        f64::NEG_INFINITY => "−∞".to_owned(),
        s if s.abs() < 9.95 => format!("{s:.1}").replace('-', "−"),
        s => format!("{s:.0}").replace('-', "−"),
    }
}

/// A share in per cent.
#[must_use]
pub fn percent_text(share: f64) -> String {
    match 100.0 * share {
        p if p <= 0.0 => "0 %".to_owned(),
        p if p < 0.1 => "< 0.1 %".to_owned(),
        p if p < 9.95 => format!("{p:.1} %"),
        p => format!("{p:.0} %"),
    }
}

/// A range of shares in per cent.
#[must_use]
pub fn range_text((low, high): (f64, f64)) -> String {
    let (low, high) = (percent_text(low), percent_text(high));
    if low == high { low } else { format!("{} to {high}", low.trim_end_matches(" %")) }
}

impl Surveyed {
    /// What a person calls the colour of a face.
    #[must_use]
    pub fn colour_name(&self, face: Face) -> String {
        format!("{:?}", self.scene.file().cube.colours.of(face)).to_lowercase()
    }

    /// What a person calls two colours: `red and orange`.
    #[must_use]
    pub fn pair_name(&self, pair: [Face; 2]) -> String {
        pair.map(|face| self.colour_name(face)).join(" and ")
    }

    /// What a calibration in this light is to find when it leaves out sightings, in one
    /// sentence.
    pub(super) fn expected_words(&self, margins: &Margins) -> String {
        let share = |expected: &ExpectedErrors| {
            let (share, range) = (percent_text(expected.wrong_share), range_text(expected.range));
            let in_most = format!(" ({range} in 95 of 100 rigs)");
            if range == share { share } else { share + &in_most }
        };
        let most = margins.most_mistaken().filter(|_| margins.nearest().wrong_share > 0.0);
        let most = most.map_or(String::new(), |margin| {
            format!(", most often in {}", self.pair_name(margin.pair))
        });
        format!(
            "of {} sightings that a calibration leaves out, the nearest colour, which does not know \
             the place, will take {} for another{most}; Gaussian classes, which know the place by \
             its other colours, {}",
            margins.sightings,
            share(margins.nearest()),
            share(margins.gaussian())
        )
    }

    /// A table of all pairs for a terminal, closest first.
    #[must_use]
    pub fn margin_lines(&self) -> Vec<String> {
        let Some(margins) = &self.margins else { return Vec::new() };
        let mut lines = vec![
            format!("{:<17} {:^32} {:^32}", "margins of pairs", "place known", "place unknown"),
            format!(
                "{:<17} {:>12} {:>8} {:>10} {:>12} {:>8} {:>10}",
                "", "worst σ", "median σ", "mistaken", "worst σ", "median σ", "mistaken"
            ),
        ];
        let cells = |apart: &Apart| {
            format!(
                "{:>12} {:>8} {:>10}",
                format!("{} {:>5}", apart.worst, sigmas_text(apart.worst_sigmas)),
                sigmas_text(apart.median_sigmas),
                percent_text(apart.mistaken_share)
            )
        };
        for margin in margins.closest_first() {
            let name = margin.pair.map(|face| self.colour_name(face)).join("–");
            lines.push(format!("{name:<17} {} {}", cells(&margin.known), cells(&margin.unknown)));
        }
        lines
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_have_as_many_digits_as_they_are_worth() {
        let sigmas = [-12.34, -1.26, 0.0, 9.94, 9.96, 123.4, f64::INFINITY];
        assert_eq!(sigmas.map(sigmas_text), ["−12", "−1.3", "0.0", "9.9", "10", "123", "∞"]);
        let shares = [0.0, 1e-9, 0.0012, 0.0994, 0.0996, 0.352];
        let wanted = ["0 %", "< 0.1 %", "0.1 %", "9.9 %", "10 %", "35 %"];
        assert_eq!(shares.map(percent_text), wanted);
        let ranges = [(0.0, 0.0), (0.0, 0.011), (0.11, 0.14)];
        assert_eq!(ranges.map(range_text), ["0 %", "0 to 1.1 %", "11 to 14 %"]);
    }
}
