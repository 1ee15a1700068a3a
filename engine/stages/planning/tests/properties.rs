//! What holds of plans for every state, objective and budget.

use std::sync::LazyLock;

use dryturn_cube::{ALL_TURNS, CubeState, Face, Turn, random_state};
use dryturn_handoff::Plan;
use dryturn_planning::{Objective, Planner, Weights};
use dryturn_units::noise::Seed;
use proptest::prelude::*;

const TIME: Objective = Objective::LeastTime(Weights::TWO_TO_THREE);

/// Two planners, each with tables of its own, which are built once.
static PLANNER: LazyLock<Planner> = LazyLock::new(Planner::new);
static OTHER: LazyLock<Planner> = LazyLock::new(Planner::new);

fn objectives() -> impl Strategy<Value = Objective> {
    let others = Objective::LeastTime(Weights { quarter: 3, half: 4 });
    prop::sample::select(vec![Objective::FewestTurns, TIME, others])
}

/// So few turns that the least cost of undoing them is proved at once.
fn turns() -> impl Strategy<Value = Vec<Turn>> {
    prop::collection::vec(prop::sample::select(ALL_TURNS.to_vec()), 0..5)
}

fn state(seed: u64) -> CubeState {
    random_state(&mut Seed::new(seed).stream("plan-properties", 0, 0))
}

/// The least cost of undoing some turns.
fn least(turns: &[Turn], objective: Objective) -> u32 {
    let state = CubeState::SOLVED.turned_by(turns);
    let proof = PLANNER.prove(&state, objective, u64::MAX);
    let (plan, cost) = proof.best.unwrap();
    assert_eq!(state.turned_by(&plan.turns()), CubeState::SOLVED);
    assert_eq!((PLANNER.cost(&plan, objective), proof.none_below), (cost, cost));
    cost
}

/// The same turns of the cube held another way: turned about a diagonal, so that U, R and F
/// follow one another.
fn turned_over(turn: Turn) -> Turn {
    let (side, axis) = (turn.face.index() / 3, turn.face.index() % 3);
    Turn { face: Face::from_index(3 * side + (axis + 1) % 3), ..turn }
}

/// A turn as it looks in a mirror beside R.
fn mirrored(turn: Turn) -> Turn {
    let Turn { face, amount } = turn.inverse();
    Turn { face: if face.same_axis(Face::R) { face.opposite() } else { face }, amount }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 20, failure_persistence: None, ..ProptestConfig::default() })]

    /// A plan solves its state, costs what is said, turns opposite faces together and no others,
    /// and what no plan costs less than is no more than 20 turns, which are enough for every
    /// state (SIAM Review 56(4), 2014).
    #[test]
    fn plans_solve_their_states(
        seed in any::<u64>(),
        objective in objectives(),
        nodes in 1u64..20_000,
    ) {
        let state = state(seed);
        let planned = PLANNER.plan(&state, objective, nodes);
        prop_assert_eq!(state.turned_by(&planned.plan.turns()), CubeState::SOLVED);
        prop_assert_eq!(PLANNER.cost(&planned.plan, objective), planned.cost);
        for beat in &planned.plan.beats {
            let faces: Vec<Face> = beat.turns.iter().map(|turn| turn.face).collect();
            let pair = faces.len() == 2 && faces[0].opposite() == faces[1];
            prop_assert!(pair || faces.len() == 1, "{beat:?}");
        }
        let a_turn = match objective {
            Objective::FewestTurns => 1,
            Objective::LeastTime(weights) => weights.half,
        };
        prop_assert!(planned.none_below <= planned.cost.min(20 * a_turn));
    }

    /// Another planner finds the same plan in as many nodes, and more nodes never cost turns or
    /// time.
    #[test]
    fn the_same_state_has_the_same_plan(seed in any::<u64>(), nodes in 1u64..30_000) {
        let state = state(seed);
        let [one, other] = [&PLANNER, &OTHER].map(|planner| planner.plan(&state, TIME, nodes));
        prop_assert_eq!(&one.plan, &other.plan);
        prop_assert_eq!((one.nodes, one.none_below), (other.nodes, other.none_below));
        let first = PLANNER.plan(&state, TIME, 1);
        prop_assert!(one.cost <= first.cost, "{one:?} after {first:?}");
        prop_assert!(one.nodes >= first.nodes);
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 40, failure_persistence: None, ..ProptestConfig::default() })]

    /// The least cost is the same of the inverse, of the cube held another way and of its mirror
    /// image, and no more than that of undoing turn by turn.
    #[test]
    fn least_costs_have_the_cubes_symmetry(turns in turns(), objective in objectives()) {
        let cost = least(&turns, objective);
        prop_assert!(cost <= PLANNER.cost(&Plan::of_turns(&turns), objective));
        let inverse: Vec<Turn> = turns.iter().rev().map(|turn| turn.inverse()).collect();
        prop_assert_eq!(least(&inverse, objective), cost);
        let over: Vec<Turn> = turns.iter().copied().map(turned_over).collect();
        prop_assert_eq!(least(&over, objective), cost);
        let mirrored: Vec<Turn> = turns.iter().copied().map(mirrored).collect();
        prop_assert_eq!(least(&mirrored, objective), cost);
    }

    /// One more turn changes the least cost by what it costs, at most.
    #[test]
    fn a_turn_costs_no_more_than_itself(
        turns in turns(),
        turn in prop::sample::select(ALL_TURNS.to_vec()),
        objective in objectives(),
    ) {
        let before = least(&turns, objective);
        let after = least(&[&turns[..], &[turn]].concat(), objective);
        let own = PLANNER.cost(&Plan::of_turns(&[turn]), objective);
        prop_assert!(before.abs_diff(after) <= own, "{before} {after} {own}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig { failure_persistence: None, ..ProptestConfig::default() })]

    /// Weights are near the ratio that was asked for, and a half turn never costs more than two
    /// quarter turns. Fractions with denominators of 2 to 5 lie 0.2 apart at most.
    #[test]
    fn weights_keep_the_ratio(ratio in 0.5..3.0f64) {
        for weights in [Weights::of_ratio(ratio), Weights::to_search(ratio)] {
            let Weights { quarter, half } = weights;
            prop_assert!((2..=5).contains(&quarter) && (quarter..=2 * quarter).contains(&half));
        }
        let Weights { quarter, half } = Weights::of_ratio(ratio);
        let off = f64::from(half) / f64::from(quarter) - ratio.clamp(1.0, 2.0);
        prop_assert!(off.abs() <= 0.1 + 1e-12, "{off}");
    }
}
