//! How often one way to read is right.

use core::fmt;
use std::sync::Arc;

use dryturn_cube::{CubeState, Face, Facelet, FaceletKind};
use dryturn_handoff::{Reading, Source};
use dryturn_reading::Patches;
use dryturn_rehearsal::Score;
use dryturn_scene::file::Method;
use dryturn_statistics::{Z_95, exact_upper, wilson};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A way to read.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Way {
    /// One of Dryturn's.
    Ours(Method),
    /// That of a guest, which calls itself so.
    Guest(Arc<str>),
}

/// In one word: as `reader.method` names it, or `Guest`.
impl fmt::Display for Way {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Ours(method) => write!(f, "{method:?}"),
            Self::Guest(_) => f.write_str("Guest"),
        }
    }
}

/// How many cubes and facelets one way to read got right.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct ReaderCounts {
    /// Cubes read right.
    pub right: usize,
    /// Cubes read wrong.
    pub wrong: usize,
    /// Scans that it refused.
    pub refused: usize,
    /// Facelets that a camera saw.
    pub facelets: usize,
    /// How many of them got their own colour.
    pub facelets_right: usize,
}

/// What came of the scans of one way to read.
#[derive(Clone, Debug, PartialEq)]
pub struct ReaderTally {
    /// The way.
    pub way: Way,
    /// How many it got right, over all scans.
    pub counts: ReaderCounts,
    /// Seen facelets by true colour (row) and colour read (column).
    pub confusion: [[usize; 6]; 6],
    /// By scan: the probability that it gave its most probable cube, and whether that was
    /// the true one. Empty where it gives none.
    pub claims: Vec<(f64, bool)>,
}

impl ReaderTally {
    pub(super) fn of(way: Way) -> Self {
        Self { way, counts: ReaderCounts::default(), confusion: [[0; 6]; 6], claims: Vec::new() }
    }

    /// One scan more. Facelets that a guest names count where a camera sees them by the drawing.
    pub(super) fn count(&mut self, patches: &Patches, reading: &Reading, truth: &CubeState) {
        let score = Score::of(reading, truth);
        match score.state {
            Some(true) => self.counts.right += 1,
            Some(false) => self.counts.wrong += 1,
            None => self.counts.refused += 1,
        }
        let colours = truth.colours();
        for facelet in Facelet::all().filter(|f| f.kind() != FaceletKind::Centre) {
            let entry = &reading.facelets[facelet.index()];
            let seen = match entry.source {
                Source::Seen { .. } => true,
                Source::Told { .. } => patches.camera_of(facelet).is_some(),
                _ => false,
            };
            let Some(read) = entry.colour.filter(|_| seen) else { continue };
            let own: Face = colours[facelet.index()];
            self.counts.facelets += 1;
            self.counts.facelets_right += usize::from(read == own);
            self.confusion[own.index()][read.index()] += 1;
        }
        if let (Some(probability), Some(cube)) = (reading.probability, reading.most_probable) {
            self.claims.push((probability, cube == *truth));
        }
    }

    pub(super) fn add(&mut self, other: Self) {
        let ReaderCounts { right, wrong, refused, facelets, facelets_right } = other.counts;
        self.counts.right += right;
        self.counts.wrong += wrong;
        self.counts.refused += refused;
        self.counts.facelets += facelets;
        self.counts.facelets_right += facelets_right;
        for (own, other) in self.confusion.iter_mut().zip(other.confusion) {
            own.iter_mut().zip(other).for_each(|(own, other)| *own += other);
        }
        self.claims.extend(other.claims);
    }

    /// Scans that were read, right or wrong.
    #[must_use]
    pub fn believed(&self) -> usize {
        self.counts.right + self.counts.wrong
    }

    /// Upper bounds of the share of wrong cubes among those that were read: Wilson's
    /// two-sided 95 % interval, and the exact one-sided 95 % bound.
    #[must_use]
    pub fn wrong_at_most(&self) -> (f64, f64) {
        let believed = self.believed();
        let wrong = self.counts.wrong;
        (wilson(wrong, believed, Z_95).1, exact_upper(wrong, believed, 0.95))
    }

    /// Mean squared difference of claim and outcome (G. W. Brier, Monthly Weather Review 78,
    /// 1950, for two outcomes); `None` without claims.
    #[must_use]
    pub fn brier(&self) -> Option<f64> {
        let square = |&(p, right): &(f64, bool)| {
            let off = p - f64::from(u8::from(right));
            off * off
        };
        let count = self.claims.len() as f64;
        (count > 0.0).then(|| self.claims.iter().map(square).sum::<f64>() / count)
    }

    /// The same over several tables.
    #[must_use]
    pub fn sum<'a>(tallies: impl Iterator<Item = &'a Self>) -> Option<Self> {
        tallies.fold(None, |sum: Option<Self>, next| {
            let mut sum = sum.unwrap_or_else(|| Self::of(next.way.clone()));
            sum.add(next.clone());
            Some(sum)
        })
    }

    /// Claims of at least `least`, and how many of them were right.
    #[must_use]
    pub fn claiming(&self, least: f64) -> (usize, usize) {
        let claims = self.claims.iter().filter(|claim| claim.0 >= least);
        claims.fold((0, 0), |(all, right), claim| (all + 1, right + usize::from(claim.1)))
    }
}
