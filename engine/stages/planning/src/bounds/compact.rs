//! Small tables: built in a moment, nothing is kept. Each holds what two
//! coordinates need at least; the greater of two of them bounds each leg.

use dryturn_units::stop::{carried, checkpoint};

use super::Bounds;
use crate::state::{Arrangement, Coordinates, StepTable, StepTables};

/// After so many pairs whoever watches is asked whether to stop: a millisecond or two.
const ASKED_AFTER: usize = 8192;

/// `least[a · size_b + b]`: least cost that brings two coordinates home.
struct PairTable {
    size_b: usize,
    least: Vec<u8>,
}

impl PairTable {
    /// By cost from home, where both coordinates are 0. All costs are small whole
    /// numbers: states wait in one bucket for each cost.
    fn new(a: &StepTable, b: &StepTable, steps: &[(u8, u32)]) -> Self {
        let size_b = b.size();
        let mut least = vec![u8::MAX; a.size() * size_b];
        let dearest = steps.iter().map(|&(_, cost)| cost).max().unwrap_or(1) as usize;
        let mut buckets: Vec<Vec<u32>> = vec![Vec::new(); dearest + 1];
        least[0] = 0;
        buckets[0].push(0);
        let mut cost = 0usize;
        while buckets.iter().any(|bucket| !bucket.is_empty()) {
            let bucket = core::mem::take(&mut buckets[cost % (dearest + 1)]);
            for (number, &pair) in bucket.iter().enumerate() {
                if number % ASKED_AFTER == 0 {
                    checkpoint();
                }
                if usize::from(least[pair as usize]) != cost {
                    continue;
                }
                let (at_a, at_b) =
                    ((pair as usize / size_b) as u16, (pair as usize % size_b) as u16);
                let (row_a, row_b) = (a.row(at_a), b.row(at_b));
                for &(step, step_cost) in steps {
                    let step = usize::from(step);
                    let after = usize::from(row_a[step]) * size_b + usize::from(row_b[step]);
                    let reached = cost + step_cost as usize;
                    if usize::from(least[after]) > reached {
                        least[after] = reached as u8;
                        buckets[reached % (dearest + 1)].push(after as u32);
                    }
                }
            }
            cost += 1;
        }
        Self { size_b, least }
    }

    fn at_least(&self, a: u16, b: u16) -> u8 {
        self.least[usize::from(a) * self.size_b + usize::from(b)]
    }
}

/// The four tables of one set of steps; about 4 MB.
pub(crate) struct Compact {
    corner_sense_belt: PairTable,
    edge_sense_belt: PairTable,
    corner_belt_order: PairTable,
    cap_belt_order: PairTable,
}

impl Compact {
    pub(crate) fn new(tables: &StepTables) -> Self {
        let set = &tables.set;
        let costed = |steps: &[u8]| -> Vec<(u8, u32)> {
            steps.iter().map(|&step| (step, set.steps[usize::from(step)].cost)).collect()
        };
        let all = costed(set.after(set.start()));
        let second = costed(set.after_in_subgroup(set.start()));
        let orient = carried(|by: &StepTable| PairTable::new(by, &tables.belt, &all));
        let arrange = carried(|by: &StepTable| PairTable::new(by, &tables.belt_order, &second));
        let ((corner_sense_belt, edge_sense_belt), (corner_belt_order, cap_belt_order)) =
            rayon::join(
                || rayon::join(|| orient(&tables.corner_sense), || orient(&tables.edge_sense)),
                || rayon::join(|| arrange(&tables.corner_order), || arrange(&tables.cap_order)),
            );
        Self { corner_sense_belt, edge_sense_belt, corner_belt_order, cap_belt_order }
    }

    /// What corners and belt edges need while arranging; a quick first look.
    pub(crate) fn corner_belt_order(&self, corner_order: u16, belt_order: u8) -> u8 {
        self.corner_belt_order.at_least(corner_order, u16::from(belt_order))
    }
}

impl Bounds for Compact {
    fn orient(&self, at: Coordinates) -> u8 {
        let by_corners = self.corner_sense_belt.at_least(at.corner_sense, at.belt);
        by_corners.max(self.edge_sense_belt.at_least(at.edge_sense, at.belt))
    }

    fn arrange(&self, at: &Arrangement, _: u8) -> u8 {
        let by_corners = self.corner_belt_order(at.corner_order, at.belt_order);
        by_corners.max(self.cap_belt_order.at_least(at.cap_order, u16::from(at.belt_order)))
    }
}
