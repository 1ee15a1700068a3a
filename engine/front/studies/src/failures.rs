//! Why executions fail: the one place where failures are told apart and counted. Tables,
//! charts, sentences and documents of drills, sweeps and tuning all split them so.

use dryturn_handoff::{Cause, Jam, JamVerdict, Run, Stop};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use dryturn_statistics::{Z_95, exact_upper, further_trials, share_in_words, wilson};

/// Shares that claims are made about: fewer than one in a hundred, and in a thousand.
pub const CLAIMED_RATES: [f64; 2] = [0.01, 0.001];

/// Why an execution did not complete. Each failure has exactly one.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum FailureKind {
    /// A late face blocked its neighbour; the shafts held.
    Jam,
    /// A late face blocked its neighbour, and a shaft broke.
    JamBrokeShaft,
    /// A shaft broke with nothing in its way.
    ShaftBroke,
    /// A drive gave up.
    DriveStop,
    /// Commands were lost.
    LinkLost,
    /// The host fell silent.
    Watchdog,
    /// Bus voltage or brake resistor.
    Supply,
    /// A face without a shaft.
    NoShaft,
    /// Somebody stopped it.
    EmergencyStop,
    /// The simulation ended it at a limit of its own.
    SimulationLimit,
}

impl FailureKind {
    /// All of them, in the order of lists.
    pub const ALL: [Self; 10] = [
        Self::Jam,
        Self::JamBrokeShaft,
        Self::ShaftBroke,
        Self::DriveStop,
        Self::LinkLost,
        Self::Watchdog,
        Self::Supply,
        Self::NoShaft,
        Self::EmergencyStop,
        Self::SimulationLimit,
    ];

    /// Of a run's end; `None` where every beat was turned.
    #[must_use]
    pub fn of(jam: Option<&Jam>, stop: Option<&Stop>) -> Option<Self> {
        if let Some(jam) = jam {
            let broke = jam.verdict == JamVerdict::ShaftBroken;
            return Some(if broke { Self::JamBrokeShaft } else { Self::Jam });
        }
        Some(match stop?.cause {
            Cause::ShaftBroken(_) => Self::ShaftBroke,
            Cause::FollowingError(_)
            | Cause::Stalled(_)
            | Cause::NotSettled(_)
            | Cause::NotSteady(_) => Self::DriveStop,
            Cause::LinkLost(_) => Self::LinkLost,
            Cause::Watchdog => Self::Watchdog,
            Cause::OverVoltage | Cause::UnderVoltage | Cause::ResistorHot => Self::Supply,
            Cause::NoShaft(_) => Self::NoShaft,
            Cause::EmergencyStop => Self::EmergencyStop,
            Cause::Simulation(_) => Self::SimulationLimit,
        })
    }

    /// Of a run.
    #[must_use]
    pub fn of_run(run: &Run) -> Option<Self> {
        Self::of(run.jam(), run.stop())
    }

    /// Whether a late face blocked its neighbour.
    #[must_use]
    pub fn is_jam(self) -> bool {
        matches!(self, Self::Jam | Self::JamBrokeShaft)
    }

    /// What documents call it.
    #[must_use]
    pub fn key(self) -> &'static str {
        match self {
            Self::Jam => "jam",
            Self::JamBrokeShaft => "jam_broke_shaft",
            Self::ShaftBroke => "shaft_broke",
            Self::DriveStop => "drive_stop",
            Self::LinkLost => "link_lost",
            Self::Watchdog => "watchdog",
            Self::Supply => "supply",
            Self::NoShaft => "no_shaft",
            Self::EmergencyStop => "emergency_stop",
            Self::SimulationLimit => "simulation_limit",
        }
    }

    /// Its name for a person, in a few words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Self::Jam => "jam",
            Self::JamBrokeShaft => "jam that broke a shaft",
            Self::ShaftBroke => "broken shaft, no jam",
            Self::DriveStop => "drive stop",
            Self::LinkLost => "lost commands",
            Self::Watchdog => "watchdog",
            Self::Supply => "supply limit",
            Self::NoShaft => "missing shaft",
            Self::EmergencyStop => "emergency stop",
            Self::SimulationLimit => "limit of the simulation",
        }
    }

    /// What that means, one sentence.
    #[must_use]
    pub fn sentence(self) -> &'static str {
        match self {
            Self::Jam => "A face that was off its stop blocked its neighbour; the shafts held.",
            Self::JamBrokeShaft => {
                "A face that was off its stop blocked its neighbour, and a shaft broke."
            }
            Self::ShaftBroke => {
                "A shaft broke under the torque of turning, with nothing in its way."
            }
            Self::DriveStop => {
                "A drive gave up: too far from its set-point, at a stand at its current limit, or not \
                 settled in time."
            }
            Self::LinkLost => "A command was lost and sent again too often.",
            Self::Watchdog => "The axes heard nothing from the host, and their watchdogs let go.",
            Self::Supply => "The bus voltage or the brake resistor left its limits.",
            Self::NoShaft => "The plan turns a face that has no shaft.",
            Self::EmergencyStop => "Somebody hit the emergency stop.",
            Self::SimulationLimit => {
                "The simulation ended the run at its own limit of time or steps, or because the motion \
                 grew beyond all numbers: what the rig would have done is not known."
            }
        }
    }
}

/// What can be said about the claim that fewer executions than a share fail.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Claim {
    /// Supported at 95 % confidence.
    Supported,
    /// Supported after so many further executions if none of them fails.
    Further(usize),
    /// A larger share than that has failed: further executions are not what is missing.
    Contradicted,
}

/// Failures among some executions, by kind.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Failures {
    trials: usize,
    counts: [usize; FailureKind::ALL.len()],
}

impl FromIterator<Option<FailureKind>> for Failures {
    fn from_iter<T: IntoIterator<Item = Option<FailureKind>>>(ends: T) -> Self {
        let mut failures = Self::default();
        ends.into_iter().for_each(|end| failures.add(end));
        failures
    }
}

impl Failures {
    /// Counts one more execution; `None` where it completed.
    pub fn add(&mut self, end: Option<FailureKind>) {
        self.trials += 1;
        if let Some(kind) = end {
            self.counts[kind as usize] += 1;
        }
    }

    /// Executions in all.
    #[must_use]
    pub fn trials(&self) -> usize {
        self.trials
    }

    /// Executions that failed, whatever the cause.
    #[must_use]
    pub fn count(&self) -> usize {
        self.counts.iter().sum()
    }

    /// Executions that failed so.
    #[must_use]
    pub fn of_kind(&self, kind: FailureKind) -> usize {
        self.counts[kind as usize]
    }

    /// The kinds that occurred, the most frequent first.
    #[must_use]
    pub fn split(&self) -> Vec<(FailureKind, usize)> {
        let all = FailureKind::ALL.into_iter().zip(self.counts);
        let mut occurred: Vec<_> = all.filter(|(_, count)| *count > 0).collect();
        occurred.sort_by_key(|(_, count)| core::cmp::Reverse(*count));
        occurred
    }

    /// Share that failed; 0 without executions.
    #[must_use]
    pub fn share(&self) -> f64 {
        self.count() as f64 / self.trials.max(1) as f64
    }

    /// Wilson's two-sided 95 % interval of that share.
    #[must_use]
    pub fn interval(&self) -> (f64, f64) {
        wilson(self.count(), self.trials, Z_95)
    }

    /// Exact one-sided 95 % upper bound of that share.
    #[must_use]
    pub fn at_most(&self) -> f64 {
        exact_upper(self.count(), self.trials, 0.95)
    }

    /// Further executions without a failure that would support "fewer than `rate` fail" at
    /// 95 % confidence; 0 where it is supported already, `None` for rates outside (0, 1).
    #[must_use]
    pub fn further_trials(&self, rate: f64) -> Option<usize> {
        further_trials(self.count(), self.trials, rate, 0.95)
    }

    /// What can be said about "fewer than `rate` fail"; `None` for rates outside (0, 1).
    #[must_use]
    pub fn claim(&self, rate: f64) -> Option<Claim> {
        Some(match self.further_trials(rate)? {
            0 => Claim::Supported,
            _ if self.share() > rate => Claim::Contradicted,
            more => Claim::Further(more),
        })
    }

    /// What can be said about claims, the largest rate first: sentences without their full
    /// stop. How many further executions it takes is told only where so few have failed that
    /// they could help.
    #[must_use]
    pub fn advice(&self, rates: &[f64]) -> Vec<String> {
        let mut sentences = Vec::new();
        for rate in rates {
            let claim = format!("“fewer than {} % fail”", figures(100.0 * rate));
            match self.claim(*rate) {
                Some(Claim::Supported) => sentences.push(format!("{claim} is supported")),
                Some(Claim::Further(1)) => {
                    sentences.push(format!("{claim} takes one more execution without a failure"));
                }
                Some(Claim::Further(more)) => sentences
                    .push(format!("{claim} takes {more} further executions without a failure")),
                Some(Claim::Contradicted) => {
                    sentences.push(format!(
                        "{claim} is not what these executions show: {} of {} failed",
                        self.count(),
                        self.trials
                    ));
                    break;
                }
                None => {}
            }
        }
        sentences
    }

    /// In words, for instance `12 of 40 fail (jam 9; drive stop 3)`.
    #[must_use]
    pub fn words(&self) -> String {
        let kinds: Vec<String> =
            self.split().iter().map(|(kind, count)| format!("{} {count}", kind.words())).collect();
        let kinds =
            if kinds.is_empty() { String::new() } else { format!(" ({})", kinds.join("; ")) };
        format!("{} of {} fail{kinds}", self.count(), self.trials)
    }

    /// Lines of text: all that failed with the bound, then each kind with its interval.
    #[must_use]
    pub fn lines(&self) -> Vec<String> {
        let all = format!(
            "{}; at most {:.2} % at 95 % confidence, one-sided",
            share_in_words("failed", self.count(), self.trials, 2),
            100.0 * self.at_most()
        );
        let kinds = self.split().into_iter().map(|(kind, count)| {
            format!("  {}", share_in_words(kind.words(), count, self.trials, 2))
        });
        core::iter::once(all).chain(kinds).collect()
    }
}

/// Without the noise of binary fractions: 0.1, not 0.1000000001.
fn figures(value: f64) -> String {
    let text = format!("{value:.6}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

#[cfg(test)]
mod tests {
    use dryturn_cube::Face;
    use dryturn_handoff::SimulationLimit;

    use super::*;

    fn failures(of: &[(FailureKind, usize)], completed: usize) -> Failures {
        let failed = of.iter().flat_map(|&(kind, count)| core::iter::repeat_n(Some(kind), count));
        failed.chain(core::iter::repeat_n(None, completed)).collect()
    }

    /// Every cause of a stop has a kind, and kinds keep their places.
    #[test]
    fn every_end_has_one_kind() {
        assert!((0..).zip(FailureKind::ALL).all(|(place, kind)| kind as usize == place));
        let kind = |cause| FailureKind::of(None, Some(&Stop { time_s: 0.0, beat: 0, cause }));
        for (cause, wanted) in [
            (Cause::EmergencyStop, FailureKind::EmergencyStop),
            (Cause::Watchdog, FailureKind::Watchdog),
            (Cause::NoShaft(Face::U), FailureKind::NoShaft),
            (Cause::LinkLost(Face::U), FailureKind::LinkLost),
            (Cause::FollowingError(Face::R), FailureKind::DriveStop),
            (Cause::Stalled(Face::R), FailureKind::DriveStop),
            (Cause::NotSettled(Face::R), FailureKind::DriveStop),
            (Cause::NotSteady(Face::R), FailureKind::DriveStop),
            (Cause::Simulation(SimulationLimit::BeatTime), FailureKind::SimulationLimit),
            (Cause::Simulation(SimulationLimit::Numbers), FailureKind::SimulationLimit),
            (Cause::ShaftBroken(Face::B), FailureKind::ShaftBroke),
            (Cause::OverVoltage, FailureKind::Supply),
            (Cause::UnderVoltage, FailureKind::Supply),
            (Cause::ResistorHot, FailureKind::Supply),
        ] {
            assert_eq!(kind(cause), Some(wanted));
        }
        assert_eq!(FailureKind::of(None, None), None);
        let distinct = |of: fn(FailureKind) -> &'static str| {
            let mut all = FailureKind::ALL.map(of).to_vec();
            all.sort_unstable();
            all.dedup();
            assert_eq!(all.len(), FailureKind::ALL.len());
        };
        distinct(FailureKind::key);
        distinct(FailureKind::words);
        distinct(FailureKind::sentence);
    }

    #[test]
    fn all_failures_count_and_split_adds_up() {
        use FailureKind::{DriveStop, Jam, ShaftBroke};
        let some = failures(&[(Jam, 2), (ShaftBroke, 5), (DriveStop, 1)], 12);
        assert_eq!((some.trials(), some.count()), (20, 8));
        assert_eq!(some.split(), [(ShaftBroke, 5), (Jam, 2), (DriveStop, 1)]);
        assert_eq!(some.split().iter().map(|(_, count)| count).sum::<usize>(), some.count());
        let (low, high) = some.interval();
        assert!(low < 0.4 && 0.4 < high && high < 1.0, "{low} {high}");
        assert!(some.words().starts_with("8 of 20 fail (broken shaft, no jam 5; jam 2;"));
        assert_eq!(failures(&[], 3).words(), "0 of 3 fail");
        assert_eq!(
            (Failures::default().share(), Failures::default().interval()),
            (0.0, (0.0, 1.0))
        );
    }

    /// Advice to go on appears only where going on can help: 299 and 2995 without a failure
    /// (rule of three's exact form), never where more have failed than is claimed.
    #[test]
    fn advice_is_given_where_it_helps() {
        let advice = |kinds: &[(FailureKind, usize)], completed| {
            failures(kinds, completed).advice(&CLAIMED_RATES).join(". ")
        };
        let none = advice(&[], 20);
        assert!(none.contains("“fewer than 1 % fail” takes 279 further executions"), "{none}");
        assert!(none.contains("“fewer than 0.1 % fail” takes 2975 further executions"), "{none}");
        let all = advice(&[(FailureKind::ShaftBroke, 150)], 0);
        assert!(!all.contains("further") && all.contains("150 of 150 failed"), "{all}");
        let one = advice(&[(FailureKind::Jam, 1)], 499);
        assert!(
            one.contains("is supported") && one.contains("“fewer than 0.1 % fail” is not"),
            "{one}"
        );
        let late = advice(&[(FailureKind::Jam, 1)], 299);
        assert!(late.contains("“fewer than 1 % fail” takes 173 further"), "{late}");
        assert_eq!(failures(&[], 298).claim(0.01), Some(Claim::Further(1)));
        assert_eq!(failures(&[], 1).claim(0.0), None);
    }
}
