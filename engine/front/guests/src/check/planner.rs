//! Cubes for a planner.

use dryturn_cube::{CubeState, notation, random_state};
use dryturn_units::noise::Seed;

use super::Asking;
use crate::command::{GuestCommand, Limits};
use crate::roles::{GuestPlanner, PlanCosts};

/// Every edge flipped in its place, all corners solved: one of the cubes furthest from the solved
/// one. The turns that lead there are known in the trade (from memory; a test looks at the cube).
const FLIPPED: &str = "U R2 F B R B2 R U2 L B2 R U' D' R2 F R' L B2 U2 F2";

/// Costs of the size that small servo axes have (assumed).
const COSTS: PlanCosts = PlanCosts {
    quarter_turn_s: 0.045,
    half_turn_s: 0.065,
    pair_s: Some(0.048),
    between_s: Some(0.003),
    row: None,
};

/// The cubes and what they are called.
fn cubes() -> Vec<(&'static str, CubeState)> {
    let turned =
        |turns: &str| CubeState::SOLVED.turned_by(&notation::parse(turns).unwrap_or_default());
    let random = |trial| random_state(&mut Seed::new(20).stream("guest check", trial, 0));
    vec![
        ("plan of the solved cube", CubeState::SOLVED),
        ("plan of a cube one turn off", turned("R")),
        ("plan of a cube four turns off", turned("R U R' U'")),
        ("plan of a cube with every edge flipped", turned(FLIPPED)),
        ("plan of a random cube", random(0)),
        ("plan of a second random cube", random(1)),
        ("plan of a third random cube", random(2)),
    ]
}

pub(super) fn check(command: &GuestCommand, limits: Limits, asking: &mut Asking) {
    let Some(mut guest) = asking.ask("hello", || GuestPlanner::start(command, limits)) else {
        return;
    };
    asking.met(guest.session().name());
    let mut last = None;
    for (what, cube) in cubes() {
        let planned = asking.ask(what, || guest.plan(&cube, &COSTS));
        last = Some((cube, planned));
    }
    if let Some((cube, first)) = last {
        let what = "plan of the third random cube again";
        let again = asking.ask(what, || guest.plan(&cube, &COSTS));
        asking.same(what, first.as_ref(), again.as_ref());
    }
    asking.ask("goodbye", || guest.goodbye());
}

#[cfg(test)]
mod tests {
    use dryturn_cube::{Facelet, FaceletKind};

    use super::*;

    #[test]
    fn every_edge_is_flipped() {
        let cube = cubes()[3].1.colours();
        for facelet in Facelet::all() {
            let shown = match facelet.kind() {
                FaceletKind::Edge => {
                    let other: String = facelet.name().chars().rev().collect();
                    Facelet::from_name(&other).unwrap().face()
                }
                _ => facelet.face(),
            };
            assert_eq!(cube[facelet.index()], shown, "{facelet}");
        }
    }
}
