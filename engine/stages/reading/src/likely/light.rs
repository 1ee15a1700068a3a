//! How the light may have changed since the calibration, by camera: how each colour looks now,
//! what each face has besides and how that goes across and down it; where a second light falls
//! on some of the cube only, what that adds there, by face; and, where lamps are mirrored, how
//! strong their veil on each face is and how that goes across and down it. In the place of slopes
//! may stand what each lamp gives now; and all may be those of a light that was added to what
//! there was. Logarithms, but for the lamps; unknown beforehand and found together with the cube.

use std::sync::Arc;

use dryturn_cube::Facelet;
use dryturn_geometry::DVec3;
use dryturn_numerics::Cholesky;
use dryturn_units::maths;

/// Blocks of three channels: of the six colours, of the six faces, of the slopes across and
/// down the six faces (or of the lamps), of the second light, of that on each face, and of the veil
/// on the six faces and its slopes across and down each.
pub(super) const BLOCKS: usize = 49;
/// Blocks of one light alone, and with the second light.
pub(super) const ONE_LIGHT: usize = 24;
pub(super) const TWO_LIGHTS: usize = 31;
pub(super) const VEIL_SLOPES: usize = VEIL + FACES;
pub(super) const COLOURS: usize = 6;
pub(super) const FACES: usize = 6;
pub(super) const SLOPES: usize = 12;
pub(super) const SECOND: usize = ONE_LIGHT;
pub(super) const SECOND_FACES: usize = SECOND + 1;
pub(super) const VEIL: usize = TWO_LIGHTS;
/// A lamp's light less what it was, as a share of that, at least and at most: it may go down to
/// nothing, but hardly up, for what all lamps do together is the colours'.
const LAMP_REACH: [f64; 2] = [-0.99, 0.15];
/// The most lamps, with the room, that may have changed each by itself.
pub(super) const MOST_LAMPS: usize = SECOND - SLOPES;
/// The least that a light is taken to add at first, as a logarithm.
const LEAST_ADDED: f64 = 0.1;
/// Logarithm of a usual veil's light as a multiple of what white throws back there.
const USUAL_VEIL: f64 = -1.5;

fn by_channel(of: DVec3, function: fn(f64) -> f64) -> DVec3 {
    DVec3::from_array(of.to_array().map(function))
}

/// The blocks of a face's slopes, which begin so, that a facelet has a part in, and how much:
/// across and down.
fn slopes(begin: usize, facelet: Facelet) -> [(usize, f64); 2] {
    let first = begin + 2 * facelet.face().index();
    [(first, facelet.column() as f64 - 1.0), (first + 1, facelet.row() as f64 - 1.0)]
}

/// The blocks of the second light there.
pub(super) fn second_blocks(facelet: Facelet) -> [(usize, f64); 2] {
    [(SECOND, 1.0), (SECOND_FACES + facelet.face().index(), 1.0)]
}

/// The blocks of a veil there.
pub(super) fn veil_blocks(facelet: Facelet) -> [(usize, f64); 3] {
    let [across, down] = slopes(VEIL_SLOPES, facelet);
    [(VEIL + facelet.face().index(), 1.0), across, down]
}

/// How the light at a place goes with the unknowns.
#[derive(Clone)]
enum Link {
    /// It is so many times what it was, colour by colour.
    Times,
    /// A light was added to what there was, and unknowns are those of the added light. By facelet
    /// index and colour: how much brighter the colour looks in the mean than there.
    Added(Arc<Vec<[DVec3; COLOURS]>>),
    /// Each lamp, and the room, has so many times the light that it had; in the place of slopes. By
    /// facelet index: the share that each had.
    Lamps(Arc<Vec<Vec<f64>>>),
}

/// Unknowns of one camera.
#[derive(Clone)]
pub(crate) struct Change {
    pub(super) of: [DVec3; BLOCKS],
    link: Link,
}

impl Change {
    /// All colours alike.
    pub(super) fn all(by: DVec3) -> Self {
        let mut of = [DVec3::ZERO; BLOCKS];
        of[..COLOURS].fill(by);
        Self { of, link: Link::Times }
    }

    /// A light that was added and makes colours so much brighter in the mean; `elsewhere` as
    /// [`Appearance::elsewhere`](crate::looks::Appearance::elsewhere) has it.
    pub(super) fn added(by: DVec3, elsewhere: Arc<Vec<[DVec3; COLOURS]>>) -> Self {
        let much = by.max(DVec3::splat(LEAST_ADDED)).to_array();
        let own = Self::all(DVec3::from_array(much.map(|by| maths::ln(maths::exp(by) - 1.0))));
        Self { link: Link::Added(elsewhere), ..own }
    }

    /// Of lamps that had such shares: each has as much light as it had.
    pub(super) fn lamps(shares: Arc<Vec<Vec<f64>>>) -> Self {
        Self { link: Link::Lamps(shares), ..Self::all(DVec3::ZERO) }
    }

    /// The same with another second light.
    pub(super) fn with_second(&self, step: f64) -> Self {
        let mut change = self.clone();
        change.of[SECOND..].fill(DVec3::ZERO);
        change.of[SECOND] = DVec3::splat(step);
        change
    }

    /// The same with a veil on all faces, this much stronger than a usual one.
    pub(super) fn with_veil(&self, step: f64) -> Self {
        let mut change = self.clone();
        change.of[SECOND..].fill(DVec3::ZERO);
        change.and_veil(step)
    }

    /// The same with such a veil besides what there is.
    pub(super) fn and_veil(mut self, step: f64) -> Self {
        self.of[VEIL..VEIL + FACES].fill(DVec3::splat(step));
        self
    }

    /// A change drawn about this one, from independent numbers of variance one.
    pub(super) fn drawn(&self, triangle: &Cholesky, normal: &[f64]) -> Self {
        let mut drawn = self.clone();
        for (own, by) in drawn.of.iter_mut().zip(triangle.coloured(normal).chunks_exact(3)) {
            *own += DVec3::from_slice(by);
        }
        drawn.within_reach();
        drawn
    }

    /// Logarithm of how much brighter a colour is there.
    pub(super) fn gain(&self, facelet: Facelet, colour: usize) -> DVec3 {
        let own = self.of[colour] + self.of[FACES + facelet.face().index()];
        match &self.link {
            Link::Times => own + self.sloped(facelet),
            Link::Added(elsewhere) => {
                let sum = own + self.sloped(facelet) + elsewhere[facelet.index()][colour];
                by_channel(by_channel(sum, maths::exp), maths::ln_1p)
            }
            Link::Lamps(shares) => {
                let all: DVec3 = self.by_lamp(&shares[facelet.index()]).sum();
                own + by_channel(all, maths::ln)
            }
        }
    }

    /// The blocks that the gain there goes with, and how, by channel.
    pub(super) fn blocks(&self, facelet: Facelet, colour: usize) -> Vec<(usize, DVec3)> {
        let face = FACES + facelet.face().index();
        let with_slopes = |part: DVec3| {
            let slopes = slopes(SLOPES, facelet).map(|(k, by)| (k, part * by));
            [(colour, part), (face, part)].into_iter().chain(slopes).collect()
        };
        match &self.link {
            Link::Times => with_slopes(DVec3::ONE),
            // The share of what was added in all.
            Link::Added(_) => {
                with_slopes(DVec3::ONE - by_channel(-self.gain(facelet, colour), maths::exp))
            }
            Link::Lamps(shares) => {
                let all: DVec3 = self.by_lamp(&shares[facelet.index()]).sum();
                let lamps = shares[facelet.index()].iter().enumerate();
                let lamps = lamps.map(|(k, &share)| (SLOPES + k, DVec3::splat(share) / all));
                [(colour, DVec3::ONE), (face, DVec3::ONE)].into_iter().chain(lamps).collect()
            }
        }
    }

    /// Brings what lamps give back to where it may be.
    pub(super) fn within_reach(&mut self) {
        if matches!(self.link, Link::Lamps(_)) {
            let [least, most] = LAMP_REACH.map(DVec3::splat);
            self.of[SLOPES..SECOND].iter_mut().for_each(|own| *own = own.clamp(least, most));
        }
    }

    fn sloped(&self, facelet: Facelet) -> DVec3 {
        slopes(SLOPES, facelet).into_iter().map(|(k, part)| self.of[k] * part).sum()
    }

    /// What each lamp gives now of a light that was 1.
    fn by_lamp(&self, shares: &[f64]) -> impl Iterator<Item = DVec3> {
        let lamps = shares.iter().zip(&self.of[SLOPES..SECOND]);
        lamps.map(|(&share, by)| (DVec3::ONE + *by) * share)
    }

    pub(super) fn second(&self, facelet: Facelet) -> DVec3 {
        second_blocks(facelet).into_iter().map(|(k, part)| self.of[k] * part).sum()
    }

    /// Logarithm of the veil there as a multiple of what white throws back.
    pub(super) fn veil(&self, facelet: Facelet) -> DVec3 {
        let own = veil_blocks(facelet).into_iter().map(|(k, part)| self.of[k] * part);
        own.sum::<DVec3>() + USUAL_VEIL
    }

    /// What a facelet has of it whatever its colour, colours in the mean.
    pub(super) fn of_place(&self, facelet: Facelet) -> DVec3 {
        (0..COLOURS).map(|c| self.gain(facelet, c)).sum::<DVec3>() / COLOURS as f64
    }
}

#[cfg(test)]
mod tests {
    use dryturn_cube::Face;

    use super::*;

    fn elsewhere() -> Arc<Vec<[DVec3; COLOURS]>> {
        let of = |k: usize| DVec3::new(0.3, -0.2, 0.1) * (k as f64 / 27.0 - 1.0);
        Arc::new((0..Facelet::COUNT).map(|k| [of(k); COLOURS]).collect())
    }

    /// Light that is added is a sum: twice as much where as much again was added, wherever the
    /// place is as bright as all are in the mean.
    #[test]
    fn added_light_is_added() {
        let twice = maths::ln(2.0);
        let change = Change::added(DVec3::splat(twice), elsewhere());
        for facelet in Facelet::all() {
            let brighter = elsewhere()[facelet.index()][0];
            let gain = change.gain(facelet, 0);
            for k in 0..3 {
                let wanted = maths::ln(1.0 + maths::exp(brighter[k]));
                assert!((gain[k] - wanted).abs() < 1e-12, "{facelet}: {gain}");
            }
        }
    }

    /// How gains go with the unknowns, against what they do when each of them moves a little.
    #[test]
    fn gains_follow_their_unknowns() {
        let shares = Arc::new(vec![vec![0.5, 0.3, 0.2]; Facelet::COUNT]);
        let added = Change::added(DVec3::new(0.4, 0.9, 1.7), elsewhere());
        for mut change in [Change::all(DVec3::ONE), added, Change::lamps(shares)] {
            for (k, own) in change.of[..ONE_LIGHT].iter_mut().enumerate() {
                *own += DVec3::new(0.1, -0.2, 0.15) * (k % 5) as f64;
            }
            for facelet in Facelet::all().step_by(5) {
                let gain = change.gain(facelet, 2);
                for (block, part) in change.blocks(facelet, 2) {
                    let mut moved = change.clone();
                    moved.of[block] += DVec3::splat(1e-6);
                    let slope = (moved.gain(facelet, 2) - gain) * 1e6;
                    assert!((slope - part).abs().max_element() < 1e-4, "{facelet} {block}");
                }
            }
        }
    }

    /// A lamp that goes out takes its share with it.
    #[test]
    fn lamps_go_out() {
        let shares = Arc::new(vec![vec![0.75, 0.25]; Facelet::COUNT]);
        let mut change = Change::lamps(shares);
        change.of[SLOPES] = DVec3::splat(-1.5);
        change.within_reach();
        let gain = change.gain(Facelet::new(Face::U, 0, 0), 1);
        let wanted = maths::ln(0.25 + 0.01 * 0.75);
        assert!((gain - DVec3::splat(wanted)).abs().max_element() < 1e-9, "{gain}");
    }
}
