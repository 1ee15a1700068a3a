//! The best plan with proof: iterative deepening with exact bounds.
//!
//! A state needs at least what orienting needs along each of the three axes; the
//! greatest of the three is the bound. Each round searches everything at one cost.

use dryturn_cube::{ALL_TURNS, CubeState, Turn};
use dryturn_handoff::Plan;
use rayon::prelude::*;

use super::walk::{Ground, Start};
use crate::bounds::Bounds;
use crate::state::{Coordinates, seen_along_next_axis, seen_back};

/// What has been proved.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Proof {
    /// The best plan and its cost, where the nodes sufficed.
    pub best: Option<(Plan, u32)>,
    /// No plan costs less than this.
    pub none_below: u32,
    /// Search nodes spent.
    pub nodes: u64,
}

/// One state seen along the three axes.
type Seen = [Coordinates; 3];

struct Search<'a, B> {
    ground: &'a Ground<'a, B>,
    /// `[axis][step]`: the step as it is seen along an axis.
    seen_step: &'a [Vec<u8>; 3],
    start: CubeState,
    path: Vec<u8>,
    nodes: u64,
    most_nodes: u64,
}

/// How a branch ended.
#[derive(Clone, Copy, PartialEq, Eq)]
enum End {
    Solved,
    Nothing,
    Cut,
}

fn seen_steps<B>(ground: &Ground<'_, B>) -> [Vec<u8>; 3] {
    let steps = &ground.tables.set.steps;
    // `seen_back` tells the real turn of a seen one; turned round here.
    let seen = |turn: Turn| ALL_TURNS.into_iter().find(|&t| seen_back(t) == turn).unwrap_or(turn);
    let next: Vec<u8> = steps
        .iter()
        .map(|step| {
            let mut turns: Vec<Turn> = step.turns().map(seen).collect();
            turns.sort_by_key(|turn| turn.face.index());
            let same = |i: &usize| steps[*i].turns().eq(turns.iter().copied());
            (0..steps.len()).find(same).unwrap_or(0) as u8
        })
        .collect();
    let once: Vec<u8> = (0..steps.len() as u8).collect();
    let twice = next.iter().map(|&step| next[usize::from(step)]).collect();
    [once, next, twice]
}

impl<B: Bounds> Search<'_, B> {
    fn least(&self, at: &Seen) -> u32 {
        let along = |&c: &Coordinates| self.ground.bounds.orient(c);
        self.ground.scale.at_least(at.iter().map(along).max().unwrap_or(0))
    }

    fn after(&self, at: &Seen, step: u8) -> Seen {
        core::array::from_fn(|axis| {
            let seen = self.seen_step[axis][usize::from(step)];
            self.ground.tables.coordinates_after(at[axis], seen)
        })
    }

    fn go(&mut self, at: &Seen, left: u32) -> End {
        self.nodes += 1;
        if self.nodes >= self.most_nodes {
            return End::Cut;
        }
        if left == 0 {
            let ends = at.iter().all(|c| (c.corner_sense, c.edge_sense, c.belt) == (0, 0, 0));
            let turns = self.ground.tables.set.turns_of(&self.path);
            let solved = ends && self.start.turned_by(&turns) == CubeState::SOLVED;
            return if solved { End::Solved } else { End::Nothing };
        }
        let tables = &self.ground.tables;
        for &step in tables.set.after(tables.set.class_of(&self.path)) {
            let cost = self.ground.costs[usize::from(step)];
            if cost > left {
                continue;
            }
            let after = self.after(at, step);
            if self.least(&after) > left - cost {
                continue;
            }
            self.path.push(step);
            let end = self.go(&after, left - cost);
            if end != End::Nothing {
                return end;
            }
            self.path.pop();
        }
        End::Nothing
    }
}

/// Round by round; within a round the first steps are searched side by side, each
/// with its share of the nodes, so that the result does not depend on the threads.
pub(crate) fn prove<B: Bounds>(
    ground: &Ground<'_, B>,
    state: &CubeState,
    most_nodes: u64,
) -> Proof {
    let seen_step = seen_steps(ground);
    let mut seen = *state;
    let at: Seen = core::array::from_fn(|_| {
        let coordinates = Start::of(&seen).coordinates;
        seen = seen_along_next_axis(&seen);
        coordinates
    });
    let search = |path: Vec<u8>, most_nodes: u64| Search {
        ground,
        seen_step: &seen_step,
        start: *state,
        path,
        nodes: 0,
        most_nodes,
    };
    let mut proof = Proof { best: None, none_below: 0, nodes: 0 };
    if *state == CubeState::SOLVED {
        proof.best = Some((Plan::default(), 0));
        return proof;
    }
    let set = &ground.tables.set;
    proof.none_below = search(Vec::new(), 0).least(&at).max(1);
    loop {
        let limit = proof.none_below;
        let firsts = set.after(set.start());
        let share = most_nodes.saturating_sub(proof.nodes) / firsts.len() as u64;
        let ends: Vec<(End, Vec<u8>, u64)> = firsts
            .par_iter()
            .filter(|&&step| ground.costs[usize::from(step)] <= limit)
            .map(|&step| {
                let mut search = search(vec![step], share);
                let after = search.after(&at, step);
                let left = limit - ground.costs[usize::from(step)];
                let end = if search.least(&after) > left {
                    End::Nothing
                } else {
                    search.go(&after, left)
                };
                (end, search.path, search.nodes)
            })
            .collect();
        proof.nodes += ends.iter().map(|(.., nodes)| nodes).sum::<u64>();
        if let Some((_, path, _)) = ends.iter().find(|(end, ..)| *end == End::Solved) {
            proof.best = Some((Plan::of_turns(&set.turns_of(path)), limit));
            return proof;
        }
        if ends.iter().any(|(end, ..)| *end == End::Cut) {
            return proof;
        }
        proof.none_below += 1;
    }
}
