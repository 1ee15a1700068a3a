//! Depth-first search in two phases, below one start and within one cost.

use dryturn_cube::CubeState;

use crate::bounds::{Bounds, Candidate, MOST_STEPS};
use crate::compact::Compact;
use crate::coordinates::{Arrangement, Coordinates, rank};
use crate::costs::Scale;
use crate::tails::{Pieces, Tails};
use crate::turn_tables::StepTables;

/// Steps of phase 2 that are tried at first: deeper tries cost more than going on
/// with phase 1.
pub(crate) const PHASE2_STEPS: u32 = 10;
/// Nodes without any plan after which phase 2 may be as long as it likes.
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
    /// For a first look at the ends of phase 1.
    pub(crate) quick: &'a Compact,
    pub(crate) scale: &'a Scale,
    /// Cost of each step in the objective.
    pub(crate) costs: &'a [u32],
    /// Whether each step can be made in phase 2.
    pub(crate) in_subgroup: &'a [bool],
    /// Asked now and then.
    pub(crate) stop: &'a (dyn Fn() -> bool + Sync),
}

/// A part of the search: where it starts, and what it may still spend.
#[derive(Clone, Debug)]
pub(crate) struct Task {
    pub(crate) start: usize,
    pub(crate) path: Vec<u8>,
    pub(crate) at: Coordinates,
    /// Cost left to phase 1, which spends all of it.
    pub(crate) left: u32,
}

/// One walk and what it has found.
pub(crate) struct Walk<'a, B> {
    ground: &'a Ground<'a, B>,
    path: Vec<u8>,
    /// Pieces after each step of the path, as far as they are known.
    pieces: Vec<Pieces>,
    /// Cost of the whole of phase 1.
    phase1_cost: u32,
    /// Only plans below this cost count.
    pub(crate) below: u32,
    /// Phase 2 may cost so much at most.
    pub(crate) phase2_most: u32,
    /// Whether the first plan ends the walk.
    pub(crate) first_only: bool,
    pub(crate) found: Option<Vec<u8>>,
    pub(crate) nodes: u64,
    pub(crate) most_nodes: u64,
    /// Whether it ended early.
    pub(crate) cut: bool,
    /// Whether a longer phase 2 was allowed but not tried.
    pub(crate) gave_up: bool,
}

impl<'a, B: Bounds> Walk<'a, B> {
    pub(crate) fn new(
        ground: &'a Ground<'a, B>,
        start: &Start,
        phase1_cost: u32,
        below: u32,
    ) -> Self {
        Self {
            ground,
            path: Vec::with_capacity(32),
            pieces: vec![start.pieces],
            phase1_cost,
            below,
            phase2_most: u32::MAX,
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
        self.phase1(task.at, task.left);
    }

    fn last_class(&self) -> u8 {
        let set = &self.ground.tables.set;
        self.path.last().map_or(set.start(), |&step| set.class(step))
    }

    fn done(&mut self) -> bool {
        self.nodes += 1;
        self.cut |= self.nodes >= self.most_nodes
            || (self.nodes.is_multiple_of(LOOK_EVERY) && (self.ground.stop)());
        self.cut || self.phase1_cost >= self.below || (self.first_only && self.found.is_some())
    }

    /// Phase 1 at a cost of exactly `left`, which the bound does not forbid.
    fn phase1(&mut self, at: Coordinates, left: u32) {
        if self.done() {
            return;
        }
        let ground = self.ground;
        let tables = ground.tables;
        let steps = tables.set.after(self.last_class());
        if left <= ground.tails.reach {
            self.end_phase1(at, left, tables.set.allowed(self.last_class()));
            return;
        }
        let (twist, flip) = (tables.twist.row(at.twist), tables.flip.row(at.flip));
        let slice = tables.slice.row(at.slice);
        let mut candidates = [Candidate::default(); MOST_STEPS];
        let mut count = 0;
        for &step in steps {
            let i = usize::from(step);
            if ground.costs[i] <= left {
                let at = Coordinates { twist: twist[i], flip: flip[i], slice: slice[i] };
                let give_up = ground.scale.reach(left - ground.costs[i]);
                candidates[count] = Candidate { at, step, give_up, least: 0 };
                count += 1;
            }
        }
        ground.bounds.phase1_of_all(&mut candidates[..count]);
        for &Candidate { at, step, least, .. } in &candidates[..count] {
            let cost = ground.costs[usize::from(step)];
            if cost + ground.scale.at_least(least) > left {
                continue;
            }
            self.path.push(step);
            self.phase1(at, left - cost);
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

    /// All ends of phase 1 of exactly a cost that the tails list.
    fn end_phase1(&mut self, at: Coordinates, left: u32, allowed: u64) {
        let ground = self.ground;
        if left == 0 {
            let pieces = self.pieces();
            if at == Coordinates::default() {
                self.enter_phase2(&pieces);
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
            self.enter_phase2(&pieces.then(&tail.motion));
            self.path.truncate(steps);
        }
    }

    fn enter_phase2(&mut self, pieces: &Pieces) {
        let allowed = self.below - 1 - self.phase1_cost;
        let most = allowed.min(self.phase2_most);
        let scale = self.ground.scale;
        let give_up = scale.reach(most);
        let corners = rank(&pieces.corners) as u16;
        let edges = &pieces.edges;
        let middle = rank(&[edges[8] - 8, edges[9] - 8, edges[10] - 8, edges[11] - 8]) as u8;
        // Most ends of phase 1 are refused here, before the other edges are looked at.
        if self.ground.quick.corners_middle(corners, middle) > give_up {
            self.gave_up |= most < allowed;
            return;
        }
        let outer: [u8; 8] = core::array::from_fn(|slot| edges[slot]);
        let at = Arrangement { corners, outer: rank(&outer) as u16, middle };
        let least = self.ground.bounds.phase2(&at, give_up);
        for cost in scale.at_least(least)..=most {
            let phase1_steps = self.path.len();
            let solved = self.phase2(at, cost);
            if solved {
                self.found = Some(self.path.clone());
                self.below = self.phase1_cost + cost;
            }
            self.path.truncate(phase1_steps);
            if solved || self.cut {
                return;
            }
        }
        self.gave_up |= most < allowed;
    }

    /// Phase 2 at a cost of exactly `left`; leaves its steps on the path when it
    /// succeeds.
    fn phase2(&mut self, at: Arrangement, left: u32) -> bool {
        self.nodes += 1;
        self.cut |= self.nodes >= self.most_nodes
            || (self.nodes.is_multiple_of(LOOK_EVERY) && (self.ground.stop)());
        if self.cut {
            return false;
        }
        if left == 0 {
            return at.corners == 0 && at.outer == 0 && at.middle == 0;
        }
        let ground = self.ground;
        let tables = ground.tables;
        for &step in tables.set.after_in_subgroup(self.last_class()) {
            let cost = ground.costs[usize::from(step)];
            if cost > left {
                continue;
            }
            let after = Arrangement {
                corners: tables.corners.after(at.corners, step),
                outer: tables.outer.after(at.outer, step),
                middle: tables.middle.after(u16::from(at.middle), step) as u8,
            };
            let least = ground.bounds.phase2(&after, ground.scale.reach(left - cost));
            if ground.scale.at_least(least) > left - cost {
                continue;
            }
            self.path.push(step);
            if self.phase2(after, left - cost) {
                return true;
            }
            self.path.pop();
        }
        false
    }
}
