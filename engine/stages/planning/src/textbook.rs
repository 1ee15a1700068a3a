//! The plan to compare with: the first one of a plain two-phase search.

use dryturn_cube::CubeState;
use dryturn_handoff::Plan;

use crate::bounds::Bounds;
use crate::walk::{Ground, PATIENCE_NODES, PHASE2_STEPS, Start, Task, Walk};

/// Phase 1 by iterative deepening, shortest first; the first end of phase 1 from
/// which phase 2 succeeds makes the plan. With the nodes spent.
pub(crate) fn textbook<B: Bounds>(ground: &Ground<'_, B>, state: &CubeState) -> (Plan, u64) {
    let start = Start::of(state);
    let mut nodes = 0;
    for limit in 0.. {
        let mut walk = Walk::new(ground, &start, limit, u32::MAX);
        walk.first_only = true;
        walk.phase2_most = if nodes < PATIENCE_NODES { PHASE2_STEPS } else { u32::MAX };
        let task = Task { start: 0, path: Vec::new(), at: start.coordinates, left: limit };
        let least = ground.bounds.phase1(start.coordinates);
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
