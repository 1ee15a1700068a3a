//! Sets of figures that explain a log.

use dryturn_studies::overlay::{Explained, FittedFigure, HowExplained, Overlay, Problem, Told};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// A figure of the scene as fitted.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct FigureRecord {
    /// Path of the field in the scene.
    pub field: String,
    /// In words.
    pub what: String,
    /// As drawn.
    pub drawn: f64,
    /// As fitted.
    pub value: f64,
    /// Its 95 % interval.
    pub interval_95: [f64; 2],
    /// Whether the log determines it.
    pub determined: bool,
}

impl FigureRecord {
    fn of(own: &FittedFigure) -> Self {
        Self {
            field: own.field.to_owned(),
            what: own.words.to_owned(),
            drawn: own.drawn,
            value: own.value,
            interval_95: own.interval,
            determined: own.determined,
        }
    }
}

/// What comes of fitting sets of figures.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[serde(rename_all = "snake_case")]
pub enum OutcomeWord {
    /// Too few simulated rigs get through the plan.
    NotFitted,
    /// Rigs of this drawing differ as much by themselves.
    AsDrawn,
    /// One set explains it, every other is rejected at 99.9 %.
    Certain,
    /// Several sets do.
    Several,
    /// No set of one to three figures does.
    Unexplained,
}

impl OutcomeWord {
    /// Of a log laid over a run.
    #[must_use]
    pub fn of(overlay: &Overlay) -> Self {
        match overlay.sets.as_ref().map(|sets| sets.outcome) {
            None => Self::NotFitted,
            Some(HowExplained::AsDrawn) => Self::AsDrawn,
            Some(HowExplained::Certain) => Self::Certain,
            Some(HowExplained::Several) => Self::Several,
            Some(HowExplained::Unexplained) => Self::Unexplained,
        }
    }
}

/// A set of figures that explains a log.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ToldRecord {
    /// Its figures, fitted together.
    pub figures: Vec<FigureRecord>,
    /// By how much its chi-square is above that of all figures together.
    pub chi_square_above: f64,
    /// Correlations of its figures, row by row.
    pub correlations: Vec<Vec<f64>>,
}

impl ToldRecord {
    /// The sets that explain a log equally well, the likeliest first.
    #[must_use]
    pub fn all(overlay: &Overlay) -> Vec<Self> {
        let told = overlay.sets.as_ref().map_or(&[][..], |sets| &sets.told);
        let one = |own: &Told| Self {
            figures: own.figures.iter().map(FigureRecord::of).collect(),
            chi_square_above: own.above,
            correlations: square(&own.correlations),
        };
        told.iter().map(one).collect()
    }
}

/// A matrix, row by row.
fn square(values: &[f64]) -> Vec<Vec<f64>> {
    let size = values.len().isqrt().max(1);
    values.chunks(size).map(<[f64]>::to_vec).collect()
}

/// Two figures that a log hardly tells apart.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct TiedRecord {
    /// Their paths in the scene.
    pub fields: [String; 2],
    /// How they are correlated in the fit.
    pub correlation: f64,
}

/// All figures fitted together.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct JointRecord {
    /// The figures.
    pub figures: Vec<FigureRecord>,
    /// Their correlations, row by row.
    pub correlations: Vec<Vec<f64>>,
    /// Pairs that the log hardly tells apart.
    pub tied: Vec<TiedRecord>,
    /// Chi-square as drawn.
    pub chi_square_drawn: f64,
    /// Chi-square as fitted.
    pub chi_square: f64,
    /// That fit, for who wants to redo it.
    pub problem: Problem,
    /// Measures that were fitted.
    pub measures: usize,
    /// How many combinations of figures the log determines.
    pub combinations_determined: f64,
}

impl JointRecord {
    /// Of a log; `None` where nothing was fitted.
    #[must_use]
    pub fn of(overlay: &Overlay) -> Option<Self> {
        let sets = overlay.sets.as_ref()?;
        let tied = |(a, b, correlation): (&FittedFigure, &FittedFigure, f64)| TiedRecord {
            fields: [a.field.to_owned(), b.field.to_owned()],
            correlation,
        };
        Some(Self {
            figures: sets.figures.iter().map(FigureRecord::of).collect(),
            correlations: square(&sets.correlations),
            tied: sets.tied().into_iter().map(tied).collect(),
            chi_square_drawn: sets.chi_square[0],
            chi_square: sets.chi_square[1],
            problem: sets.problem.clone(),
            measures: sets.measures,
            combinations_determined: sets.determined,
        })
    }
}

/// Sets of figures in few lines, in words.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct WordsRecord {
    /// What comes of it.
    pub verdict: String,
    /// The sets.
    pub lines: Vec<String>,
    /// What would tell them apart.
    pub to_tell_apart: Vec<String>,
}

impl WordsRecord {
    pub(super) fn of(sets: &Explained) -> Self {
        Self {
            verdict: sets.verdict(),
            lines: sets.lines.iter().map(|line| sets.line_words(line)).collect(),
            to_tell_apart: sets.hints().into_iter().map(str::to_owned).collect(),
        }
    }
}
