//! Guests beside the built-in stages, trial by trial.

use dryturn_rehearsal::Verdict;
use dryturn_statistics::sign_test;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::Trial;

/// Trials by who solved them. Both met the same luck, so that what both solved, or neither, says
/// nothing about which of them is better.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct SameLuck {
    /// Solved with guests and without.
    pub both: usize,
    /// Solved with guests alone.
    pub with_guests: usize,
    /// Solved by the built-in stages alone.
    pub built_in: usize,
    /// Solved by neither.
    pub neither: usize,
}

impl SameLuck {
    /// Of the same trials, with guests and without.
    pub(super) fn of(with_guests: &[Trial], built_in: &[Trial]) -> Self {
        let mut counts = Self::default();
        for (with, without) in with_guests.iter().zip(built_in) {
            let solved = |trial: &Trial| trial.verdict == Verdict::Solved;
            match (solved(with), solved(without)) {
                (true, true) => counts.both += 1,
                (true, false) => counts.with_guests += 1,
                (false, true) => counts.built_in += 1,
                (false, false) => counts.neither += 1,
            }
        }
        counts
    }

    /// How likely luck alone makes the two differ so much or more, 0 to 1: the two-sided sign test
    /// over the trials that only one of them solved.
    #[must_use]
    pub fn by_luck(&self) -> f64 {
        sign_test(self.with_guests, self.built_in)
    }

    /// All of it in a sentence.
    #[must_use]
    pub fn in_words(&self) -> String {
        let Self { both, with_guests, built_in, neither } = self;
        format!(
            "with the same luck as Dryturn's own stages: {both} solved by both, {with_guests} with \
             guests alone, {built_in} by the built-in stages alone, {neither} by neither (a \
             difference as large comes by luck with probability {:.3}, sign test)",
            self.by_luck()
        )
    }
}
