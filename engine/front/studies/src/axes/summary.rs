//! A drill of the axes in a few lines of text.

use dryturn_statistics::share_in_words;

use crate::axes::{BlameRow, TurningDrill};
use crate::failures::CLAIMED_RATES;

/// Rows of blame that the text holds.
const ROWS: usize = 5;

impl BlameRow {
    /// One line, for instance `U could not turn for R, 3.1° off against its way: 2 jams, 1 pushed
    /// through`.
    #[must_use]
    pub fn sentence(&self) -> String {
        let way = if self.against { "against its way" } else { "along its way" };
        let Self { late, blocked, jams, pushed, late_deg, .. } = self;
        let jams = format!("{jams} {}", if *jams == 1 { "jam" } else { "jams" });
        format!(
            "{blocked} could not turn for {late}, {late_deg:.2}° off {way}: {jams}, {pushed} pushed \
             through"
        )
    }
}

impl TurningDrill {
    /// The figures as text, several lines.
    #[must_use]
    pub fn summary(&self) -> String {
        let trials = self.trials();
        let share = |what: &str, count: usize| share_in_words(what, count, trials, 2);
        let time = |share: f64| {
            self.time_s(share).map_or_else(
                || "none".to_owned(),
                |(s, (low, high))| {
                    format!("{:.1} ms ({:.1} to {:.1})", s * 1e3, low * 1e3, high * 1e3)
                },
            )
        };
        // A shaft that nothing has turned has no end of strength.
        let least = |share: f64| match self.quantile(share, |e| e.safety_factor_ratio) {
            Some(ratio) if ratio < 1e3 => format!("{ratio:.2}"),
            Some(_) => "over 1000".to_owned(),
            None => "none".to_owned(),
        };
        let most = |of: fn(&crate::Execution) -> f64| self.quantile(1.0, of).unwrap_or(0.0);
        let failures = self.failures();
        let mut lines = vec![share("completed", self.completed())];
        lines.extend(failures.lines());
        lines.extend([
            share("with a face that was stuck and got through", self.pushed()),
            format!(
                "time of completed runs: 5 % {}, median {}, 95 % {}; no run can beat {:.1} ms on \
                 average",
                time(0.05),
                time(0.5),
                time(0.95),
                self.mean_bound_s() * 1e3
            ),
            format!(
                "shafts: largest torque {:.3} N·m; safety factor least {}, 5 % {}, median {}",
                most(|e| e.peak_torque_n_m),
                least(0.0),
                least(0.05),
                least(0.5)
            ),
            format!(
                "bus {:.1} to {:.1} V; warmest winding {:.1} °C, brake resistor {:.1} °C",
                self.quantile(0.0, |e| e.bus_v.0).unwrap_or(0.0),
                most(|e| e.bus_v.1),
                most(|e| e.winding_c),
                most(|e| e.resistor_c)
            ),
        ]);
        lines.extend(failures.advice(&CLAIMED_RATES));
        lines.extend(self.blame().iter().take(ROWS).map(BlameRow::sentence));
        // Jams are told there.
        let reasons = self.reasons().into_iter().filter(|reason| !reason.kind.is_jam());
        lines.extend(reasons.take(ROWS).map(|reason| format!("{}: {}", reason.says, reason.count)));
        let stop = self.executions.iter().find_map(|e| Some((e.number, e.stop?)));
        lines.extend(stop.map(|(number, stop)| format!("first stop, trial {number}: {stop}")));
        lines.join("\n")
    }
}
