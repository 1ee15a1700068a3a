//! How far a camera's channels overlap, by how it sees the six colours.
//!
//! Channels that take much of one another's light see colours nearer together, and a change of
//! the light moves them less apart. Each channel is taken for a mix of those of a usual camera
//! ([`super::measured`]); what is known of these is brought to the camera by that mix. To first
//! order a colour's logarithms are then weighted means of those in usual channels, so that what
//! all channels have in common stays as it is.

use dryturn_geometry::{DMat3, DVec3};
use dryturn_scene::file::Pigment;

use super::measured::{in_daylight, ratio};
use crate::classes::{outer, together_and_each};

/// Added to a ratio before errors are taken relative to it: what is darker is lost in noise.
const RATIO_FLOOR: f64 = 0.01;
/// How much each channel is drawn to the usual one.
const DRAWN: f64 = 0.02;
/// Share of what usual channels stray by themselves that is left in any: mixes are not exact.
const LEFT: f64 = 0.25;

/// A camera's channels as mixes of usual ones.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Overlap {
    /// Rows sum to one and are not below zero.
    mix: DMat3,
    /// By colour: how its logarithms go with those in usual channels.
    slopes: [DMat3; 6],
}

impl Overlap {
    /// Of a camera that sees colours as such multiples of white.
    pub(crate) fn of(pigments: [Pigment; 6], seen: [DVec3; 6]) -> Self {
        let usual = pigments.map(ratio);
        let rows: [DVec3; 3] = core::array::from_fn(|k| row(&usual, seen.map(|own| own[k]), k));
        let mix = DMat3::from_cols(rows[0], rows[1], rows[2]).transpose();
        let slope = |usual: DVec3| {
            let own = mix * usual;
            DMat3::from_diagonal(DVec3::ONE / own) * mix * DMat3::from_diagonal(usual)
        };
        Self { mix, slopes: usual.map(slope) }
    }

    /// Of a camera whose pictures show colours in linear sRGB, as its matrix makes them: `unmix`
    /// leads back to its channels.
    pub(crate) fn of_matrix(pigments: [Pigment; 6], unmix: DMat3) -> Self {
        let white = unmix * DVec3::ONE;
        let seen = |pigment| (unmix * in_daylight(pigment) / white).max(DVec3::ZERO);
        if white.min_element() <= 0.0 {
            return Self::of(pigments, pigments.map(in_daylight));
        }
        Self::of(pigments, pigments.map(seen))
    }

    /// How the logarithms of a colour go with those in usual channels.
    pub(crate) fn colour(&self, colour: usize) -> DMat3 {
        self.slopes[colour]
    }

    /// The same of what is grey.
    pub(crate) fn grey(&self) -> DMat3 {
        self.mix
    }

    /// Covariance of a colour's logarithms that stray together by one standard deviation, and in
    /// usual channels each by itself by another.
    pub(crate) fn scatter(&self, colour: usize, [together, each]: [f64; 2]) -> DMat3 {
        spread(&self.slopes[colour], [together, each])
    }

    /// The same of what is grey.
    pub(crate) fn grey_scatter(&self, strays: [f64; 2]) -> DMat3 {
        spread(&self.mix, strays)
    }

    /// How much less room colours have than in usual channels, as a share.
    pub(crate) fn room(&self) -> f64 {
        self.mix.determinant().abs().clamp(1e-3, 1.0)
    }
}

fn spread(slope: &DMat3, [together, each]: [f64; 2]) -> DMat3 {
    let own = *slope * slope.transpose() * (each * each * (1.0 - LEFT * LEFT));
    own + together_and_each(together, LEFT * each)
}

/// The mix of usual channels nearest to one that sees the colours so: three weights that are not
/// below zero and sum to one.
fn row(usual: &[DVec3; 6], seen: [f64; 6], channel: usize) -> DVec3 {
    let mut matrix = DMat3::from_diagonal(DVec3::splat(DRAWN));
    let mut right = DVec3::ZERO;
    right[channel] = DRAWN;
    for (usual, seen) in usual.iter().zip(seen) {
        let by = *usual / (seen + RATIO_FLOOR);
        right += by * (seen / (seen + RATIO_FLOOR));
        matrix += outer(by, 1.0);
    }
    let cost = |row: DVec3| 0.5 * row.dot(matrix * row) - row.dot(right);
    // The best of each set of channels that may have a part; of one, it is all.
    let corners = [DVec3::X, DVec3::Y, DVec3::Z];
    let edge = |a: usize| {
        let (from, to) = (corners[a], corners[(a + 1) % 3]);
        let along = to - from;
        let share = along.dot(right - matrix * from) / along.dot(matrix * along);
        from + along * share.clamp(0.0, 1.0)
    };
    let inside = {
        let (u, v) = (DVec3::X - DVec3::Z, DVec3::Y - DVec3::Z);
        let pull = right - matrix * DVec3::Z;
        let (uu, uv, vv) = (u.dot(matrix * u), u.dot(matrix * v), v.dot(matrix * v));
        let determinant = uu * vv - uv * uv;
        let x = (vv * u.dot(pull) - uv * v.dot(pull)) / determinant;
        let y = (uu * v.dot(pull) - uv * u.dot(pull)) / determinant;
        DVec3::new(x, y, 1.0 - x - y)
    };
    let edges = [edge(0), edge(1), edge(2)];
    let best = edges.into_iter().reduce(|a, b| if cost(b) < cost(a) { b } else { a });
    if inside.min_element() >= 0.0 { inside } else { best.expect("three edges") }
}

#[cfg(test)]
mod tests {
    use super::*;

    const PIGMENTS: [Pigment; 6] = [
        Pigment::White,
        Pigment::Yellow,
        Pigment::Red,
        Pigment::Orange,
        Pigment::Green,
        Pigment::Blue,
    ];

    #[derive(serde::Deserialize)]
    struct Case {
        camera: String,
        seen: [[f64; 3]; 6],
        mix: [[f64; 3]; 3],
    }

    /// SciPy's `nnls` on measured cameras (`tests/reference/light_prior.py`).
    #[test]
    fn mixes_are_those_of_a_general_solver() {
        let text = include_str!("../../tests/light_prior.json");
        let all: serde_json::Value = serde_json::from_str(text).unwrap();
        let cases: Vec<Case> = serde_json::from_value(all["overlaps"].clone()).unwrap();
        assert_eq!(cases.len(), 9);
        for case in cases {
            let mix = Overlap::of(PIGMENTS, case.seen.map(DVec3::from_array)).mix;
            for (k, wanted) in case.mix.iter().enumerate() {
                let off = (mix.row(k) - DVec3::from_array(*wanted)).abs().max_element();
                assert!(off < 2e-3, "{}: {} {wanted:?}", case.camera, mix.row(k));
            }
        }
    }

    #[test]
    fn usual_channels_are_their_own_and_what_is_common_stays() {
        let usual = Overlap::of(PIGMENTS, PIGMENTS.map(ratio));
        assert!((usual.mix - DMat3::IDENTITY).abs_diff_eq(DMat3::ZERO, 1e-9));
        // Channels that each take a third of the others' light.
        let wide = DMat3::from_cols_array_2d(&[[0.6, 0.3, 0.1], [0.2, 0.5, 0.3], [0.2, 0.2, 0.6]]);
        let found = Overlap::of(PIGMENTS, PIGMENTS.map(|pigment| wide * ratio(pigment)));
        assert!(found.mix.abs_diff_eq(wide, 0.03), "{}", found.mix);
        assert!(found.room() < 0.3);
        for colour in 0..6 {
            let common = found.colour(colour) * DVec3::ONE;
            assert!(common.abs_diff_eq(DVec3::ONE, 1e-9), "{common}");
        }
        let stray = found.scatter(2, [0.0, 0.1]);
        assert!(stray.determinant() < 0.2 * 1e-6 && stray.determinant() > 0.0);
    }
}
