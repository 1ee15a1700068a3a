//! Proved least costs over beats, against searches on code paths of their own: they
//! know beats as pairs of turns and the cube, and no coordinates, tables or bounds.

#![allow(clippy::disallowed_types)] // a map that is only looked up in, never listed

use std::collections::HashMap;

use dryturn_cube::{ALL_TURNS, Amount, CubeState, Face, Turn};
use dryturn_planning::{Objective, Planner, Weights};
use dryturn_units::noise::Seed;

const WEIGHTS: Weights = Weights::TWO_TO_THREE;

/// Beats of one axis, with their motion and cost: each face stands still or turns,
/// but not both stand still.
fn beats_of_axis(face: Face) -> Vec<(CubeState, u32)> {
    let of = |face: Face| {
        let turns = ALL_TURNS.into_iter().filter(move |turn| turn.face == face);
        core::iter::once(None).chain(turns.map(Some))
    };
    let mut beats = Vec::new();
    for one in of(face) {
        for other in of(face.opposite()) {
            let turns: Vec<Turn> = one.into_iter().chain(other).collect();
            let half = turns.iter().any(|turn| turn.amount == Amount::Half);
            let cost = if half { WEIGHTS.half } else { WEIGHTS.quarter };
            if !turns.is_empty() {
                beats.push((CubeState::SOLVED.turned_by(&turns), cost));
            }
        }
    }
    beats
}

fn all_beats() -> Vec<(CubeState, u32)> {
    [Face::U, Face::R, Face::F].into_iter().flat_map(beats_of_axis).collect()
}

/// Least cost of every state within a cost of a start, cost by cost.
fn within(start: CubeState, most: u32, beats: &[(CubeState, u32)]) -> HashMap<CubeState, u32> {
    let mut least = HashMap::from([(start, 0)]);
    let mut layers = vec![Vec::new(); most as usize + 4];
    layers[0].push(start);
    for cost in 0..=most {
        for state in core::mem::take(&mut layers[cost as usize]) {
            if least[&state] < cost {
                continue;
            }
            for (motion, step) in beats.iter().filter(|(_, step)| cost + step <= most) {
                let after = state.then(motion);
                let reached = cost + step;
                let known = least.entry(after).or_insert(u32::MAX);
                if reached < *known {
                    *known = reached;
                    layers[reached as usize].push(after);
                }
            }
        }
    }
    least
}

/// All states within three beats of solved: exhaustive search over beats.
#[test]
fn states_within_three_beats() {
    let beats = all_beats();
    assert_eq!(beats.len(), 45);
    let mut states = vec![CubeState::SOLVED];
    for _ in 0..3 {
        let next = states.iter().flat_map(|s| beats.iter().map(|(motion, _)| s.then(motion)));
        let mut all: Vec<CubeState> = states.iter().copied().chain(next).collect();
        all.sort_unstable();
        all.dedup();
        states = all;
    }
    // No three beats cost more than three half turns.
    let least = within(CubeState::SOLVED, 3 * WEIGHTS.half, &beats);
    let planner = Planner::new();
    let objective = Objective::LeastTime(WEIGHTS);
    for state in &states {
        let proof = planner.prove(state, objective, u64::MAX);
        let (plan, cost) = proof.best.unwrap();
        assert_eq!(cost, least[state], "{}", plan.notation());
        assert_eq!(state.turned_by(&plan.turns()), CubeState::SOLVED);
        assert_eq!(planner.cost(&plan, objective), cost);
    }
    assert!(states.len() > 30_000, "{}", states.len());
}

/// Cost that is searched from home.
const BALL: u32 = 10;

/// 200 states made with five to seven beats: both ends searched to where they meet.
#[test]
fn states_of_five_to_seven_beats() {
    let beats = all_beats();
    let home = within(CubeState::SOLVED, BALL, &beats);
    let planner = Planner::new();
    let objective = Objective::LeastTime(WEIGHTS);
    for trial in 0..200 {
        let mut noise = Seed::new(6).stream("meet-test", trial, 0);
        let count = 5 + trial % 3;
        let mut state = CubeState::SOLVED;
        let mut made = 0;
        for _ in 0..count {
            let (motion, cost) = beats[(noise.bits() % 45) as usize];
            state = state.then(&motion);
            made += cost;
        }
        let proof = planner.prove(&state, objective, u64::MAX);
        let (plan, cost) = proof.best.unwrap();
        assert_eq!(state.turned_by(&plan.turns()), CubeState::SOLVED);
        assert!(cost <= made);
        // From the state outwards until a ball meets the one round home.
        let meeting = |reach| {
            let ball = within(state, reach, &beats);
            ball.iter().filter_map(|(s, c)| home.get(s).map(|h| h + c)).min()
        };
        let first = (0..=made).find_map(meeting).unwrap();
        // A cheaper way is somewhere BALL − 2 to BALL from home: a beat costs 3 at most.
        let least = meeting(first.saturating_sub(BALL - 2)).unwrap_or(first).min(first);
        assert_eq!(least, cost, "trial {trial}: {}", plan.notation());
    }
}
