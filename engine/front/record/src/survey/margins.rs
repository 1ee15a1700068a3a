//! How far apart colours are, and what a calibration will find.

use std::collections::BTreeMap;

use dryturn_cube::Facelet;
use dryturn_scene::file::Method;
use dryturn_studies::{Apart, ExpectedErrors, Margins, PairMargin, Surveyed};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::finite;

/// How far apart two colours are.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ApartRecord {
    /// At the place where they are closest, in standard deviations; below 0 where one is more often
    /// taken for the other than not; null where it is infinite.
    pub worst_sigmas: Option<f64>,
    /// That place.
    pub worst: Facelet,
    /// At the middle one of the places.
    pub median_sigmas: Option<f64>,
    /// Share of the sightings of either that are taken for the other.
    pub mistaken_share: f64,
}

impl ApartRecord {
    fn of(apart: &Apart) -> Self {
        Self {
            worst_sigmas: finite(apart.worst_sigmas),
            worst: apart.worst,
            median_sigmas: finite(apart.median_sigmas),
            mistaken_share: apart.mistaken_share,
        }
    }
}

/// The margin of a pair of colours.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MarginRecord {
    /// What a person calls them.
    pub colours: [String; 2],
    /// For who knows how every colour looks at the place.
    pub known: ApartRecord,
    /// For who takes the nearest colour and does not.
    pub unknown: ApartRecord,
}

impl MarginRecord {
    /// Of a pair of a survey.
    #[must_use]
    pub fn of(survey: &Surveyed, margin: &PairMargin) -> Self {
        Self {
            colours: margin.pair.map(|face| survey.colour_name(face)),
            known: ApartRecord::of(&margin.known),
            unknown: ApartRecord::of(&margin.unknown),
        }
    }
}

/// What a way to tell colours apart is expected to do.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ExpectedRecord {
    /// Share of the sightings left out that it takes for another colour.
    pub wrong_share: f64,
    /// Less in 2.5 % of rigs that differ in their stickers.
    pub low_share: f64,
    /// More in 2.5 % of them.
    pub high_share: f64,
}

impl ExpectedRecord {
    fn of(expected: &ExpectedErrors) -> Self {
        let (low_share, high_share) = expected.range;
        Self { wrong_share: expected.wrong_share, low_share, high_share }
    }
}

/// How far apart colours are, and what a calibration will find.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MarginsRecord {
    /// Sightings that one calibration leaves out.
    pub left_out: usize,
    /// By way to tell colours apart, as `reader.method` names them.
    pub expected: BTreeMap<String, ExpectedRecord>,
    /// The pair that the nearest colour mistakes most often.
    pub most_mistaken: Option<[String; 2]>,
    /// All 15 pairs.
    pub pairs: Vec<MarginRecord>,
}

impl MarginsRecord {
    pub(super) fn of(survey: &Surveyed, margins: &Margins) -> Self {
        let name = |method: Method| format!("{method:?}");
        let expected = margins.expected.iter();
        let most = margins.most_mistaken();
        Self {
            left_out: margins.sightings,
            expected: expected.map(|e| (name(e.method), ExpectedRecord::of(e))).collect(),
            most_mistaken: most.map(|m| m.pair.map(|face| survey.colour_name(face))),
            pairs: margins.pairs.iter().map(|pair| MarginRecord::of(survey, pair)).collect(),
        }
    }
}
