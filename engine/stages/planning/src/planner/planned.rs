//! What a planner is allowed, and what it answers.

use dryturn_handoff::Plan;

/// How long a search goes on once there is a plan.
pub enum Budget<'a> {
    /// So many nodes; the result can be repeated.
    Nodes(u64),
    /// Until this says so, for live use; what is found depends on the machine.
    Until(&'a (dyn Fn() -> bool + Sync)),
}

/// Which tables bounded a search.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Served {
    /// Small ones, built at once.
    Compact,
    /// Large ones, handed in.
    Large,
}

impl Served {
    /// One word.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Compact => "compact",
            Self::Large => "large",
        }
    }
}

/// A plan and what is known of it.
#[derive(Clone, Debug)]
pub struct Planned {
    /// The beats.
    pub plan: Plan,
    /// Its cost in the objective's weights.
    pub cost: u32,
    /// No plan costs less than this.
    pub none_below: u32,
    /// Search nodes spent.
    pub nodes: u64,
    /// The tables that served.
    pub served: Served,
}

impl Planned {
    /// Whether no plan is better.
    #[must_use]
    pub fn proved(&self) -> bool {
        self.none_below >= self.cost
    }
}
