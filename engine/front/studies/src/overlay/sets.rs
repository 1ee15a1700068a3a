//! Which sets of one, two or three figures explain a log, all fitted jointly.
//!
//! Of every set the best values are looked for. The measures of the log that are fitted are
//! means over its turns (see `signature`), and each difference counts as a multiple of
//! what simulated rigs with the drawing's tolerances differ (see `rigs`). A set is *told* unless
//! the log rejects it at 99 % against all figures together, or shows one of its figures to be
//! as drawn: its 99 % interval holds the drawn value, and its 95 % interval lies within a tenth
//! of it (for times and angles within 0.3 ms, 0.3°). So what was changed is among what is told,
//! unless it was changed by too little.

use dryturn_numerics::dot;
use dryturn_scene::Scene;

use super::boxes::{FigureSets, lines};
use super::joint::{Problem, Solution, Z_99, Z_999, chi_square};
use super::model::Model;
use super::refine::{LEAST_EFFECT, Refined};
use super::rigs::Spread;
use super::search::{PRIOR, Search};
use super::suspects::Suspect;
use super::together::{Attempt, Joint};

/// Most figures of a set.
pub const MOST_FIGURES: usize = 3;
/// Rigs for a first look.
const FIRST_RIGS: u64 = 48;
/// Of a normal distribution, 95 % lie within.
const Z_95: f64 = 1.959_963_985;
/// And 99 %.
const Z_995: f64 = 2.575_829_304;
/// A figure whose error in the joint fit is more than this share of the prior's is not
/// determined.
const DETERMINED_SHARE: f64 = 0.5;
/// Where more than so many times the number of measures is left, all is fitted again from where
/// it came to; where still so much is left, nothing explains the log.
const AGAIN_ABOVE: f64 = 2.0;
const MOST_LEFT: f64 = 4.0;
/// Correlations above this are named.
pub const NAMED_CORRELATION: f64 = 0.9;

/// A figure of the scene as fitted.
#[derive(Clone, Debug, PartialEq)]
pub struct FittedFigure {
    /// Path of the field in the scene.
    pub field: &'static str,
    /// In words.
    pub words: &'static str,
    /// As drawn.
    pub drawn: f64,
    /// As fitted.
    pub value: f64,
    /// 95 % lie within.
    pub interval: [f64; 2],
    /// Whether the log determines it; else the interval is what was assumed beforehand, or
    /// not much less.
    pub determined: bool,
}

/// A set of figures that explains the log.
#[derive(Clone, Debug, PartialEq)]
pub struct Told {
    /// Numbers of its figures in [`Explained::figures`], rising.
    pub set: Vec<usize>,
    /// Its figures with their values when they are fitted together.
    pub figures: Vec<FittedFigure>,
    /// By how much its chi-square is above that of all figures together.
    pub above: f64,
    /// Correlations of its figures, row-major.
    pub correlations: Vec<f64>,
}

/// A set that was fitted to the end.
#[derive(Clone, Debug, PartialEq)]
pub struct Weighed {
    /// Numbers of its figures in [`Explained::figures`], rising.
    pub set: Vec<usize>,
    /// By how much its chi-square is above that of all figures together.
    pub above: f64,
    /// Above this it is rejected at 99 %.
    pub limit: f64,
    /// Whether none of its figures is shown to be as drawn, or to do nothing where it is.
    pub changed: bool,
}

/// What comes of it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum HowExplained {
    /// Rigs of this drawing differ as much by themselves.
    AsDrawn,
    /// One set explains it; every other of one to three figures is rejected at 99.9 %.
    Certain,
    /// What is told, and perhaps more that 99 % reject and 99.9 % do not.
    Several,
    /// No set of one to three figures explains it.
    Unexplained,
}

/// All sets, fitted jointly.
#[derive(Clone, Debug, PartialEq)]
pub struct Explained {
    /// What comes of it.
    pub outcome: HowExplained,
    /// All figures fitted together, with a prior: each as drawn within 30 % or 2 ms.
    pub figures: Vec<FittedFigure>,
    /// Correlations of all figures in that fit, row-major.
    pub correlations: Vec<f64>,
    /// Figures that this log says nothing about.
    pub silent: Vec<usize>,
    /// That fit near its solution; a coordinate is 0 as drawn, 1 where a figure is off by 35 %
    /// (its logarithm by 0.3), 2 ms or 2°.
    pub problem: Problem,
    /// Chi-square as drawn, and with all figures fitted; how many measures there are.
    pub chi_square: [f64; 2],
    /// How many measures were fitted.
    pub measures: usize,
    /// How many combinations of figures the log determines.
    pub determined: f64,
    /// The sets that are told, those that explain most with fewest figures first.
    pub told: Vec<Told>,
    /// The same in few lines.
    pub lines: Vec<FigureSets>,
    /// All sets that came near, told or not.
    pub weighed: Vec<Weighed>,
    /// Sets that 99 % reject and 99.9 % do not.
    pub doubtful: usize,
    /// Whether the log's turns scatter more than those of simulated rigs.
    pub scattered: bool,
}

/// All sets of up to so many of some figures.
fn all_sets(figures: &[usize], most: usize) -> Vec<Vec<usize>> {
    let mut all: Vec<Vec<usize>> = vec![Vec::new()];
    let mut from = 0;
    for _ in 0..most {
        let to = all.len();
        for k in from..to {
            for &figure in figures {
                if all[k].last().is_none_or(|last| figure > *last) {
                    all.push([&all[k][..], &[figure]].concat());
                }
            }
        }
        from = to;
    }
    all.split_off(1)
}

fn fitted(suspect: &Suspect, at: f64, error: f64) -> FittedFigure {
    let value = |at: f64| suspect.value(at);
    FittedFigure {
        field: suspect.field,
        words: suspect.words,
        drawn: suspect.drawn,
        value: value(at),
        interval: [value(at - Z_95 * error), value(at + Z_95 * error)],
        determined: error < DETERMINED_SHARE,
    }
}

fn correlations(solution: &Solution) -> Vec<f64> {
    let size = solution.at.len();
    (0..size * size).map(|k| solution.correlation(k / size, k % size)).collect()
}

/// Whether a set's figures are all changed, as far as the log shows, and act where they are.
fn all_changed(model: &Model<'_>, fit: &Refined, solution: &Solution) -> bool {
    fit.set.iter().enumerate().all(|(slot, &k)| {
        let suspect = &model.suspects[k];
        let (at, error) = (solution.at[slot], solution.error(slot));
        let column = fit.column(slot);
        let off = at.abs() + Z_95 * error >= suspect.least() || at.abs() > Z_995 * error;
        off && dot(column, column) > LEAST_EFFECT
    })
}

/// Explains a log; `None` where too few simulated rigs get through the plan to tell what they
/// differ.
pub(super) fn explained(model: &Model<'_>, scene: &Scene) -> Option<Explained> {
    let effects = model.responses()?;
    let size = model.suspects.len();
    let spread = Spread::of(model, scene, FIRST_RIGS)?;
    let search = Search::new(model, &spread, &effects);
    let drawn = search.point(&vec![0.0; size])?;
    let acting: Vec<usize> = (0..size).filter(|&k| acts(&search, k)).collect();
    let sets = all_sets(&acting, MOST_FIGURES);
    let fits = search.fits(sets.clone(), &drawn);
    let nearest = fits.iter().min_by(|a, b| a.best.cost().total_cmp(&b.best.cost()))?;
    let mut seeds = search.seeded(&sets, &fits);
    let mut attempt =
        Attempt::of((model, &effects), (scene, &spread), nearest.best.clone(), &seeds)?;
    if attempt.least() > AGAIN_ABOVE * drawn.left.len() as f64 {
        // Derivatives were taken too far off.
        seeds.extend(attempt.fits.iter().map(|fit| (fit.set.clone(), fit.best.clone())));
        let start = attempt.nearest()?.clone();
        if let Some(again) = Attempt::of((model, &effects), (scene, &spread), start, &seeds)
            && again.least() < attempt.least()
        {
            attempt = again;
        }
    }
    let (nearest, least) = (attempt.nearest()?.clone(), attempt.least());
    let Attempt { spread, joint: Joint { best: joint, columns, solution }, fits } = attempt;
    let drawn = Search::new(model, &spread, &effects).again(&drawn);
    let determined =
        size as f64 - (0..size).map(|k| solution.covariance[k * size + k]).sum::<f64>();
    let limit = |figures: usize, z: f64| {
        let freedom = (determined.round() as usize).saturating_sub(figures).max(1);
        chi_square(freedom, z)
    };
    let as_drawn = drawn.chi_square() - least <= limit(0, Z_99);
    let mut told = Vec::new();
    let mut weighed = Vec::new();
    let mut doubtful = 0;
    for fit in &fits {
        let Some(own) = fit.solution() else { continue };
        let above = fit.best.chi_square() - least;
        let limit_99 = limit(fit.set.len(), Z_99);
        let changed = all_changed(model, fit, &own);
        weighed.push(Weighed { set: fit.set.clone(), above, limit: limit_99, changed });
        if as_drawn || !changed {
            continue;
        }
        if above > limit_99 {
            doubtful += usize::from(above <= limit(fit.set.len(), Z_999));
            continue;
        }
        let figures = fit
            .set
            .iter()
            .enumerate()
            .map(|(slot, &k)| fitted(&model.suspects[k], own.at[slot], own.error(slot)));
        told.push(Told {
            set: fit.set.clone(),
            figures: figures.collect(),
            above,
            correlations: correlations(&own),
        });
    }
    // Two for each figure, as H. Akaike weighs them (IEEE Trans. Automatic Control 19, 1974;
    // from memory).
    let criterion = |told: &Told| told.above + 2.0 * told.set.len() as f64;
    told.sort_by(|a, b| criterion(a).total_cmp(&criterion(b)));
    let scattered = spread.scattered(&model.scatter(&model.scene(&nearest.at)?)?);
    // Errors cannot be counted on where much more is left than rigs differ.
    let measures = drawn.left.len();
    let misfit = scattered || least > MOST_LEFT * measures as f64;
    if misfit {
        told.clear();
    }
    let open = measures.saturating_sub(determined.round() as usize).max(1);
    let fits_well = least <= chi_square(open, Z_999);
    let outcome = match (as_drawn, told.len(), doubtful) {
        (_, 0, _) if misfit => HowExplained::Unexplained,
        (true, ..) => HowExplained::AsDrawn,
        (false, 0, _) => HowExplained::Unexplained,
        (false, 1, 0) if fits_well => HowExplained::Certain,
        _ => HowExplained::Several,
    };
    let sets: Vec<Vec<usize>> = told.iter().map(|own| own.set.clone()).collect();
    Some(Explained {
        outcome,
        figures: (0..size)
            .map(|k| fitted(&model.suspects[k], solution.at[k], solution.error(k)))
            .collect(),
        correlations: correlations(&solution),
        silent: (0..size).filter(|k| !acting.contains(k)).collect(),
        chi_square: [drawn.chi_square(), joint.chi_square()],
        problem: Problem { at: joint.at, left: joint.left, columns, prior: PRIOR },
        measures: drawn.left.len(),
        determined,
        lines: lines(&sets, MOST_FIGURES),
        told,
        weighed,
        doubtful,
        scattered,
    })
}

/// Whether a figure anywhere in its range changes what is measured.
fn acts(search: &Search<'_>, figure: usize) -> bool {
    let points = &search.whitened[figure].points;
    points.iter().any(|(_, effect)| dot(effect, effect) > LEAST_EFFECT)
}
