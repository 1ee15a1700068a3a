//! By what a plan's turns start and what it was proved by, in words.

use dryturn_scene::file::Policy;

use super::RigPlan;

impl RigPlan {
    /// By what turns start, one sentence without its full stop.
    #[must_use]
    pub fn starts_by(&self) -> String {
        match (&self.replaced, self.policy) {
            (Some(why), policy) => format!(
                "Each turn waits until all faces have settled: the scene's policy {policy:?} does \
                 not hold at this ceiling, it fails in {why}"
            ),
            (None, Policy::Settle) => {
                "Each turn waits until all faces have settled, as the scene's policy Settle has it"
                    .to_owned()
            }
            (None, policy) => format!(
                "Turns start by the angles that late neighbours must have passed, from the scene's \
                 policy {policy:?} at this ceiling"
            ),
        }
    }

    /// What it was proved by, one sentence without its full stop.
    #[must_use]
    pub fn proved_by(&self) -> String {
        let followed = &self.followed;
        format!(
            "{} of {} seeded executions that followed this file at this ceiling, each with errors \
             of its own, were clean; with 95 % confidence at most {:.2} % fail (exact, one-sided), \
             in simulation",
            followed.counts.clean,
            followed.counts.executions,
            100.0 * followed.fail_at_most_share()
        )
    }

    /// What its remarks say of how it came about.
    pub(super) fn how(&self) -> Vec<String> {
        let mut how: Vec<String> =
            self.overruled.iter().map(|why| format!("UNSAFE, {why}.")).collect();
        how.push(format!("{}.", self.starts_by()));
        how.push(format!("{}.", self.proved_by()));
        how
    }
}
