//! A light that is tried: its change in each camera, what there is besides, and how far samples
//! stray in it.

use dryturn_geometry::DVec3;

use super::light::{BLOCKS, Change, ONE_LIGHT, TWO_LIGHTS};
use super::prior::Moved;
use super::search::Search;
use super::states::{Besides, Rates};
use crate::looks::Stray;

/// Changes of the light, by camera, and what there is besides.
#[derive(Clone)]
pub(super) struct Light {
    pub(super) moved: Moved,
    pub(super) changes: Vec<Change>,
    pub(super) besides: Besides,
    pub(super) rates: Rates,
    /// How far samples stray in it.
    pub(super) stray: Stray,
}

impl Light {
    /// One light that has changed alike for all colours, by camera.
    pub(super) fn one(changes: &[DVec3], moved: Moved) -> Self {
        let changes = changes.iter().map(|by| Change::all(*by)).collect();
        let stray = moved.usual_stray();
        Self { changes, moved, besides: Besides::Nothing, rates: Rates::USUAL, stray }
    }

    /// A light that was added and makes all so much brighter, by camera.
    pub(super) fn added(search: &Search<'_>, changes: &[DVec3]) -> Self {
        let changes = changes.iter().zip(&search.elsewhere);
        let changes =
            changes.map(|(by, elsewhere)| Change::added(*by, elsewhere.clone())).collect();
        Self { changes, ..Self::one(&[], Moved::Added) }
    }

    /// Lamps of which each may have its own strength now, and has as much as it had.
    pub(super) fn lamps(search: &Search<'_>) -> Self {
        let changes = search.elsewhere.iter().map(|_| Change::lamps(search.shares.clone()));
        Self { changes: changes.collect(), ..Self::one(&[], Moved::Lamps) }
    }

    /// With a second light of such a strength besides.
    pub(super) fn with_second(&self, step: f64) -> Self {
        let changes = self.changes.iter().map(|change| change.with_second(step)).collect();
        Self { changes, besides: Besides::Light, ..*self }
    }

    /// With a patch of added light of such a strength besides.
    pub(super) fn with_patch(&self, strength: f64) -> Self {
        Self { besides: Besides::Patch, ..self.with_second(strength) }
    }

    /// With a veil on the faces besides, this much stronger than a usual one.
    pub(super) fn with_veil(&self, step: f64) -> Self {
        let changes = self.changes.iter().map(|change| change.with_veil(step)).collect();
        Self { changes, besides: Besides::Veil, ..*self }
    }

    /// With a patch of added light of such a strength besides, which is mirrored so much more than a
    /// usual veil.
    pub(super) fn with_gleam(&self, [strength, step]: [f64; 2]) -> Self {
        let both = |change: &Change| change.with_second(strength).and_veil(step);
        let changes = self.changes.iter().map(both).collect();
        Self { changes, besides: Besides::Gleam, ..*self }
    }

    /// The same where samples stray less; `None` where they stray as little as may be.
    pub(super) fn plainer(&self) -> Option<Self> {
        Some(Self { stray: self.stray.less()?, ..self.clone() })
    }

    /// The same where samples stray as far as they may in such a light.
    pub(super) fn straying(&self) -> Self {
        let stray = if self.moved == Moved::Not { self.stray } else { Stray::Changed };
        Self { stray, ..self.clone() }
    }

    /// How many blocks of unknowns it has.
    pub(super) fn blocks(&self) -> usize {
        match self.besides {
            Besides::Nothing => ONE_LIGHT,
            Besides::Light | Besides::Patch => TWO_LIGHTS,
            Besides::Veil | Besides::Gleam => BLOCKS,
        }
    }
}
