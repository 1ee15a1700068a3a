//! Large tables: the exact distance of phase 1, and nearly that of phase 2.
//!
//! Phase 1 is indexed by the class of flip and slice (64,430 classes) and twist;
//! phase 2 by the class of the corners' permutation (2,768) and the permutation of
//! the edges of U and D. A table is one string of bytes: classes, images under the
//! symmetries where they are long to compute, and the packed distances.

use core::fmt;

use crate::bounds::{Bounds, Candidate, MOST_STEPS};
use crate::compact::Compact;
use crate::coordinates::{Arrangement, Coordinates, FLIPS, PERMUTATIONS_8, SLICES, TWISTS};
use crate::fill::{Quotient, fill};
use crate::steps::{StepSet, Weights};
use crate::symmetry::{Classes, SYMMETRIES, Symmetry, outer_images, twist_images};
use crate::turn_tables::StepTables;

/// Up to here the compact tables know whether phase 1 can end in time.
const SETTLED: u8 = 1;
/// Classes of flip and slice under the sixteen symmetries.
const FLIP_SLICE_CLASSES: usize = 64_430;
/// Classes of corner permutations.
const CORNER_CLASSES: usize = 2_768;

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
            Self::Beats => StepSet::beats(Weights::TWO_TO_THREE),
        }
    }
}

/// Which phase a table bounds.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Phase {
    /// To the subgroup.
    One,
    /// Within it.
    Two,
}

/// One of the four tables.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct TableKind {
    /// What its distances count.
    pub metric: Metric,
    /// Which phase it bounds.
    pub phase: Phase,
}

impl fmt::Display for TableKind {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let metric = match self.metric {
            Metric::Turns => "turns",
            Metric::Beats => "beats-2-3",
        };
        let phase = match self.phase {
            Phase::One => 1,
            Phase::Two => 2,
        };
        write!(f, "phase{phase}-{metric}")
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

/// Turns of phase 1 end at 12.
const PHASE1_TURNS: Packing = Packing { each: 4, bits: 4, floor: 0 };
/// Turns of phase 2 end at 18, of which a search rarely allows more than ten; the
/// compact tables bound the small ones well.
const PHASE2_TURNS: Packing = Packing { each: 5, bits: 3, floor: 5 };
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
    /// Both phases of a metric.
    #[must_use]
    pub fn of(metric: Metric) -> [Self; 2] {
        [Phase::One, Phase::Two].map(|phase| Self { metric, phase })
    }

    /// All four.
    #[must_use]
    pub fn all() -> [Self; 4] {
        let [a, b] = Self::of(Metric::Turns);
        let [c, d] = Self::of(Metric::Beats);
        [a, b, c, d]
    }

    fn packing(self) -> Packing {
        match (self.metric, self.phase) {
            (Metric::Turns, Phase::One) => PHASE1_TURNS,
            (Metric::Turns, Phase::Two) => PHASE2_TURNS,
            (Metric::Beats, _) => BEATS,
        }
    }

    fn entries(self) -> usize {
        match self.phase {
            Phase::One => FLIP_SLICE_CLASSES * TWISTS,
            Phase::Two => CORNER_CLASSES * PERMUTATIONS_8,
        }
    }

    /// Bytes of the index before the distances. Distances that are wrong make wrong
    /// bounds; an index that is wrong leads out of the table.
    #[must_use]
    pub fn index_bytes(self) -> usize {
        match self.phase {
            Phase::One => 4 * FLIPS * SLICES,
            Phase::Two => 4 * PERMUTATIONS_8 + 2 * SYMMETRIES * PERMUTATIONS_8,
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
        let (classes, distances) = match self.phase {
            Phase::One => {
                let classes = Classes::of_flip_slice(&all);
                let distances = fill(&Quotient::phase1(&tables, &classes, &all), progress);
                (classes, distances)
            }
            Phase::Two => {
                let classes = Classes::of_corners(&all);
                let distances = fill(&Quotient::phase2(&tables, &classes, &all), progress);
                (classes, distances)
            }
        };
        classes.of.iter().for_each(|class| out.extend(class.to_le_bytes()));
        if self.phase == Phase::Two {
            let images = outer_images(&all);
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

/// Both phases' tables of one metric: of turns, or else of beats.
pub(crate) struct Large<'a, const TURNS: bool> {
    twist_images: &'a [u16],
    compact: &'a Compact,
    flip_slice_classes: &'a [u8],
    phase1: &'a [u8],
    corner_classes: &'a [u8],
    outer_images: &'a [u8],
    phase2: &'a [u8],
}

pub(crate) type LargeTurns<'a> = Large<'a, true>;
pub(crate) type LargeBeats<'a> = Large<'a, false>;

/// `twist_images` of every symmetry.
pub(crate) fn all_twist_images() -> Vec<u16> {
    twist_images(&Symmetry::all()).concat()
}

impl<'a, const TURNS: bool> Large<'a, TURNS> {
    const PHASE1: Packing = if TURNS { PHASE1_TURNS } else { BEATS };
    const PHASE2: Packing = if TURNS { PHASE2_TURNS } else { BEATS };

    /// Views of the two tables' bytes, which have the length of their kind.
    pub(crate) fn new(
        [one, two]: [&'a [u8]; 2],
        twist_images: &'a [u16],
        compact: &'a Compact,
    ) -> Self {
        let (flip_slice_classes, phase1) = one.split_at(4 * FLIPS * SLICES);
        let (corner_classes, rest) = two.split_at(4 * PERMUTATIONS_8);
        let (outer_images, phase2) = rest.split_at(2 * SYMMETRIES * PERMUTATIONS_8);
        Self {
            twist_images,
            compact,
            flip_slice_classes,
            phase1,
            corner_classes,
            outer_images,
            phase2,
        }
    }

    fn phase1_index(&self, Coordinates { twist, flip, slice }: Coordinates) -> usize {
        let raw = usize::from(slice) * FLIPS + usize::from(flip);
        let of = u32_at(self.flip_slice_classes, raw);
        let (class, symmetry) = (of / SYMMETRIES, of % SYMMETRIES);
        class * TWISTS + usize::from(self.twist_images[symmetry * TWISTS + usize::from(twist)])
    }
}

impl<const TURNS: bool> Bounds for Large<'_, TURNS> {
    fn phase1(&self, at: Coordinates) -> u8 {
        Self::PHASE1.at_least(self.phase1, self.phase1_index(at))
    }

    fn phase1_of_all(&self, candidates: &mut [Candidate]) {
        // The compact tables are small enough to stay near the processor and settle
        // most; what is left is first located, then read.
        let mut open = [(0u8, 0u32); MOST_STEPS];
        let mut count = 0;
        for (i, candidate) in candidates.iter_mut().enumerate() {
            candidate.least = self.compact.phase1(candidate.at);
            open[count].0 = i as u8;
            let unsettled = candidate.least <= candidate.give_up && candidate.give_up > SETTLED;
            count += usize::from(unsettled);
        }
        for (i, index) in &mut open[..count] {
            *index = self.phase1_index(candidates[usize::from(*i)].at) as u32;
        }
        for &(i, index) in &open[..count] {
            candidates[usize::from(i)].least = Self::PHASE1.at_least(self.phase1, index as usize);
        }
    }

    fn phase2(&self, at: &Arrangement, give_up: u8) -> u8 {
        let quick = self.compact.corners_middle(at.corners, at.middle);
        if quick > give_up {
            return quick;
        }
        let of = u32_at(self.corner_classes, usize::from(at.corners));
        let (class, symmetry) = (of / SYMMETRIES, of % SYMMETRIES);
        let outer = u16_at(self.outer_images, symmetry * PERMUTATIONS_8 + usize::from(at.outer));
        quick.max(Self::PHASE2.at_least(self.phase2, class * PERMUTATIONS_8 + outer))
    }
}
