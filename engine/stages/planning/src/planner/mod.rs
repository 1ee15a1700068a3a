//! What a caller asks for: a plan for an objective within a budget.

mod kit;
mod planned;

use core::ops::ControlFlow;
use std::sync::OnceLock;

use dryturn_cube::CubeState;
use dryturn_handoff::Plan;

use crate::bounds::{Bounds, LargeBeats, LargeTurns, Metric, TableKind, all_corner_sense_images};
use crate::search::{Found, Ground, Improvement, Objective, Proof, Scale, prove, search, textbook};
use kit::Kit;
pub use kit::TableBytes;
pub use planned::{Budget, Planned, Served};

/// Nodes spent on a plan unless the caller says otherwise; a few tens of
/// milliseconds.
pub const DEFAULT_NODE_BUDGET: u64 = 100_000;

/// The tables and the search over them. Building the compact tables takes some
/// tenths of a second, when a metric is first asked for; a planner can be shared
/// between threads.
pub struct Planner {
    turns: OnceLock<Kit>,
    beats: OnceLock<Kit>,
    corner_sense_images: OnceLock<Vec<u16>>,
}

impl Default for Planner {
    fn default() -> Self {
        Self::new()
    }
}

/// What is done over the ground that was laid.
trait Over {
    type Result;
    fn go<B: Bounds>(self, ground: &Ground<'_, B>) -> Self::Result;
}

impl Planner {
    /// A planner without large tables.
    #[must_use]
    pub fn new() -> Self {
        Self {
            turns: OnceLock::new(),
            beats: OnceLock::new(),
            corner_sense_images: OnceLock::new(),
        }
    }

    fn kit(&self, metric: Metric) -> &Kit {
        let slot = match metric {
            Metric::Turns => &self.turns,
            Metric::Beats => &self.beats,
        };
        if let Some(kit) = slot.get() {
            return kit;
        }
        // Not while others wait for it: a thread that builds it with others' help may do others'
        // work meanwhile, which may ask for it too. Threads that come together find the same.
        let kit = Kit::new(metric);
        slot.get_or_init(|| kit)
    }

    /// Hands in the large tables of a metric, both legs. The first ones stay.
    ///
    /// # Errors
    /// Tables of another length than their kind has.
    pub fn use_large(&self, metric: Metric, tables: [TableBytes; 2]) -> Result<(), String> {
        for (kind, table) in TableKind::of(metric).into_iter().zip(&tables) {
            let length = (**table).as_ref().len();
            if length != kind.bytes() {
                return Err(format!("table {kind} has {length} bytes, not {}", kind.bytes()));
            }
        }
        let _ = self.kit(metric).large.set(tables);
        Ok(())
    }

    /// Builds now what the first search for an objective would build, so that a timed
    /// search is only that.
    pub fn prepare(&self, objective: Objective) {
        struct Nothing;
        impl Over for Nothing {
            type Result = ();
            fn go<B: Bounds>(self, _: &Ground<'_, B>) {}
        }
        self.over(objective, &|| false, Nothing);
    }

    /// Which tables serve an objective.
    #[must_use]
    pub fn serves(&self, objective: Objective) -> Served {
        let large = self.kit(objective.metric()).large.get().is_some();
        if large { Served::Large } else { Served::Compact }
    }

    fn over<O: Over>(
        &self,
        objective: Objective,
        stop: &(dyn Fn() -> bool + Sync),
        over: O,
    ) -> O::Result {
        let metric = objective.metric();
        let kit = self.kit(metric);
        let steps = &kit.tables.set.steps;
        let costs: Vec<u32> = steps.iter().map(|step| objective.cost(step)).collect();
        let scale = Scale::of(objective);
        let tails = kit.tails(&costs);
        macro_rules! ground {
            ($bounds:expr) => {
                Ground {
                    tables: &kit.tables,
                    motions: &kit.motions,
                    tails: &tails,
                    bounds: $bounds,
                    quick: &kit.compact,
                    scale: &scale,
                    costs: &costs,
                    stop,
                }
            };
        }
        let Some([one, two]) = kit.large.get() else {
            return over.go(&ground!(&kit.compact));
        };
        let bytes = [(**one).as_ref(), (**two).as_ref()];
        let images = self.corner_sense_images.get_or_init(all_corner_sense_images);
        match metric {
            Metric::Turns => over.go(&ground!(&LargeTurns::new(bytes, images, &kit.compact))),
            Metric::Beats => over.go(&ground!(&LargeBeats::new(bytes, images, &kit.compact))),
        }
    }

    /// The best plan found within a budget. The first plan is always found,
    /// whatever a budget in nodes. `improved` hears of each better plan and may
    /// break off. With a budget in nodes the same state gives the same plan,
    /// whatever the threads; other tables may give another one.
    pub fn search(
        &self,
        state: &CubeState,
        objective: Objective,
        budget: &Budget<'_>,
        improved: &mut dyn FnMut(&Improvement) -> ControlFlow<()>,
    ) -> Planned {
        struct Best<'a> {
            state: &'a CubeState,
            objective: Objective,
            most_nodes: u64,
            improved: &'a mut dyn FnMut(&Improvement) -> ControlFlow<()>,
        }
        impl Over for Best<'_> {
            type Result = Found;
            fn go<B: Bounds>(self, ground: &Ground<'_, B>) -> Found {
                search(ground, self.state, self.objective, self.most_nodes, self.improved)
            }
        }
        let go_on = || false;
        let (most_nodes, stop): (_, &(dyn Fn() -> bool + Sync)) = match budget {
            Budget::Nodes(nodes) => (*nodes, &go_on),
            Budget::Until(stop) => (u64::MAX, *stop),
        };
        let found = self.over(objective, stop, Best { state, objective, most_nodes, improved });
        // A live search that was stopped before its first plan falls back.
        let (turns, cost) = match found.best {
            Some(best) => (best.turns, best.cost),
            None => {
                let plan = self.textbook(state);
                (plan.turns(), self.cost(&plan, objective))
            }
        };
        Planned {
            plan: Plan::of_turns(&turns),
            cost,
            none_below: found.none_below.min(cost),
            nodes: found.nodes,
            served: self.serves(objective),
        }
    }

    /// The plan for an objective within a budget of nodes.
    #[must_use]
    pub fn plan(&self, state: &CubeState, objective: Objective, nodes: u64) -> Planned {
        self.search(state, objective, &Budget::Nodes(nodes), &mut |_| ControlFlow::Continue(()))
    }

    /// The first plan of a plain textbook search: one axis, shortest orienting first.
    #[must_use]
    pub fn textbook(&self, state: &CubeState) -> Plan {
        self.textbook_counted(state).0
    }

    /// The same, with the search nodes that it took.
    #[must_use]
    pub fn textbook_counted(&self, state: &CubeState) -> (Plan, u64) {
        struct First<'a>(&'a CubeState);
        impl Over for First<'_> {
            type Result = (Plan, u64);
            fn go<B: Bounds>(self, ground: &Ground<'_, B>) -> (Plan, u64) {
                textbook(ground, self.0)
            }
        }
        self.over(Objective::FewestTurns, &|| false, First(state))
    }

    /// Searches for the best plan with proof, cost by cost, until one is found or
    /// `most_nodes` are spent.
    #[must_use]
    pub fn prove(&self, state: &CubeState, objective: Objective, most_nodes: u64) -> Proof {
        struct Best<'a>(&'a CubeState, u64);
        impl Over for Best<'_> {
            type Result = Proof;
            fn go<B: Bounds>(self, ground: &Ground<'_, B>) -> Proof {
                prove(ground, self.0, self.1)
            }
        }
        self.over(objective, &|| false, Best(state, most_nodes))
    }

    /// Cost of a plan in an objective's weights.
    #[must_use]
    pub fn cost(&self, plan: &Plan, objective: Objective) -> u32 {
        match objective {
            Objective::FewestTurns => plan.turns().len() as u32,
            Objective::LeastTime(weights) => {
                plan.beats.iter().map(|beat| weights.of_beat(beat.turns.iter().copied())).sum()
            }
        }
    }
}
