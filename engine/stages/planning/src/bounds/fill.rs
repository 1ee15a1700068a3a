//! Filling a large table with distances from home, cost by cost, on all threads.

use core::sync::atomic::{AtomicU8, Ordering::Relaxed};

use dryturn_units::stop::carried;
use rayon::prelude::*;

use crate::state::{
    Classes, EDGE_SENSES, SYMMETRIES, StepTables, Symmetry, cap_order_images, corner_sense_images,
};

/// Not reached yet.
const FAR: u8 = u8::MAX;
/// A layer this much smaller than what is left is spread outwards; a larger one is
/// looked for by what is left.
const SPREAD_RATIO: usize = 4;

/// States as classes × a row of numbers that symmetries map on themselves.
pub(crate) struct Quotient {
    rows: usize,
    row: usize,
    costs: Vec<u8>,
    /// `[class · steps + step]`: class after the step, and the symmetry that leads
    /// to its representative.
    class_after: Vec<(u32, u8)>,
    /// `[step][number]`, and `[symmetry][number]`.
    number_after: Vec<Vec<u16>>,
    images: Vec<Vec<u16>>,
    kept_by: Vec<(usize, Vec<usize>)>,
}

/// What is counted within a class: after each step, and seen through symmetries.
struct Row<F> {
    number_after: F,
    images: Vec<Vec<u16>>,
}

impl Quotient {
    /// Class of the edges' sense and belt, rows of the corners' sense; all steps.
    pub(crate) fn orient(tables: &StepTables, classes: &Classes, all: &[Symmetry]) -> Self {
        let steps = tables.set.after(tables.set.start());
        let after = |raw: u32, step: u8| {
            let (sense, belt) = (raw as usize % EDGE_SENSES, raw as usize / EDGE_SENSES);
            let sense = tables.edge_sense.after(sense as u16, step);
            let belt = tables.belt.after(belt as u16, step);
            usize::from(belt) * EDGE_SENSES + usize::from(sense)
        };
        let number_after = |n: usize, step: u8| tables.corner_sense.after(n as u16, step);
        Self::new(
            tables,
            classes,
            steps,
            after,
            Row { number_after, images: corner_sense_images(all) },
        )
    }

    /// Class of the corners' permutation, rows of the edges of U and D; steps of
    /// arranging.
    pub(crate) fn arrange(tables: &StepTables, classes: &Classes, all: &[Symmetry]) -> Self {
        let steps = tables.set.after_in_subgroup(tables.set.start());
        let after = |raw: u32, step: u8| usize::from(tables.corner_order.after(raw as u16, step));
        let number_after = |n: usize, step: u8| tables.cap_order.after(n as u16, step);
        Self::new(
            tables,
            classes,
            steps,
            after,
            Row { number_after, images: cap_order_images(all) },
        )
    }

    fn new(
        tables: &StepTables,
        classes: &Classes,
        steps: &[u8],
        after: impl Fn(u32, u8) -> usize,
        Row { number_after, images }: Row<impl Fn(usize, u8) -> u16>,
    ) -> Self {
        let row = images[0].len();
        let leads = |raw: u32, step: u8| {
            let of = classes.of[after(raw, step)] as usize;
            ((of / SYMMETRIES) as u32, (of % SYMMETRIES) as u8)
        };
        let rows = classes.representative.iter();
        Self {
            rows: classes.count(),
            row,
            costs: steps.iter().map(|&s| tables.set.steps[usize::from(s)].cost as u8).collect(),
            class_after: rows.flat_map(|&raw| steps.iter().map(move |&s| leads(raw, s))).collect(),
            number_after: steps
                .iter()
                .map(|&step| (0..row).map(|n| number_after(n, step)).collect())
                .collect(),
            images,
            kept_by: classes.kept_by.clone(),
        }
    }

    /// For each step from a row: cost, the row it leads to, and the number after it
    /// as that row counts.
    fn leads(&self, class: usize) -> impl Iterator<Item = (u8, usize, &[u16], &[u16])> {
        let steps = self.costs.len();
        let after = &self.class_after[class * steps..(class + 1) * steps];
        after.iter().enumerate().map(|(step, &(to, symmetry))| {
            let image = &self.images[usize::from(symmetry)];
            (self.costs[step], to as usize * self.row, &self.number_after[step][..], &image[..])
        })
    }
}

/// Distances of all states from home (class 0, number 0), row by row.
pub(crate) fn fill(quotient: &Quotient, progress: &(dyn Fn(f64) + Sync)) -> Vec<u8> {
    let row = quotient.row;
    let table: Vec<AtomicU8> = (0..quotient.rows * row).map(|_| AtomicU8::new(FAR)).collect();
    table[0].store(0, Relaxed);
    let dearest = quotient.costs.iter().copied().max().unwrap_or(1);
    let (mut left, mut empty, mut spreading) = (table.len(), 0, true);
    for cost in 0..FAR - dearest {
        if !spreading {
            look_back(quotient, &table, cost);
        }
        even_out(quotient, &table, cost);
        let layer = count(&table, row, cost);
        left -= layer;
        progress(1.0 - left as f64 / table.len() as f64);
        empty = if layer == 0 { empty + 1 } else { 0 };
        if left == 0 || empty > dearest {
            break;
        }
        spreading &= layer * SPREAD_RATIO < left;
        if spreading {
            spread(quotient, &table, cost);
        }
    }
    table.into_iter().map(AtomicU8::into_inner).collect()
}

fn count(table: &[AtomicU8], row: usize, cost: u8) -> usize {
    let in_row = |row: &[AtomicU8]| row.iter().filter(|entry| entry.load(Relaxed) == cost).count();
    table.par_chunks(row).map(carried(in_row)).sum()
}

/// A class that some symmetries keep holds a state several times: all get its cost.
fn even_out(quotient: &Quotient, table: &[AtomicU8], cost: u8) {
    let even_out = |(class, symmetries): &(usize, Vec<usize>)| {
        let row = &table[class * quotient.row..(class + 1) * quotient.row];
        for (number, entry) in row.iter().enumerate() {
            if entry.load(Relaxed) == cost {
                for &symmetry in symmetries {
                    row[usize::from(quotient.images[symmetry][number])].fetch_min(cost, Relaxed);
                }
            }
        }
    };
    quotient.kept_by.par_iter().for_each(carried(even_out));
}

/// Gives the states one step from those of a cost their cost.
fn spread(quotient: &Quotient, table: &[AtomicU8], cost: u8) {
    let row = quotient.row;
    let spread = |(class, entries): (usize, &[AtomicU8])| {
        let at: Vec<usize> = (0..row).filter(|&n| entries[n].load(Relaxed) == cost).collect();
        if at.is_empty() {
            return;
        }
        for (step_cost, to, after, image) in quotient.leads(class) {
            for &number in &at {
                let number = usize::from(image[usize::from(after[number])]);
                table[to + number].fetch_min(cost + step_cost, Relaxed);
            }
        }
    };
    table.par_chunks(row).enumerate().for_each(carried(spread));
}

/// Gives the states that are one step from nearer ones their cost.
fn look_back(quotient: &Quotient, table: &[AtomicU8], cost: u8) {
    let row = quotient.row;
    let look_back = |(class, entries): (usize, &[AtomicU8])| {
        let mut open: Vec<u16> =
            (0..row as u16).filter(|&n| entries[usize::from(n)].load(Relaxed) > cost).collect();
        if open.is_empty() {
            return;
        }
        for (step_cost, to, after, image) in quotient.leads(class) {
            let Some(wanted) = cost.checked_sub(step_cost) else { continue };
            let other = &table[to..to + row];
            open.retain(|&number| {
                let neighbour = usize::from(image[usize::from(after[usize::from(number)])]);
                let found = other[neighbour].load(Relaxed) == wanted;
                if found {
                    entries[usize::from(number)].store(cost, Relaxed);
                }
                !found
            });
        }
    };
    table.par_chunks(row).enumerate().for_each(carried(look_back));
}
