//! The same scans read in several ways, and how often each is right.

use std::ops::ControlFlow;
use std::sync::Arc;

use dryturn_cube::{CubeState, Face, Facelet, FaceletKind, Stickering, random_state};
use dryturn_handoff::{Reading, Source};
use dryturn_reading::{CalibrationError, Patches, Sampled, read_samples};
use dryturn_rehearsal::{BuiltRig, Rehearser, Score};
use dryturn_scene::Scene;
use dryturn_scene::file::Method;
use dryturn_statistics::{Z_95, exact_upper, wilson};
use dryturn_units::stop::carried;
use rayon::prelude::*;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::work::Watch;

/// Scans of one rig: it is built, traced and calibrated once for all of them.
const SCANS_A_RIG: usize = 5;

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
    pub method: Method,
    /// How many it got right, over all scans.
    pub counts: ReaderCounts,
    /// Seen facelets by true colour (row) and colour read (column).
    pub confusion: [[usize; 6]; 6],
    /// By scan: the probability that it gave its most probable cube, and whether that was
    /// the true one. Empty where it gives none.
    pub claims: Vec<(f64, bool)>,
}

impl ReaderTally {
    fn of(method: Method) -> Self {
        Self { method, counts: ReaderCounts::default(), confusion: [[0; 6]; 6], claims: Vec::new() }
    }

    fn count(&mut self, reading: &Reading, truth: &CubeState) {
        let score = Score::of(reading, truth);
        match score.state {
            Some(true) => self.counts.right += 1,
            Some(false) => self.counts.wrong += 1,
            None => self.counts.refused += 1,
        }
        let colours = truth.colours();
        for facelet in Facelet::all().filter(|f| f.kind() != FaceletKind::Centre) {
            let entry = &reading.facelets[facelet.index()];
            let (Source::Seen { .. }, Some(read)) = (&entry.source, entry.colour) else {
                continue;
            };
            let own: Face = colours[facelet.index()];
            self.counts.facelets += 1;
            self.counts.facelets_right += usize::from(read == own);
            self.confusion[own.index()][read.index()] += 1;
        }
        if let (Some(probability), Some(cube)) = (reading.probability, reading.most_probable) {
            self.claims.push((probability, cube == *truth));
        }
    }

    fn add(&mut self, other: Self) {
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
            let mut sum = sum.unwrap_or_else(|| Self::of(next.method));
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

/// Scans of one kind, read in several ways.
#[derive(Clone, Debug)]
pub struct ReaderTable {
    /// What a person calls them.
    pub name: String,
    /// The scene whose light the readers were calibrated in.
    pub calibrated_in: Arc<Scene>,
    /// The scene that was scanned.
    pub read_in: Arc<Scene>,
    /// How many scans.
    pub scans: usize,
    /// One for each way, in the order in which they were asked for.
    pub readers: Vec<ReaderTally>,
}

impl ReaderTable {
    /// Scans random cubes on rigs with errors of their own, five on each, and reads every
    /// scan in all the ways of `methods`, with one calibration: the solved cube in six
    /// mountings in the light of `calibrated_in`. Mounts, stickers and noise of a rig are
    /// the same in both scenes as far as their tolerances are. `progress` is told the
    /// number of scans done, and may break off: the result is then `None`.
    ///
    /// # Errors
    /// When a calibration fails, or the two scenes' cameras differ.
    pub fn of(
        rehearser: &Rehearser,
        name: &str,
        (calibrated_in, read_in): (&Arc<Scene>, &Arc<Scene>),
        methods: &[Method],
        scans: usize,
        progress: &(dyn Fn(usize) -> ControlFlow<()> + Sync),
    ) -> Result<Option<Self>, CalibrationError> {
        let patches = Arc::new(Patches::of(calibrated_in));
        let watch = Watch::new(progress);
        let rig = |number: usize| -> Result<Option<Vec<ReaderTally>>, CalibrationError> {
            let mut tallies: Vec<ReaderTally> =
                methods.iter().map(|&method| ReaderTally::of(method)).collect();
            let here =
                BuiltRig::with_patches(calibrated_in, &patches, rehearser.seed(), number as u64);
            let calibration = here.calibrate()?;
            let there = here.moved_to(read_in);
            // Its views go before the others are traced: every thread has a rig of its own.
            drop(here);
            for cube in 0..SCANS_A_RIG.min(scans - number * SCANS_A_RIG) {
                if watch.stopped() {
                    return Ok(None);
                }
                let mut stream = rehearser.seed().stream("reader-cube", number as u64, cube as u64);
                let truth = random_state(&mut stream);
                let scan = there.scan_unlabelled(&Stickering::from(&truth));
                let sampled = Sampled::of(&patches, &scan.frames)?;
                for tally in &mut tallies {
                    let reading = read_samples(&patches, &calibration, &sampled, tally.method);
                    tally.count(&reading, &truth);
                }
                watch.step();
            }
            Ok(Some(tallies))
        };
        let rigs: Vec<Result<Option<Vec<ReaderTally>>, CalibrationError>> =
            (0..scans.div_ceil(SCANS_A_RIG)).into_par_iter().map(carried(rig)).collect();
        let mut readers: Vec<ReaderTally> =
            methods.iter().map(|&method| ReaderTally::of(method)).collect();
        for rig in rigs {
            let Some(tallies) = rig? else { return Ok(None) };
            readers.iter_mut().zip(tallies).for_each(|(all, own)| all.add(own));
        }
        let (calibrated_in, read_in) = (calibrated_in.clone(), read_in.clone());
        let name = name.to_owned();
        Ok(Some(Self { name, calibrated_in, read_in, scans, readers }))
    }
}
