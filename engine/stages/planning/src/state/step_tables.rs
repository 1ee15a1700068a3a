//! What each step does to each coordinate.

use dryturn_cube::{ALL_TURNS, Amount, CubeState, Turn};
use dryturn_units::stop::checkpoint;

use super::coordinates::{
    BELTS, CORNER_SENSES, Coordinates, EDGE_SENSES, PERMUTATIONS_4, PERMUTATIONS_8, turn_belt,
    turn_belt_order, turn_cap_order, turn_corner_order, turn_corner_sense, turn_edge_sense,
};
use super::pieces::Pieces;
use super::steps::{Step, StepSet, alone};

/// `next[coordinate · steps + step]` of one coordinate.
pub(crate) struct StepTable {
    steps: usize,
    next: Vec<u16>,
}

impl StepTable {
    /// Of the steps that `can` be made on the coordinate; others lead nowhere and
    /// must not be asked for.
    fn new(
        size: usize,
        steps: &[Step],
        can: impl Fn(Turn) -> bool,
        turned: impl Fn(usize, Turn) -> usize,
    ) -> Self {
        // Quarter turns are computed, half and counter-quarter turns made of them.
        let mut by_turn: Vec<Vec<u16>> = vec![Vec::new(); ALL_TURNS.len()];
        for clockwise in ALL_TURNS.into_iter().filter(|turn| turn.amount == Amount::Clockwise) {
            checkpoint();
            let half = Turn { amount: Amount::Half, ..clockwise };
            let counter = Turn { amount: Amount::Counter, ..clockwise };
            if can(clockwise) {
                let once: Vec<u16> = (0..size).map(|n| turned(n, clockwise) as u16).collect();
                let then = |before: &[u16]| -> Vec<u16> {
                    before.iter().map(|&n| once[usize::from(n)]).collect()
                };
                by_turn[half.index()] = then(&once);
                by_turn[counter.index()] = then(&by_turn[half.index()]);
                by_turn[clockwise.index()] = once;
            } else if can(half) {
                by_turn[half.index()] = (0..size).map(|n| turned(n, half) as u16).collect();
            }
        }
        let mut next = vec![u16::MAX; size * steps.len()];
        for (i, step) in steps.iter().enumerate() {
            if !step.turns().all(&can) {
                continue;
            }
            checkpoint();
            let first = &by_turn[step.first.index()];
            for (n, &after) in first.iter().enumerate() {
                next[n * steps.len() + i] = match step.second {
                    None => after,
                    Some(second) => by_turn[second.index()][usize::from(after)],
                };
            }
        }
        Self { steps: steps.len(), next }
    }

    pub(crate) fn size(&self) -> usize {
        self.next.len() / self.steps
    }

    pub(crate) fn after(&self, coordinate: u16, step: u8) -> u16 {
        self.next[usize::from(coordinate) * self.steps + usize::from(step)]
    }

    /// The coordinate after each step.
    pub(crate) fn row(&self, coordinate: u16) -> &[u16] {
        let at = usize::from(coordinate) * self.steps;
        &self.next[at..at + self.steps]
    }
}

/// The tables of all coordinates, for one set of steps.
pub(crate) struct StepTables {
    pub(crate) set: StepSet,
    pub(crate) corner_sense: StepTable,
    pub(crate) edge_sense: StepTable,
    pub(crate) belt: StepTable,
    /// Permutations: steps of arranging only.
    pub(crate) corner_order: StepTable,
    pub(crate) cap_order: StepTable,
    pub(crate) belt_order: StepTable,
}

impl StepTables {
    pub(crate) fn new(set: StepSet) -> Self {
        let steps = &set.steps;
        let any = |_: Turn| true;
        let second = |turn: Turn| alone(turn).in_subgroup();
        Self {
            corner_sense: StepTable::new(CORNER_SENSES, steps, any, turn_corner_sense),
            edge_sense: StepTable::new(EDGE_SENSES, steps, any, turn_edge_sense),
            belt: StepTable::new(BELTS, steps, any, turn_belt),
            corner_order: StepTable::new(PERMUTATIONS_8, steps, second, turn_corner_order),
            cap_order: StepTable::new(PERMUTATIONS_8, steps, second, turn_cap_order),
            belt_order: StepTable::new(PERMUTATIONS_4, steps, second, turn_belt_order),
            set,
        }
    }

    /// Coordinates of orienting after a step.
    pub(crate) fn coordinates_after(&self, at: Coordinates, step: u8) -> Coordinates {
        Coordinates {
            corner_sense: self.corner_sense.after(at.corner_sense, step),
            edge_sense: self.edge_sense.after(at.edge_sense, step),
            belt: self.belt.after(at.belt, step),
        }
    }

    /// What each step does to the pieces.
    pub(crate) fn motions(&self) -> Vec<Pieces> {
        let motion = |step: &Step| {
            let turns: Vec<Turn> = step.turns().collect();
            Pieces::of(&CubeState::SOLVED.turned_by(&turns))
        };
        self.set.steps.iter().map(motion).collect()
    }
}
