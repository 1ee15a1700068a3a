//! The whole search: six views of a state, cost by cost, on all threads.
//!
//! Tasks are worked on in batches. All tasks of a batch know the best plan from
//! before the batch and no later one, so a budget in nodes gives the same plan
//! whatever the number of threads.

mod costs;
mod proof;
mod tails;
mod textbook;
mod walk;

use core::ops::ControlFlow;

use dryturn_cube::{CubeState, Turn};
use dryturn_units::stop::carried;
use rayon::prelude::*;

use crate::bounds::Bounds;
use crate::state::{seen_along_next_axis, seen_back};
use walk::{PATIENCE_NODES, Start, Task, Walk};

pub use costs::Objective;
pub(crate) use costs::Scale;
pub use proof::Proof;
pub(crate) use proof::prove;
pub(crate) use tails::Tails;
pub(crate) use textbook::textbook;
pub(crate) use walk::Ground;

/// Tasks that are worked on at once.
const BATCH: usize = 64;
/// Steps of orienting that a task has made already.
const TASK_STEPS: usize = 2;

/// One of the six ways to look at a state: along three axes, and at its inverse.
struct View {
    start: Start,
    axis: usize,
    inverted: bool,
}

/// A better plan, and what it took.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Improvement {
    /// Its cost in the objective's weights.
    pub cost: u32,
    /// The turns, first to last.
    pub turns: Vec<Turn>,
    /// Search nodes until then.
    pub nodes: u64,
}

/// How a search ended.
#[derive(Clone, Debug)]
pub(crate) struct Found {
    pub(crate) best: Option<Improvement>,
    pub(crate) nodes: u64,
    /// No plan below this cost exists: all of orienting below it was searched.
    pub(crate) none_below: u32,
}

fn views(state: &CubeState) -> Vec<View> {
    let mut seen = *state;
    let mut views: Vec<View> = Vec::new();
    for axis in 0..3 {
        for inverted in [false, true] {
            let start = Start::of(&if inverted { seen.inverse() } else { seen });
            // A symmetrical state looks the same along several axes.
            if views.iter().all(|view| view.start != start) {
                views.push(View { start, axis, inverted });
            }
        }
        seen = seen_along_next_axis(&seen);
    }
    views
}

impl View {
    /// The turns that solve the state itself.
    fn really(&self, turns: Vec<Turn>) -> Vec<Turn> {
        let back = |turn: Turn| (0..self.axis).fold(turn, |turn, _| seen_back(turn));
        if self.inverted {
            turns.into_iter().rev().map(|turn| back(turn.inverse())).collect()
        } else {
            turns.into_iter().map(back).collect()
        }
    }
}

/// The parts of orienting at a cost of exactly `limit`.
fn tasks<B: Bounds>(ground: &Ground<'_, B>, views: &[View], limit: u32) -> Vec<Task> {
    let mut tasks = Vec::new();
    for (start, view) in views.iter().enumerate() {
        let at = view.start.coordinates;
        let least = ground.bounds.orient(at);
        if ground.scale.at_least(least) <= limit {
            divide(ground, Task { start, path: Vec::new(), at, left: limit }, &mut tasks);
        }
    }
    tasks
}

fn divide<B: Bounds>(ground: &Ground<'_, B>, task: Task, out: &mut Vec<Task>) {
    if task.left == 0 || task.path.len() == TASK_STEPS {
        out.push(task);
        return;
    }
    let tables = ground.tables;
    for &step in tables.set.after(tables.set.class_of(&task.path)) {
        let cost = ground.costs[usize::from(step)];
        // As in a walk: a last step that arranging could make is not one of orienting.
        if cost == task.left && tables.set.steps[usize::from(step)].in_subgroup() {
            continue;
        }
        let after = tables.coordinates_after(task.at, step);
        let least = ground.bounds.orient(after);
        if cost + ground.scale.at_least(least) <= task.left {
            let path = [&task.path[..], &[step]].concat();
            divide(ground, Task { path, at: after, left: task.left - cost, ..task }, out);
        }
    }
}

/// Searches until `most_nodes` are spent, the caller breaks off at an improvement,
/// or no cheaper plan can exist. The first plan is always found unless the
/// ground's `stop` says so.
pub(crate) fn search<B: Bounds>(
    ground: &Ground<'_, B>,
    state: &CubeState,
    objective: Objective,
    most_nodes: u64,
    improved: &mut dyn FnMut(&Improvement) -> ControlFlow<()>,
) -> Found {
    let views = views(state);
    let mut found = Found { best: None, nodes: 0, none_below: 0 };
    let (mut limit, mut whole) = (0, true);
    loop {
        let below = found.best.as_ref().map_or(u32::MAX, |best| best.cost);
        if limit >= below {
            return found;
        }
        for batch in tasks(ground, &views, limit).chunks(BATCH) {
            let below = found.best.as_ref().map_or(u32::MAX, |best| best.cost);
            let any = found.best.is_some();
            let left = most_nodes.saturating_sub(found.nodes);
            if any && left == 0 {
                return found;
            }
            let patient = any || found.nodes > PATIENCE_NODES;
            let walk = |task: &Task| {
                let mut walk = Walk::new(ground, &views[task.start].start, limit, below);
                walk.arranging_most = if patient { u32::MAX } else { objective.first_arranging() };
                if any {
                    walk.most_nodes = left.div_ceil(BATCH as u64);
                }
                walk.run(task);
                (walk.found.map(|path| (walk.below, path)), walk.nodes, walk.cut || walk.gave_up)
            };
            let walked: Vec<_> = batch.par_iter().map(carried(walk)).collect();
            found.nodes += walked.iter().map(|(_, nodes, _)| nodes).sum::<u64>();
            whole &= walked.iter().all(|&(.., cut)| !cut);
            let cheapest = batch
                .iter()
                .zip(&walked)
                .filter_map(|(task, (plan, ..))| Some((task, plan.as_ref()?)))
                .min_by_key(|(_, (cost, _))| *cost);
            if let Some((task, (cost, path))) = cheapest {
                let turns = views[task.start].really(ground.tables.set.turns_of(path));
                let best = Improvement { cost: *cost, turns, nodes: found.nodes };
                let on = improved(&best);
                found.best = Some(best);
                if on.is_break() {
                    return found;
                }
            }
            if (ground.stop)() {
                return found;
            }
        }
        limit += 1;
        if whole {
            found.none_below = limit;
        }
    }
}
