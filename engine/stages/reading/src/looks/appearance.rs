//! What each colour looks like at each place, in the sensor's own light, under a gain or unseen,
//! and how far samples stray from that.

use dryturn_cube::{Face, Facelet};
use dryturn_geometry::{DMat3, DVec3};
use dryturn_scene::file::Pigment;
use dryturn_units::maths;

use super::measured::ratio;
use super::overlap::Overlap;
use super::references::References;
use super::scales::Scales;
use super::seen::{Compared, Expected, Seen};
use crate::pixels::{Patches, Pixels};
use crate::rendering::{LIGHT_FLOOR, Rendering, light_of, log_light};

/// How much of what a single reference has of its own is believed; the rest is taken from
/// its face and its colour (one reference is one facelet, with its own spread).
const OWN_SHARE: f64 = 0.35;
/// Standard deviations of what a light does to a facelet besides its gain, as [`Stray`] has it:
/// all channels together, and each by itself. Edges of shadows, a mount that is a little off.
const STRAYS: [[f64; 2]; 4] = [[0.008, 0.003], [0.022, 0.008], [0.035, 0.018], [0.07, 0.04]];
/// The same where nothing was learnt of the rig.
const UNSEEN: [[f64; 2]; 4] = [[0.08, 0.01], [0.12, 0.02], [0.16, 0.035], [0.16, 0.05]];
/// Noise of a median of light on the sensor, as a share of full scale, and what scattered light
/// adds to what is dark, as [`Stray`] has it.
const NOISE: [f64; 4] = [0.0008, 0.001, 0.0015, 0.0025];

/// The light of all colours at all places.
pub(crate) struct Appearance {
    /// By camera and facelet index, and colour; `None` where nothing is read.
    light: Vec<Vec<Option<[DVec3; 6]>>>,
    renderings: Vec<Rendering>,
    /// By facelet index: the camera that sees most of it.
    best: Vec<Option<usize>>,
    /// By camera: how far its channels overlap, and covariances of the logarithms of each colour,
    /// as [`Stray`] has it.
    overlaps: Vec<Overlap>,
    covariances: Vec<[[DMat3; 6]; 4]>,
}

/// How far samples stray from what is expected of them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum Stray {
    /// Hardly more than in the calibration.
    Least,
    /// As in the calibration.
    Steady,
    /// Little, though the light is another.
    Little,
    /// As where the light is another.
    Changed,
}

impl Stray {
    /// The next less.
    pub(crate) fn less(self) -> Option<Self> {
        match self {
            Self::Changed => Some(Self::Little),
            Self::Little => Some(Self::Steady),
            Self::Steady => Some(Self::Least),
            Self::Least => None,
        }
    }
}

impl Appearance {
    /// From what was seen in the light of the calibration.
    pub(crate) fn of(patches: &Patches, references: &References, scales: &Scales) -> Self {
        let smoothed = |own: Vec<Option<[DVec3; 6]>>| {
            let mut light = own.clone();
            Face::ALL.into_iter().for_each(|face| smooth(&own, &mut light, face));
            light.into_iter().map(|logs| Some(logs?.map(light_of))).collect()
        };
        let light: Vec<Vec<_>> = references.logs(patches).into_iter().map(smoothed).collect();
        let overlaps = light.iter().map(|own| overlap(patches.pigments(), own)).collect();
        let learnt = scales.covariances();
        Self::with(patches, light, overlaps, |overlap| {
            STRAYS.map(|strays| {
                core::array::from_fn(|colour| learnt[colour] + overlap.scatter(colour, strays))
            })
        })
    }

    /// Where nobody has seen the colours: they are taken for those of a measured chart, in the
    /// channels that each camera's matrix tells of.
    pub(crate) fn unseen(patches: &Patches) -> Self {
        let cameras = 0..patches.camera_count();
        let pigments = patches.pigments();
        let overlap = |camera| Overlap::of_matrix(pigments, patches.rendering(camera).unmix);
        let overlaps: Vec<Overlap> = cameras.clone().map(overlap).collect();
        let of = |camera: usize, facelet: Facelet| {
            let white = patches.rendering(camera).white();
            let light = |pigment| white * (overlaps[camera].grey() * ratio(pigment));
            patches.sees(camera, facelet).then(|| pigments.map(light))
        };
        let of_camera = |camera: usize| Facelet::all().map(|f| of(camera, f)).collect();
        let light = cameras.map(of_camera).collect();
        Self::with(patches, light, overlaps, |overlap| {
            UNSEEN.map(|strays| core::array::from_fn(|colour| overlap.scatter(colour, strays)))
        })
    }

    /// Of such light, in cameras whose channels overlap so; `covariances` as [`Stray`] has them.
    fn with(
        patches: &Patches,
        light: Vec<Vec<Option<[DVec3; 6]>>>,
        overlaps: Vec<Overlap>,
        covariances: impl Fn(&Overlap) -> [[DMat3; 6]; 4],
    ) -> Self {
        let cameras = 0..patches.camera_count();
        Self {
            light,
            renderings: cameras.map(|camera| *patches.rendering(camera)).collect(),
            best: Facelet::all().map(|facelet| patches.camera_of(facelet)).collect(),
            covariances: overlaps.iter().map(covariances).collect(),
            overlaps,
        }
    }

    /// What some pixels of a facelet in a camera show.
    pub(crate) fn seen(&self, (camera, facelet): (usize, Facelet), pixels: &Pixels) -> Seen {
        Seen::of(&self.renderings[camera], (camera, facelet), pixels)
    }

    /// Logarithms of all colours' light at a facelet, in the camera that sees most of it.
    pub(crate) fn logs(&self, facelet: Facelet) -> Option<[DVec3; 6]> {
        self.logs_in(self.best[facelet.index()]?, facelet)
    }

    /// The same in a camera that sees it.
    pub(crate) fn logs_in(&self, camera: usize, facelet: Facelet) -> Option<[DVec3; 6]> {
        Some(self.light[camera][facelet.index()]?.map(log_light))
    }

    /// By facelet index and colour: logarithm of what a colour looks like in the mean over all
    /// places of a camera, beside what it looks like there. So a light looks that was not there
    /// before, where the lamps are bright as where they are shaded.
    pub(crate) fn elsewhere(&self, camera: usize) -> Vec<[DVec3; 6]> {
        let logs: Vec<Option<[DVec3; 6]>> =
            Facelet::all().map(|facelet| self.logs_in(camera, facelet)).collect();
        let count = logs.iter().flatten().count().max(1) as f64;
        let mean: [DVec3; 6] = core::array::from_fn(|c| {
            logs.iter().flatten().map(|own| own[c]).sum::<DVec3>() / count
        });
        let beside = |own: [DVec3; 6]| core::array::from_fn(|c| mean[c] - own[c]);
        logs.into_iter().map(|own| own.map_or([DVec3::ZERO; 6], beside)).collect()
    }

    /// What is to be expected of a colour where something was seen and the light's logarithm
    /// has changed by `gain`.
    pub(crate) fn expected(
        &self,
        seen: &Seen,
        (colour, stray): (usize, Stray),
        gain: DVec3,
    ) -> Option<Expected> {
        let light = self.light(seen, colour, gain)?;
        Some(self.showing(seen, (&self.spread(seen.camera, colour, stray), stray), light))
    }

    /// The light of a colour where something was seen, its logarithm changed by `gain`.
    pub(crate) fn light(&self, seen: &Seen, colour: usize, gain: DVec3) -> Option<DVec3> {
        let light = self.light[seen.camera][seen.facelet.index()].as_ref()?[colour];
        Some(light * DVec3::from_array(gain.to_array().map(maths::exp)))
    }

    /// What is to be expected of a light whose logarithm strays so.
    pub(crate) fn showing(
        &self,
        seen: &Seen,
        (spread, stray): (&DMat3, Stray),
        light: DVec3,
    ) -> Expected {
        let noise = NOISE[stray as usize];
        let rendering = &self.renderings[seen.camera];
        let (mean, slope, noise) = match seen.compared {
            Compared::Light => {
                let above = light + LIGHT_FLOOR;
                (log_light(light), DMat3::from_diagonal(light / above), DVec3::splat(noise) / above)
            }
            Compared::Picture => rendering.pictured(light, spread, noise),
        };
        let covariance =
            slope * *spread * slope.transpose() + DMat3::from_diagonal(noise * noise) + seen.doubt;
        Expected { mean, covariance, slope, light }
    }

    /// Covariance of a colour's logarithms in a camera.
    pub(crate) fn spread(&self, camera: usize, colour: usize, stray: Stray) -> DMat3 {
        self.covariances[camera][stray as usize][colour]
    }

    /// How far a camera's channels overlap.
    pub(crate) fn overlap(&self, camera: usize) -> &Overlap {
        &self.overlaps[camera]
    }

    /// Logarithm of how much less room for colours there is where something is compared than in
    /// a usual camera's channels.
    pub(crate) fn log_room(&self, seen: &Seen) -> f64 {
        if seen.compared == Compared::Picture {
            return 0.0;
        }
        // One direction of what is open is brightness.
        let colour = seen.open().saturating_sub(1) as f64 / 2.0;
        colour * maths::ln(self.overlaps[seen.camera].room())
    }
}

/// How far the channels of a camera overlap that sees such light at its places.
fn overlap(pigments: [Pigment; 6], light: &[Option<[DVec3; 6]>]) -> Overlap {
    let usual = pigments.map(ratio);
    let Some(white) = pigments.iter().position(|own| *own == Pigment::White) else {
        return Overlap::of(pigments, usual);
    };
    let mut sums = [DVec3::ZERO; 6];
    let places = light.iter().flatten();
    let count = places.clone().count();
    for own in places {
        (0..6).for_each(|c| sums[c] += log_light(own[c]) - log_light(own[white]));
    }
    let mean = |sum: DVec3| DVec3::from_array((sum / count as f64).to_array().map(maths::exp));
    Overlap::of(pigments, if count == 0 { usual } else { sums.map(mean) })
}

/// Draws the references of one face towards the sum of what the place and what the colour
/// has.
fn smooth(own: &[Option<[DVec3; 6]>], into: &mut [Option<[DVec3; 6]>], face: Face) {
    let known: Vec<(usize, [DVec3; 6])> = Facelet::all()
        .filter(|facelet| facelet.face() == face)
        .filter_map(|facelet| Some((facelet.index(), own[facelet.index()]?)))
        .collect();
    if known.len() < 2 {
        return;
    }
    let count = known.len() as f64;
    let of_colour: [DVec3; 6] =
        core::array::from_fn(|c| known.iter().map(|(_, logs)| logs[c]).sum::<DVec3>() / count);
    let all = of_colour.iter().sum::<DVec3>() / 6.0;
    for (index, logs) in known {
        let place = logs.iter().sum::<DVec3>() / 6.0 - all;
        into[index] = Some(core::array::from_fn(|c| {
            let expected = of_colour[c] + place;
            expected + (logs[c] - expected) * OWN_SHARE
        }));
    }
}
