//! How well what is seen matches the colours of a cube, in the light that was found.

use dryturn_cube::Colouring;

use super::fit::all_told;
use super::hypothesis::Light;
use super::search::{Search, Sight};
use super::states::{Besides, Told};

/// How well each sight matches its colour in a cube.
pub(super) fn matches(search: &Search<'_>, light: &Light, colours: &Colouring) -> Vec<Match> {
    let all = all_told(search, light, 1.0);
    let of = |(sight, told): (&Sight, &[Told; 6])| {
        let own = told[colours[sight.seen.facelet.index()].index()];
        let [plain, besides, _, glare, strange] = own.shares;
        let explained = plain + besides;
        let veil = if light.besides == Besides::Veil { besides } else { 0.0 };
        Match { distance2: own.distance2, explained, glare: glare + veil, strange }
    };
    search.sights.iter().zip(&all).map(of).collect()
}

/// How well a sight matches a colour.
#[derive(Clone, Copy, Debug)]
pub(super) struct Match {
    /// Squared distance from what is expected, in standard deviations.
    pub(super) distance2: f64,
    /// Share of it that the light accounts for.
    pub(super) explained: f64,
    /// Share of it that a lamp's reflection accounts for.
    pub(super) glare: f64,
    /// Share of it that nothing accounts for.
    pub(super) strange: f64,
}
