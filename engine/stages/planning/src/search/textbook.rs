//! The plan to compare with: the first one of a plain textbook search.

use dryturn_cube::CubeState;
use dryturn_handoff::Plan;

use super::costs::Objective;
use super::walk::{Ground, PATIENCE_NODES, Start, Task, Walk};
use crate::bounds::Bounds;

/// Orienting by iterative deepening, shortest first; the first end of orienting from
/// which arranging succeeds makes the plan. With the nodes spent.
pub(crate) fn textbook<B: Bounds>(ground: &Ground<'_, B>, state: &CubeState) -> (Plan, u64) {
    let start = Start::of(state);
    let mut nodes = 0;
    for limit in 0.. {
        let mut walk = Walk::new(ground, &start, limit, u32::MAX);
        walk.first_only = true;
        let usual = Objective::FewestTurns.first_arranging();
        walk.arranging_most = if nodes < PATIENCE_NODES { usual } else { u32::MAX };
        let task = Task { start: 0, path: Vec::new(), at: start.coordinates, left: limit };
        let least = ground.bounds.orient(start.coordinates);
        if ground.scale.at_least(least) <= limit {
            walk.run(&task);
        }
        nodes += walk.nodes;
        if let Some(path) = walk.found {
            return (Plan::of_turns(&ground.tables.set.turns_of(&path)), nodes);
        }
    }
    (Plan::default(), nodes)
}
