//! What must hold of plans, whatever the tables.

use core::ops::ControlFlow;

use dryturn_cube::{ALL_TURNS, Amount, CubeState, Face, Turn, notation, random_state};
use dryturn_planning::{Budget, Objective, Planned, Planner, Served, Weights};
use dryturn_units::noise::Seed;

const TIME: Objective = Objective::LeastTime(Weights::TWO_TO_THREE);
const BOTH: [Objective; 2] = [Objective::FewestTurns, TIME];

fn random(trial: u64) -> CubeState {
    random_state(&mut Seed::new(2).stream("plan-test", trial, 0))
}

fn check(planner: &Planner, state: &CubeState, objective: Objective, planned: &Planned) {
    assert_eq!(state.turned_by(&planned.plan.turns()), CubeState::SOLVED);
    assert_eq!(planner.cost(&planned.plan, objective), planned.cost);
    assert!(planned.none_below <= planned.cost);
    assert_eq!(planned.served, Served::Compact);
}

#[test]
fn every_plan_solves_its_state() {
    let planner = Planner::new();
    for objective in BOTH {
        for trial in 0..20 {
            let state = random(trial);
            check(&planner, &state, objective, &planner.plan(&state, objective, 50_000));
        }
        assert_eq!(planner.plan(&CubeState::SOLVED, objective, 1000).cost, 0);
        assert!(planner.textbook(&CubeState::SOLVED).beats.is_empty());
    }
}

/// The first plan of a plain textbook search has about 21 turns; with half turns at
/// one and a half it costs 24.0 ± 0.5 (tests/reference/textbook_cost.py, a textbook search
/// of its own: 20.77 ± 0.04 turns and 23.86 ± 0.08 over 400 states).
#[test]
fn textbook_plans_cost_what_textbooks_do() {
    let planner = Planner::new();
    let cost = |trial| {
        let plan = planner.textbook(&random(trial));
        assert_eq!(random(trial).turned_by(&plan.turns()), CubeState::SOLVED);
        f64::from(planner.cost(&plan, TIME)) / 2.0
    };
    let mean = (0..100).map(cost).sum::<f64>() / 100.0;
    assert!((mean - 24.0).abs() < 0.5, "{mean}");
}

/// The same nodes give the same plan, whatever the number of threads.
#[test]
fn plans_do_not_depend_on_threads() {
    let planner = Planner::new();
    let with = |threads: usize, objective, state: &CubeState| {
        let pool = rayon::ThreadPoolBuilder::new().num_threads(threads).build().unwrap();
        let planned = pool.install(|| planner.plan(state, objective, 200_000));
        let proof = pool.install(|| planner.prove(state, objective, 100_000));
        (planned.plan, planned.nodes, planned.none_below, proof)
    };
    for objective in BOTH {
        for trial in 0..4 {
            let state = random(trial);
            assert_eq!(with(1, objective, &state), with(2, objective, &state));
        }
    }
}

#[test]
fn more_nodes_only_ever_improve() {
    let planner = Planner::new();
    for objective in BOTH {
        let cost = |nodes| planner.plan(&random(5), objective, nodes).cost;
        let costs = [1, 20_000, 400_000, 2_000_000].map(cost);
        assert!(costs.is_sorted_by(|a, b| a >= b), "{costs:?}");
    }
}

/// Improvements are told as they are found, each a solution, each cheaper; and the
/// caller may break off, at one or at any time.
#[test]
fn improvements_stream() {
    let planner = Planner::new();
    // Not every state's first plan can be improved on.
    let mut most = 0;
    for trial in 7..13 {
        let state = random(trial);
        let mut costs = Vec::new();
        let planned = planner.search(&state, TIME, &Budget::Nodes(500_000), &mut |better| {
            assert_eq!(state.turned_by(&better.turns), CubeState::SOLVED);
            costs.push(better.cost);
            ControlFlow::Continue(())
        });
        assert!(costs.is_sorted_by(|a, b| a > b), "{costs:?}");
        assert_eq!(costs.last(), Some(&planned.cost));
        let first =
            planner.search(&state, TIME, &Budget::Nodes(500_000), &mut |_| ControlFlow::Break(()));
        assert_eq!(first.cost, costs[0]);
        most = most.max(costs.len());
    }
    assert!(most > 1);
    let state = random(7);
    let late = || true;
    let stopped =
        planner.search(&state, TIME, &Budget::Until(&late), &mut |_| ControlFlow::Continue(()));
    assert_eq!(state.turned_by(&stopped.plan.turns()), CubeState::SOLVED);
}

/// The first plan costs no more than about a tenth above what half a million nodes find, and
/// comes within a budget that a host has: on average over 30 states.
#[test]
fn first_plans_are_good_already() {
    let planner = Planner::new();
    let of = |nodes: u64| {
        let all: Vec<_> = (0..30).map(|trial| planner.plan(&random(trial), TIME, nodes)).collect();
        let sum = |of: &dyn Fn(&Planned) -> f64| all.iter().map(of).sum::<f64>() / 30.0;
        (sum(&|planned| f64::from(planned.cost)), sum(&|planned| planned.nodes as f64))
    };
    let ((first, nodes), (later, _)) = (of(1), of(500_000));
    assert!(first < 1.1 * later, "{first} {later}");
    assert!(nodes < 150_000.0, "{nodes}");
}

/// All 243 states at distance two need two turns, and the search knows it.
#[test]
fn shallow_states_are_proved() {
    let planner = Planner::new();
    let twice = ALL_TURNS.iter().flat_map(|&a| ALL_TURNS.map(|b| (a, b)));
    for (a, b) in twice.filter(|(a, b)| a.face != b.face) {
        let state = CubeState::SOLVED.turned(a).turned(b);
        let planned = planner.plan(&state, Objective::FewestTurns, 1_000_000);
        assert_eq!((planned.cost, planned.proved()), (2, true), "after {a} {b}");
    }
}

/// States inside the subgroup that is arranged, far from home: orienting has nothing to do
/// and must not be in the way.
#[test]
fn subgroup_states_are_solved_too() {
    let planner = Planner::new();
    let stays = |t: &Turn| t.face.same_axis(Face::U) || t.amount == Amount::Half;
    let second: Vec<Turn> = ALL_TURNS.into_iter().filter(stays).collect();
    for trial in 0..10 {
        let mut noise = Seed::new(3).stream("subgroup-test", trial, 0);
        let pick = |_| second[(noise.bits() % second.len() as u64) as usize];
        let state = CubeState::SOLVED.turned_by(&(0..60).map(pick).collect::<Vec<_>>());
        for objective in BOTH {
            check(&planner, &state, objective, &planner.plan(&state, objective, 1));
        }
    }
}

/// The superflip needs 20 turns (M. Reid 1995; SIAM Review 56(4), 2014): a plan of 20
/// is found, and never a shorter one. Every state is within 20 (same source).
#[test]
fn the_superflip_takes_twenty_turns() {
    let known = "U R2 F B R B2 R U2 L B2 R U' D' R2 F R' L B2 U2 F2";
    let turns = notation::parse(known).unwrap();
    let superflip = CubeState::SOLVED.turned_by(&turns);
    assert_eq!(turns.len(), 20);
    assert_eq!(superflip.edge_flip(), &[1; 12]);
    assert_eq!(superflip.edge_piece(), CubeState::SOLVED.edge_piece());
    assert_eq!(superflip.corner_piece(), CubeState::SOLVED.corner_piece());
    assert_eq!(superflip.corner_twist(), CubeState::SOLVED.corner_twist());
    let planner = Planner::new();
    let planned = planner.plan(&superflip, Objective::FewestTurns, 60_000_000);
    check(&planner, &superflip, Objective::FewestTurns, &planned);
    assert_eq!(planned.cost, 20);
}

/// Weights that no table was built for: bounds stay bounds.
#[test]
fn other_weights_keep_the_least_cost() {
    let planner = Planner::new();
    for (quarter, half) in [(1, 1), (3, 4), (5, 7), (2, 4)] {
        let objective = Objective::LeastTime(Weights { quarter, half });
        for trial in 0..10 {
            let mut noise = Seed::new(4).stream("weights-test", trial, 0);
            let pick = |_| ALL_TURNS[(noise.bits() % 18) as usize];
            let turns: Vec<Turn> = (0..4).map(pick).collect();
            let state = CubeState::SOLVED.turned_by(&turns);
            let proof = planner.prove(&state, objective, u64::MAX);
            let planned = planner.plan(&state, objective, 20_000_000);
            check(&planner, &state, objective, &planned);
            assert_eq!(proof.best.unwrap().1, planned.cost, "{turns:?}");
        }
    }
}

#[test]
fn opposite_faces_share_a_beat() {
    let state = CubeState::SOLVED.turned_by(&notation::parse("U D").unwrap());
    assert_eq!(Planner::new().plan(&state, TIME, 1000).plan.beats.len(), 1);
}
