//! Large tables: the exact distance of orienting, and nearly that of arranging.
//!
//! Orienting is indexed by the class of the edges' sense and belt (64,430 classes) and
//! the corners' sense; arranging by the class of the corners' order (2,768) and the
//! order of the edges of U and D. A table is one string of bytes: classes, images under the
//! symmetries where they are long to compute, and the packed distances.

use core::fmt;

use super::compact::Compact;
use super::fill::{Quotient, fill};
use super::{Bounds, Candidate, MOST_STEPS};
use crate::state::{
    Arrangement, BELTS, CORNER_SENSES, Classes, Coordinates, EDGE_SENSES, PERMUTATIONS_8,
    SYMMETRIES, StepSet, StepTables, Symmetry, cap_order_images, corner_sense_images,
};

/// Up to here the compact tables know whether orienting can end in time.
const SETTLED: u8 = 1;
/// Classes of the edges' sense and belt under the sixteen symmetries.
const EDGE_CLASSES: usize = 64_430;
/// Classes of corner permutations.
const CORNER_ORDER_CLASSES: usize = 2_768;

/// Lengths of the indexes in bytes: classes of edges, classes of corner permutations, and what
/// symmetries make of the caps' edges.
const EDGE_CLASS_BYTES: usize = 4 * EDGE_SENSES * BELTS;
const CORNER_CLASS_BYTES: usize = 4 * PERMUTATIONS_8;
const CAP_IMAGE_BYTES: usize = 2 * SYMMETRIES * PERMUTATIONS_8;

/// What a table's distances count.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Metric {
    /// Turns, half turns as one.
    Turns,
    /// Beats, a half turn as one and a half quarter turns.
    Beats,
}

impl Metric {
    pub(crate) fn steps(self) -> StepSet {
        match self {
            Self::Turns => StepSet::turns(),
            Self::Beats => StepSet::beats(),
        }
    }
}

/// Which leg a table bounds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Leg {
    /// To the subgroup: every piece in its right sense, the belt's edges in the belt.
    Orient,
    /// Within it: corners and edges in order.
    Arrange,
}

/// One of the four tables.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct TableKind {
    /// What its distances count.
    pub metric: Metric,
    /// Which leg it bounds.
    pub leg: Leg,
}

impl fmt::Display for TableKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let metric = match self.metric {
            Metric::Turns => "turns",
            Metric::Beats => "beats-2-3",
        };
        let leg = match self.leg {
            Leg::Orient => "orient",
            Leg::Arrange => "arrange",
        };
        write!(f, "{leg}-{metric}")
    }
}

/// How distances are packed: `each` of them, of `bits` bits, in 16. What is stored
/// counts from `floor`: 0 says nothing, and the greatest says "so much at least". So
/// every entry is a bound.
#[derive(Clone, Copy)]
struct Packing {
    each: usize,
    bits: usize,
    floor: u8,
}

/// Turns of orienting end at 12.
const ORIENT_TURNS: Packing = Packing { each: 4, bits: 4, floor: 0 };
/// Turns of arranging end at 18, of which a search rarely allows more than ten; the
/// compact tables bound the small ones well.
const ARRANGE_TURNS: Packing = Packing { each: 5, bits: 3, floor: 5 };
const BEATS: Packing = Packing { each: 3, bits: 5, floor: 0 };

impl Packing {
    fn bytes(self, entries: usize) -> usize {
        2 * entries.div_ceil(self.each)
    }

    fn pack(self, distances: &[u8], out: &mut Vec<u8>) {
        let most = (1u16 << self.bits) - 1;
        for group in distances.chunks(self.each) {
            let word = group.iter().enumerate().fold(0u16, |word, (i, &distance)| {
                let above = u16::from(distance.saturating_sub(self.floor));
                word | above.min(most) << (i * self.bits)
            });
            out.extend(word.to_le_bytes());
        }
    }

    /// What entry number `index` is at least.
    #[inline]
    fn at_least(self, packed: &[u8], index: usize) -> u8 {
        let word = u16_at(packed, index / self.each);
        let above = (word >> (index % self.each * self.bits) & ((1 << self.bits) - 1)) as u8;
        if above == 0 { 0 } else { above + self.floor }
    }
}

impl TableKind {
    /// Both legs of a metric.
    #[must_use]
    pub fn of(metric: Metric) -> [Self; 2] {
        [Leg::Orient, Leg::Arrange].map(|leg| Self { metric, leg })
    }

    /// All four.
    #[must_use]
    pub fn all() -> [Self; 4] {
        let [a, b] = Self::of(Metric::Turns);
        let [c, d] = Self::of(Metric::Beats);
        [a, b, c, d]
    }

    fn packing(self) -> Packing {
        match (self.metric, self.leg) {
            (Metric::Turns, Leg::Orient) => ORIENT_TURNS,
            (Metric::Turns, Leg::Arrange) => ARRANGE_TURNS,
            (Metric::Beats, _) => BEATS,
        }
    }

    fn entries(self) -> usize {
        match self.leg {
            Leg::Orient => EDGE_CLASSES * CORNER_SENSES,
            Leg::Arrange => CORNER_ORDER_CLASSES * PERMUTATIONS_8,
        }
    }

    /// Bytes of the index before the distances. Distances that are wrong make wrong
    /// bounds; an index that is wrong leads out of the table.
    #[must_use]
    pub fn index_bytes(self) -> usize {
        match self.leg {
            Leg::Orient => EDGE_CLASS_BYTES,
            Leg::Arrange => CORNER_CLASS_BYTES + CAP_IMAGE_BYTES,
        }
    }

    /// Length of the table in bytes.
    #[must_use]
    pub fn bytes(self) -> usize {
        self.index_bytes() + self.packing().bytes(self.entries())
    }

    /// Builds the table on all threads of the current pool. `progress` is told the
    /// share that is done, 0 to 1. Same bytes whatever the threads.
    #[must_use]
    pub fn build(self, progress: &(dyn Fn(f64) + Sync)) -> Vec<u8> {
        let tables = StepTables::new(self.metric.steps());
        let all = Symmetry::all();
        let mut out = Vec::with_capacity(self.bytes());
        let (classes, distances) = match self.leg {
            Leg::Orient => {
                let classes = Classes::of_edges(&all);
                let distances = fill(&Quotient::orient(&tables, &classes, &all), progress);
                (classes, distances)
            }
            Leg::Arrange => {
                let classes = Classes::of_corner_orders(&all);
                let distances = fill(&Quotient::arrange(&tables, &classes, &all), progress);
                (classes, distances)
            }
        };
        classes.of.iter().for_each(|class| out.extend(class.to_le_bytes()));
        if self.leg == Leg::Arrange {
            let images = cap_order_images(&all);
            images.iter().flatten().for_each(|image| out.extend(image.to_le_bytes()));
        }
        self.packing().pack(&distances, &mut out);
        out
    }
}

fn u32_at(bytes: &[u8], index: usize) -> usize {
    let b = &bytes[4 * index..4 * index + 4];
    u32::from_le_bytes([b[0], b[1], b[2], b[3]]) as usize
}

fn u16_at(bytes: &[u8], index: usize) -> usize {
    let b = &bytes[2 * index..2 * index + 2];
    usize::from(u16::from_le_bytes([b[0], b[1]]))
}

/// Both legs' tables of one metric: of turns, or else of beats.
pub(crate) struct Large<'a, const TURNS: bool> {
    corner_sense_images: &'a [u16],
    compact: &'a Compact,
    edge_classes: &'a [u8],
    orient: &'a [u8],
    corner_order_classes: &'a [u8],
    cap_order_images: &'a [u8],
    arrange: &'a [u8],
}

pub(crate) type LargeTurns<'a> = Large<'a, true>;
pub(crate) type LargeBeats<'a> = Large<'a, false>;

/// `corner_sense_images` of every symmetry.
pub(crate) fn all_corner_sense_images() -> Vec<u16> {
    corner_sense_images(&Symmetry::all()).concat()
}

impl<'a, const TURNS: bool> Large<'a, TURNS> {
    const ORIENT: Packing = if TURNS { ORIENT_TURNS } else { BEATS };
    const ARRANGE: Packing = if TURNS { ARRANGE_TURNS } else { BEATS };

    /// Views of the two tables' bytes, which have the length of their kind.
    pub(crate) fn new(
        [one, two]: [&'a [u8]; 2],
        corner_sense_images: &'a [u16],
        compact: &'a Compact,
    ) -> Self {
        let (edge_classes, orient) = one.split_at(EDGE_CLASS_BYTES);
        let (corner_order_classes, rest) = two.split_at(CORNER_CLASS_BYTES);
        let (cap_order_images, arrange) = rest.split_at(CAP_IMAGE_BYTES);
        Self {
            corner_sense_images,
            compact,
            edge_classes,
            orient,
            corner_order_classes,
            cap_order_images,
            arrange,
        }
    }

    fn orient_index(&self, Coordinates { corner_sense, edge_sense, belt }: Coordinates) -> usize {
        let raw = usize::from(belt) * EDGE_SENSES + usize::from(edge_sense);
        let of = u32_at(self.edge_classes, raw);
        let (class, symmetry) = (of / SYMMETRIES, of % SYMMETRIES);
        class * CORNER_SENSES
            + usize::from(
                self.corner_sense_images[symmetry * CORNER_SENSES + usize::from(corner_sense)],
            )
    }
}

impl<const TURNS: bool> Bounds for Large<'_, TURNS> {
    fn orient(&self, at: Coordinates) -> u8 {
        Self::ORIENT.at_least(self.orient, self.orient_index(at))
    }

    fn orient_all(&self, candidates: &mut [Candidate]) {
        // The compact tables are small enough to stay near the processor and settle
        // most; what is left is first located, then read.
        let mut open = [(0u8, 0u32); MOST_STEPS];
        let mut count = 0;
        for (i, candidate) in candidates.iter_mut().enumerate() {
            candidate.least = self.compact.orient(candidate.at);
            open[count].0 = i as u8;
            let unsettled = candidate.least <= candidate.give_up && candidate.give_up > SETTLED;
            count += usize::from(unsettled);
        }
        for (i, index) in &mut open[..count] {
            *index = self.orient_index(candidates[usize::from(*i)].at) as u32;
        }
        for &(i, index) in &open[..count] {
            candidates[usize::from(i)].least = Self::ORIENT.at_least(self.orient, index as usize);
        }
    }

    fn arrange(&self, at: &Arrangement, give_up: u8) -> u8 {
        let quick = self.compact.corner_belt_order(at.corner_order, at.belt_order);
        if quick > give_up {
            return quick;
        }
        let of = u32_at(self.corner_order_classes, usize::from(at.corner_order));
        let (class, symmetry) = (of / SYMMETRIES, of % SYMMETRIES);
        let cap_order =
            u16_at(self.cap_order_images, symmetry * PERMUTATIONS_8 + usize::from(at.cap_order));
        quick.max(Self::ARRANGE.at_least(self.arrange, class * PERMUTATIONS_8 + cap_order))
    }
}
