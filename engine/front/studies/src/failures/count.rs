//! Failures among some executions, and what can be claimed of them.

use dryturn_statistics::{Z_95, exact_upper, further_trials, share_in_words, wilson};

use super::FailureKind;

/// Shares that claims are made about: fewer than one in a hundred, and in a thousand.
pub const CLAIMED_RATES: [f64; 2] = [0.01, 0.001];

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
    use super::*;

    fn failures(of: &[(FailureKind, usize)], completed: usize) -> Failures {
        let failed = of.iter().flat_map(|&(kind, count)| core::iter::repeat_n(Some(kind), count));
        failed.chain(core::iter::repeat_n(None, completed)).collect()
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
