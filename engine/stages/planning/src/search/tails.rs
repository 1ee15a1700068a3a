//! The ends of orienting, known beforehand.
//!
//! Near the subgroup a search would look at many states to find the few ways in. All
//! ways of a small cost are listed here instead, by the coordinates they start from.

use dryturn_cube::CubeState;
use dryturn_units::stop::checkpoint;

use crate::state::{BELTS, Coordinates, EDGE_SENSES, Pieces, Step, StepTables};

/// Most ways that are listed; decides how far the list reaches.
const MOST: usize = 60_000;
/// Most steps of a way: `MOST` is reached before.
const LONGEST: usize = 8;
/// Costs that a key tells apart.
const COSTS: u32 = 64;
/// An empty place in the index.
const EMPTY: u64 = u64::MAX;

/// One way into the subgroup.
#[derive(Clone, Copy)]
pub(crate) struct Tail {
    steps: [u8; LONGEST],
    count: u8,
    pub(crate) motion: Pieces,
}

impl Tail {
    pub(crate) fn steps(&self) -> &[u8] {
        &self.steps[..usize::from(self.count)]
    }
}

/// All ways up to a cost, none of which ends with a step of arranging.
pub(crate) struct Tails {
    /// Greatest cost that is listed.
    pub(crate) reach: u32,
    /// Sorted by key.
    tails: Vec<Tail>,
    /// Open addressing: key, and where its tails start and end.
    index: Vec<(u64, u32, u32)>,
}

fn key(at: Coordinates, cost: u32) -> u64 {
    let Coordinates { corner_sense, edge_sense, belt } = at;
    let raw = (u64::from(corner_sense) * EDGE_SENSES as u64 + u64::from(edge_sense)) * BELTS as u64
        + u64::from(belt);
    raw * u64::from(COSTS) + u64::from(cost)
}

/// A place to begin looking for a key (multiplicative hashing with the golden ratio;
/// Knuth, *The Art of Computer Programming* 3, 6.4).
fn place(key: u64, mask: usize) -> usize {
    (key.wrapping_mul(0x9e37_79b9_7f4a_7c15) >> 32) as usize & mask
}

impl Tails {
    /// Of the steps of `tables` at given costs. `motions` are the steps' motions.
    pub(crate) fn new(tables: &StepTables, costs: &[u32], motions: &[Pieces]) -> Self {
        let inverse = inverses(tables);
        let mut layers: Vec<Vec<(Coordinates, Vec<u8>)>> =
            vec![vec![(Coordinates::default(), Vec::new())]];
        let (mut all, mut reach) = (0, 0);
        while reach + 1 < COSTS {
            let cost = reach + 1;
            let mut layer = Vec::new();
            for (i, &step_cost) in costs.iter().enumerate() {
                let Some(before) = cost.checked_sub(step_cost) else { continue };
                checkpoint();
                for (at, way) in &layers[before as usize] {
                    let step = i as u8;
                    let fits = match way.first() {
                        None => !tables.set.steps[i].in_subgroup(),
                        Some(next) => tables.set.after(tables.set.class(step)).contains(next),
                    };
                    if fits && way.len() < LONGEST {
                        let from = tables.coordinates_after(*at, inverse[i]);
                        layer.push((from, [&[step], &way[..]].concat()));
                    }
                }
            }
            all += layer.len();
            if all > MOST {
                break;
            }
            layers.push(layer);
            reach = cost;
        }
        let mut keyed: Vec<(u64, Tail)> = Vec::new();
        for (cost, layer) in layers.iter().enumerate().skip(1) {
            for (at, way) in layer {
                checkpoint();
                let mut steps = [0; LONGEST];
                steps[..way.len()].copy_from_slice(way);
                let still = Pieces::of(&CubeState::SOLVED);
                let motion = way.iter().fold(still, |m, &s| m.then(&motions[usize::from(s)]));
                let count = way.len() as u8;
                keyed.push((key(*at, cost as u32), Tail { steps, count, motion }));
            }
        }
        // Stable: ways of one key stay in the order in which they were listed.
        keyed.sort_by_key(|(key, _)| *key);
        let mut index = vec![(EMPTY, 0, 0); (2 * keyed.len()).next_power_of_two().max(2)];
        let mask = index.len() - 1;
        let mut start = 0;
        for group in keyed.chunk_by(|a, b| a.0 == b.0) {
            let mut at = place(group[0].0, mask);
            while index[at].0 != EMPTY {
                at = (at + 1) & mask;
            }
            index[at] = (group[0].0, start as u32, (start + group.len()) as u32);
            start += group.len();
        }
        Self { reach, tails: keyed.into_iter().map(|(_, tail)| tail).collect(), index }
    }

    /// The ways of exactly a cost, at most `reach`, from given coordinates.
    pub(crate) fn from(&self, at: Coordinates, cost: u32) -> &[Tail] {
        let key = key(at, cost);
        let mask = self.index.len() - 1;
        let mut at = place(key, mask);
        loop {
            match self.index[at] {
                (found, start, end) if found == key => {
                    return &self.tails[start as usize..end as usize];
                }
                (EMPTY, ..) => return &[],
                _ => at = (at + 1) & mask,
            }
        }
    }
}

/// The step that undoes each step.
fn inverses(tables: &StepTables) -> Vec<u8> {
    let steps = &tables.set.steps;
    let undoes = |step: &Step| {
        let back: Vec<_> = step.turns().map(|turn| turn.inverse()).collect();
        steps.iter().position(|other| other.turns().eq(back.iter().copied()))
    };
    steps.iter().map(|step| undoes(step).expect("steps come with their inverses") as u8).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::state::StepSet;

    /// Every way listed leads into the subgroup, and from random starts near it all
    /// ways that a plain search finds are listed.
    #[test]
    fn tails_are_all_ways_in() {
        for set in [StepSet::turns(), StepSet::beats()] {
            let tables = StepTables::new(set);
            let costs: Vec<u32> = tables.set.steps.iter().map(|step| step.cost).collect();
            let motions = tables.motions();
            let tails = Tails::new(&tables, &costs, &motions);
            let cost = tails.reach.min(5);
            let mut listed = 0;
            // Plain search backwards from home gives the starts; forwards, the ways.
            let mut starts = vec![Coordinates::default()];
            for _ in 0..2 {
                let next: Vec<Coordinates> = starts
                    .iter()
                    .flat_map(|&at| (0..costs.len() as u8).map(move |step| (at, step)))
                    .map(|(at, step)| tables.coordinates_after(at, step))
                    .collect();
                starts = next.into_iter().step_by(7).collect();
            }
            for at in starts {
                let found = tails.from(at, cost);
                let mut ways = Vec::new();
                search(&tables, &costs, at, cost, &mut Vec::new(), &mut ways);
                let mut steps: Vec<Vec<u8>> = found.iter().map(|t| t.steps().to_vec()).collect();
                steps.sort();
                ways.sort();
                assert_eq!(steps, ways);
                listed += ways.len();
            }
            assert!(listed > 50, "{listed}");
        }
    }

    fn search(
        tables: &StepTables,
        costs: &[u32],
        at: Coordinates,
        left: u32,
        path: &mut Vec<u8>,
        ways: &mut Vec<Vec<u8>>,
    ) {
        if left == 0 {
            let last = path.last().is_some_and(|&s| tables.set.steps[usize::from(s)].in_subgroup());
            if at == Coordinates::default() && !last {
                ways.push(path.clone());
            }
            return;
        }
        for &step in tables.set.after(tables.set.class_of(path)) {
            let cost = costs[usize::from(step)];
            if cost <= left {
                path.push(step);
                let after = tables.coordinates_after(at, step);
                search(tables, costs, after, left - cost, path, ways);
                path.pop();
            }
        }
    }
}
