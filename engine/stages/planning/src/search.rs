//! Iterative deepening in two phases.

use dryturn_cube::{ALL_TURNS, CubeState, Turn};
use dryturn_handoff::Plan;

use crate::coordinates::{Arrangement, Coordinates};
use crate::tables::{Tables, phase2_turns};

/// Nodes spent on shortening a plan unless the caller says otherwise; a few
/// tens of milliseconds.
pub const DEFAULT_NODE_BUDGET: u64 = 400_000;

/// No state needs more (two-phase bound: 12 for the first, 18 for the second;
/// from memory).
const LONGEST: usize = 30;
/// How deep phase 2 is tried at first: deeper tries cost more than going on with
/// phase 1.
const PHASE2_DEPTH: usize = 11;
/// How deep it is tried when so many nodes have found nothing: as deep as it can
/// be, so that a plan is always found.
const PHASE2_DEEPEST: usize = 18;
const PATIENCE_NODES: u64 = 1_000_000;

/// The tables and the search over them. Building takes some tenths of a second;
/// a planner can be shared between threads.
pub struct Planner {
    tables: Tables,
    phase2: Vec<Turn>,
}

impl Default for Planner {
    fn default() -> Self {
        Self::new()
    }
}

struct Search<'a> {
    tables: &'a Tables,
    phase2: &'a [Turn],
    start: CubeState,
    /// Turns of phase 1, then of phase 2.
    path: Vec<Turn>,
    best: Option<Vec<Turn>>,
    nodes: u64,
    budget: u64,
}

/// Whether `turn` after `last` only repeats what another order does: the same
/// face twice, or opposite faces in the second order.
fn wasted(last: Option<&Turn>, turn: Turn) -> bool {
    last.is_some_and(|last| {
        last.face == turn.face
            || (last.face.same_axis(turn.face) && last.face.index() > turn.face.index())
    })
}

impl Planner {
    /// Builds the tables.
    #[must_use]
    pub fn new() -> Self {
        Self { tables: Tables::build(), phase2: phase2_turns() }
    }

    /// A plan that solves `state`, and the shortest found within `node_budget`
    /// search nodes. The first plan is always found, whatever the budget. The
    /// same state and budget give the same plan.
    #[must_use]
    pub fn plan(&self, state: &CubeState, node_budget: u64) -> Plan {
        let mut search = Search {
            tables: &self.tables,
            phase2: &self.phase2,
            start: *state,
            path: Vec::with_capacity(LONGEST),
            best: None,
            nodes: 0,
            budget: node_budget,
        };
        let coordinates = Coordinates::of(state);
        for depth in 0..=LONGEST {
            if search.best.as_ref().is_some_and(|best| depth >= best.len()) || search.spent() {
                break;
            }
            search.phase1(coordinates, depth);
        }
        Plan::of_turns(&search.best.unwrap_or_default())
    }
}

impl Search<'_> {
    fn spent(&self) -> bool {
        self.best.is_some() && self.nodes >= self.budget
    }

    /// Phase 1 in exactly `left` more turns.
    fn phase1(&mut self, at: Coordinates, left: usize) {
        self.nodes += 1;
        let tables = self.tables;
        let needed = tables
            .twist_slice
            .at_least(at.twist, at.slice)
            .max(tables.flip_slice.at_least(at.flip, at.slice));
        if usize::from(needed) > left || self.spent() {
            return;
        }
        if left == 0 {
            self.enter_phase2();
            return;
        }
        for (i, turn) in ALL_TURNS.into_iter().enumerate() {
            if wasted(self.path.last(), turn) {
                continue;
            }
            let after = Coordinates {
                twist: tables.twist.after(at.twist, i),
                flip: tables.flip.after(at.flip, i),
                slice: tables.slice.after(at.slice, i),
            };
            self.path.push(turn);
            self.phase1(after, left - 1);
            self.path.pop();
        }
    }

    fn enter_phase2(&mut self) {
        let first = self.path.len();
        // A last turn that phase 2 could make too leads to plans found before.
        if self.path.last().is_some_and(|turn| self.phase2.contains(turn)) {
            return;
        }
        let shorter_than = self.best.as_ref().map_or(LONGEST + 1, Vec::len);
        let arrangement = Arrangement::of(&self.start.turned_by(&self.path));
        let impatient = self.best.is_none() && self.nodes > PATIENCE_NODES;
        let depth = if impatient { PHASE2_DEEPEST } else { PHASE2_DEPTH };
        let deepest = (shorter_than - 1).saturating_sub(first).min(depth);
        if first >= shorter_than {
            return;
        }
        for depth in 0..=deepest {
            if self.phase2(arrangement, depth) {
                self.best = Some(self.path.clone());
                self.path.truncate(first);
                return;
            }
            if self.spent() {
                return;
            }
        }
    }

    /// Phase 2 in exactly `left` more turns; leaves the turns on the path when
    /// it succeeds.
    fn phase2(&mut self, at: Arrangement, left: usize) -> bool {
        self.nodes += 1;
        let tables = self.tables;
        let needed = tables
            .corners_middle
            .at_least(at.corners, at.middle)
            .max(tables.outer_middle.at_least(at.outer, at.middle));
        if usize::from(needed) > left {
            return false;
        }
        if left == 0 {
            return true;
        }
        for (i, &turn) in self.phase2.iter().enumerate() {
            if wasted(self.path.last(), turn) {
                continue;
            }
            let after = Arrangement {
                corners: tables.corners.after(at.corners, i),
                outer: tables.outer.after(at.outer, i),
                middle: tables.middle.after(at.middle, i),
            };
            self.path.push(turn);
            if self.phase2(after, left - 1) {
                return true;
            }
            self.path.pop();
        }
        false
    }
}

#[cfg(test)]
mod tests {
    use dryturn_cube::{notation, random_state};
    use dryturn_units::noise::Seed;

    use super::*;

    #[test]
    fn every_plan_solves_its_state() {
        let planner = Planner::new();
        let mut turns = 0;
        for trial in 0..50 {
            let state = random_state(&mut Seed::new(2).stream("plan-test", trial, 0));
            let plan = planner.plan(&state, 100_000);
            assert_eq!(state.turned_by(&plan.turns()), CubeState::SOLVED);
            turns += plan.turns().len();
        }
        // A two-phase search that is cut off early lands a little above 20.
        assert!(turns <= 50 * 23, "mean {}", f64::from(turns as u32) / 50.0);
    }

    /// Against exhaustive search: all 243 states at distance two need two turns.
    #[test]
    fn shallow_states_get_the_shortest_plan() {
        let planner = Planner::new();
        assert_eq!(planner.plan(&CubeState::SOLVED, 1000), Plan::default());
        let twice = ALL_TURNS.iter().flat_map(|&a| ALL_TURNS.map(|b| (a, b)));
        for (a, b) in twice.filter(|(a, b)| a.face != b.face) {
            let state = CubeState::SOLVED.turned(a).turned(b);
            let plan = planner.plan(&state, DEFAULT_NODE_BUDGET);
            assert_eq!(state.turned_by(&plan.turns()), CubeState::SOLVED);
            assert_eq!(plan.turns().len(), 2, "after {a} {b}");
        }
    }

    /// States inside the subgroup of phase 2, far from home: phase 1 has nothing
    /// to do and must not be in the way.
    #[test]
    fn subgroup_states_are_solved_too() {
        let planner = Planner::new();
        let second = phase2_turns();
        for trial in 0..10 {
            let mut noise = Seed::new(3).stream("subgroup-test", trial, 0);
            let pick = |_| second[(noise.bits() % second.len() as u64) as usize];
            let state = CubeState::SOLVED.turned_by(&(0..60).map(pick).collect::<Vec<_>>());
            let plan = planner.plan(&state, 1);
            assert_eq!(state.turned_by(&plan.turns()), CubeState::SOLVED);
        }
    }

    #[test]
    fn budget_only_ever_shortens() {
        let planner = Planner::new();
        let state = random_state(&mut Seed::new(9).stream("plan-test", 0, 0));
        let lengths: Vec<usize> = [1, 10_000, 1_000_000]
            .map(|budget| planner.plan(&state, budget).turns().len())
            .to_vec();
        assert!(lengths.is_sorted_by(|a, b| a >= b), "{lengths:?}");
        assert_eq!(planner.plan(&state, 10_000), planner.plan(&state, 10_000));
    }

    #[test]
    fn opposite_faces_share_a_beat() {
        let state = CubeState::SOLVED.turned_by(&notation::parse("U D").unwrap());
        assert_eq!(Planner::new().plan(&state, 1000).beats.len(), 1);
    }
}
