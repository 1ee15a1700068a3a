//! What each turn does to a coordinate, and how far each pair of coordinates is
//! from home at least.

use dryturn_cube::{ALL_TURNS, Amount, Face, Turn};

use crate::coordinates::{
    FLIPS, PERMUTATIONS_4, PERMUTATIONS_8, SLICES, TWISTS, turn_corners, turn_flip, turn_middle,
    turn_outer, turn_slice, turn_twist,
};

/// The turns that stay inside the subgroup of phase 2.
pub(crate) fn phase2_turns() -> Vec<Turn> {
    let stays = |turn: &Turn| turn.face.same_axis(Face::U) || turn.amount == Amount::Half;
    ALL_TURNS.into_iter().filter(stays).collect()
}

/// `next[coordinate][turn]` for one coordinate and one set of turns.
pub(crate) struct TurnTable {
    turns: usize,
    next: Vec<u16>,
}

impl TurnTable {
    fn new(size: usize, turns: &[Turn], turned: impl Fn(usize, Turn) -> usize) -> Self {
        let all = (0..size).flat_map(|n| turns.iter().map(move |&turn| (n, turn)));
        let next = all.map(|(n, turn)| turned(n, turn) as u16).collect();
        Self { turns: turns.len(), next }
    }

    pub(crate) fn after(&self, coordinate: usize, turn: usize) -> usize {
        usize::from(self.next[coordinate * self.turns + turn])
    }
}

/// `turns_needed[a · size_b + b]`: fewest turns that bring two coordinates home.
pub(crate) struct DistanceTable {
    size_b: usize,
    turns_needed: Vec<u8>,
}

impl DistanceTable {
    /// Breadth-first from home, where both coordinates are 0.
    fn new(a: &TurnTable, b: &TurnTable) -> Self {
        let size = |table: &TurnTable| table.next.len() / table.turns;
        let size_b = size(b);
        let mut turns_needed = vec![u8::MAX; size(a) * size_b];
        turns_needed[0] = 0;
        let mut frontier = vec![0u32];
        let mut depth = 0;
        while !frontier.is_empty() {
            depth += 1;
            let mut next = Vec::new();
            for &pair in &frontier {
                let (at_a, at_b) = (pair as usize / size_b, pair as usize % size_b);
                for turn in 0..a.turns {
                    let after = a.after(at_a, turn) * size_b + b.after(at_b, turn);
                    if turns_needed[after] == u8::MAX {
                        turns_needed[after] = depth;
                        next.push(after as u32);
                    }
                }
            }
            frontier = next;
        }
        Self { size_b, turns_needed }
    }

    pub(crate) fn at_least(&self, a: usize, b: usize) -> u8 {
        self.turns_needed[a * self.size_b + b]
    }
}

/// Everything the search looks up; about 7 MB.
pub(crate) struct Tables {
    pub(crate) twist: TurnTable,
    pub(crate) flip: TurnTable,
    pub(crate) slice: TurnTable,
    pub(crate) twist_slice: DistanceTable,
    pub(crate) flip_slice: DistanceTable,
    /// Phase 2, over [`phase2_turns`].
    pub(crate) corners: TurnTable,
    pub(crate) outer: TurnTable,
    pub(crate) middle: TurnTable,
    pub(crate) corners_middle: DistanceTable,
    pub(crate) outer_middle: DistanceTable,
}

impl Tables {
    pub(crate) fn build() -> Self {
        let second = phase2_turns();
        let twist = TurnTable::new(TWISTS, &ALL_TURNS, turn_twist);
        let flip = TurnTable::new(FLIPS, &ALL_TURNS, turn_flip);
        let slice = TurnTable::new(SLICES, &ALL_TURNS, turn_slice);
        let corners = TurnTable::new(PERMUTATIONS_8, &second, turn_corners);
        let outer = TurnTable::new(PERMUTATIONS_8, &second, turn_outer);
        let middle = TurnTable::new(PERMUTATIONS_4, &second, turn_middle);
        Self {
            twist_slice: DistanceTable::new(&twist, &slice),
            flip_slice: DistanceTable::new(&flip, &slice),
            corners_middle: DistanceTable::new(&corners, &middle),
            outer_middle: DistanceTable::new(&outer, &middle),
            twist,
            flip,
            slice,
            corners,
            outer,
            middle,
        }
    }
}
