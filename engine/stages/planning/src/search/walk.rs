//! Depth-first search in two legs, below one start and within one cost.

use dryturn_cube::CubeState;
use dryturn_units::stop::checkpoint;

use super::costs::Scale;
use super::tails::Tails;
use crate::bounds::{Bounds, Candidate, Compact, MOST_STEPS};
use crate::state::{Arrangement, Coordinates, Pieces, StepTables, rank};

/// Nodes without any plan after which arranging may be as long as it likes.
pub(crate) const PATIENCE_NODES: u64 = 1_000_000;
/// Nodes between two looks at whether to stop.
const LOOK_EVERY: u64 = 4096;

/// A state as the search counts it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Start {
    pub(crate) coordinates: Coordinates,
    pieces: Pieces,
}

impl Start {
    pub(crate) fn of(state: &CubeState) -> Self {
        Self { coordinates: Coordinates::of(state), pieces: Pieces::of(state) }
    }
}

/// What all walks of one search share.
pub(crate) struct Ground<'a, B> {
    pub(crate) tables: &'a StepTables,
    /// What each step does to the pieces.
    pub(crate) motions: &'a [Pieces],
    pub(crate) tails: &'a Tails,
    pub(crate) bounds: &'a B,
    /// For a first look at the ends of orienting.
    pub(crate) quick: &'a Compact,
    pub(crate) scale: &'a Scale,
    /// Cost of each step in the objective.
    pub(crate) costs: &'a [u32],
    /// Asked now and then.
    pub(crate) stop: &'a (dyn Fn() -> bool + Sync),
}

/// A part of the search: where it starts, and what it may still spend.
#[derive(Clone, Debug)]
pub(crate) struct Task {
    pub(crate) start: usize,
    pub(crate) path: Vec<u8>,
    pub(crate) at: Coordinates,
    /// Cost left to orienting, which spends all of it.
    pub(crate) left: u32,
}

/// One walk and what it has found.
pub(crate) struct Walk<'a, B> {
    ground: &'a Ground<'a, B>,
    path: Vec<u8>,
    /// Pieces after each step of the path, as far as they are known.
    pieces: Vec<Pieces>,
    /// Cost of the whole of orienting.
    orienting_cost: u32,
    /// Only plans below this cost count.
    pub(crate) below: u32,
    /// Arranging may cost so much at most.
    pub(crate) arranging_most: u32,
    /// Whether the first plan ends the walk.
    pub(crate) first_only: bool,
    pub(crate) found: Option<Vec<u8>>,
    pub(crate) nodes: u64,
    pub(crate) most_nodes: u64,
    /// Whether it ended early.
    pub(crate) cut: bool,
    /// Whether a longer arranging was allowed but not tried.
    pub(crate) gave_up: bool,
}

impl<'a, B: Bounds> Walk<'a, B> {
    pub(crate) fn new(
        ground: &'a Ground<'a, B>,
        start: &Start,
        orienting_cost: u32,
        below: u32,
    ) -> Self {
        Self {
            ground,
            path: Vec::with_capacity(32),
            pieces: vec![start.pieces],
            orienting_cost,
            below,
            arranging_most: u32::MAX,
            first_only: false,
            found: None,
            nodes: 0,
            most_nodes: u64::MAX,
            cut: false,
            gave_up: false,
        }
    }

    /// Goes through all that lies below a task.
    pub(crate) fn run(&mut self, task: &Task) {
        self.path.clone_from(&task.path);
        // Where the time is up, a batch's other tasks need not begin.
        self.cut = (self.ground.stop)();
        self.orient(task.at, task.left);
    }

    fn last_class(&self) -> u8 {
        self.ground.tables.set.class_of(&self.path)
    }

    /// Whether the time is up; leaves the search altogether where whoever watches it wants that.
    fn looked(&self) -> bool {
        checkpoint();
        (self.ground.stop)()
    }

    /// Counts a node; whether the walk is cut there.
    #[inline]
    fn cut_at_node(&mut self) -> bool {
        self.nodes += 1;
        self.cut |= self.nodes >= self.most_nodes
            || (self.nodes.is_multiple_of(LOOK_EVERY) && self.looked());
        self.cut
    }

    fn done(&mut self) -> bool {
        self.cut_at_node()
            || self.orienting_cost >= self.below
            || (self.first_only && self.found.is_some())
    }

    /// Orienting at a cost of exactly `left`, which the bound does not forbid.
    fn orient(&mut self, at: Coordinates, left: u32) {
        if self.done() {
            return;
        }
        let ground = self.ground;
        let tables = ground.tables;
        let steps = tables.set.after(self.last_class());
        if left <= ground.tails.reach {
            self.end_orienting(at, left, tables.set.allowed(self.last_class()));
            return;
        }
        let (corner_sense, edge_sense) =
            (tables.corner_sense.row(at.corner_sense), tables.edge_sense.row(at.edge_sense));
        let belt = tables.belt.row(at.belt);
        let mut candidates = [Candidate::default(); MOST_STEPS];
        let mut count = 0;
        for &step in steps {
            let i = usize::from(step);
            if ground.costs[i] <= left {
                let at = Coordinates {
                    corner_sense: corner_sense[i],
                    edge_sense: edge_sense[i],
                    belt: belt[i],
                };
                let give_up = ground.scale.reach(left - ground.costs[i]);
                candidates[count] = Candidate { at, step, give_up, least: 0 };
                count += 1;
            }
        }
        ground.bounds.orient_all(&mut candidates[..count]);
        for &Candidate { at, step, least, .. } in &candidates[..count] {
            let cost = ground.costs[usize::from(step)];
            if cost + ground.scale.at_least(least) > left {
                continue;
            }
            self.path.push(step);
            self.orient(at, left - cost);
            self.path.pop();
            self.pieces.truncate(self.path.len() + 1);
        }
    }

    /// The pieces at the end of the path.
    fn pieces(&mut self) -> Pieces {
        let known = self.pieces.len() - 1;
        let mut pieces = self.pieces[known];
        for &step in &self.path[known..] {
            pieces = pieces.then(&self.ground.motions[usize::from(step)]);
            self.pieces.push(pieces);
        }
        pieces
    }

    /// All ends of orienting of exactly a cost that the tails list.
    fn end_orienting(&mut self, at: Coordinates, left: u32, allowed: u64) {
        let ground = self.ground;
        if left == 0 {
            let pieces = self.pieces();
            if at == Coordinates::default() {
                self.enter_arranging(&pieces);
            }
            return;
        }
        let tails = ground.tails.from(at, left);
        if tails.is_empty() {
            return;
        }
        let pieces = self.pieces();
        for tail in tails {
            if allowed >> tail.steps()[0] & 1 == 0 {
                continue;
            }
            if self.done() {
                return;
            }
            let steps = self.path.len();
            self.path.extend_from_slice(tail.steps());
            self.enter_arranging(&pieces.then(&tail.motion));
            self.path.truncate(steps);
        }
    }

    fn enter_arranging(&mut self, pieces: &Pieces) {
        let allowed = self.below - 1 - self.orienting_cost;
        let most = allowed.min(self.arranging_most);
        let scale = self.ground.scale;
        let give_up = scale.reach(most);
        let corner_order = rank(&pieces.corners) as u16;
        let edges = &pieces.edges;
        let belt_order = rank(&[edges[8] - 8, edges[9] - 8, edges[10] - 8, edges[11] - 8]) as u8;
        // Most ends of orienting are refused here, before the other edges are looked at.
        if self.ground.quick.corner_belt_order(corner_order, belt_order) > give_up {
            self.gave_up |= most < allowed;
            return;
        }
        let cap: [u8; 8] = core::array::from_fn(|slot| edges[slot]);
        let at = Arrangement { corner_order, cap_order: rank(&cap) as u16, belt_order };
        let least = self.ground.bounds.arrange(&at, give_up);
        for cost in scale.at_least(least)..=most {
            let orienting_steps = self.path.len();
            let solved = self.arrange(at, cost);
            if solved {
                self.found = Some(self.path.clone());
                self.below = self.orienting_cost + cost;
            }
            self.path.truncate(orienting_steps);
            if solved || self.cut {
                return;
            }
        }
        self.gave_up |= most < allowed;
    }

    /// Arranging at a cost of exactly `left`; leaves its steps on the path when it
    /// succeeds.
    fn arrange(&mut self, at: Arrangement, left: u32) -> bool {
        if self.cut_at_node() {
            return false;
        }
        if left == 0 {
            return at.corner_order == 0 && at.cap_order == 0 && at.belt_order == 0;
        }
        let ground = self.ground;
        let tables = ground.tables;
        for &step in tables.set.after_in_subgroup(self.last_class()) {
            let cost = ground.costs[usize::from(step)];
            if cost > left {
                continue;
            }
            let after = Arrangement {
                corner_order: tables.corner_order.after(at.corner_order, step),
                cap_order: tables.cap_order.after(at.cap_order, step),
                belt_order: tables.belt_order.after(u16::from(at.belt_order), step) as u8,
            };
            let least = ground.bounds.arrange(&after, ground.scale.reach(left - cost));
            if ground.scale.at_least(least) > left - cost {
                continue;
            }
            self.path.push(step);
            if self.arrange(after, left - cost) {
                return true;
            }
            self.path.pop();
        }
        false
    }
}
