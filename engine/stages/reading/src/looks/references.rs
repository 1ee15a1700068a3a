//! What each colour looked like at each place, in the light of the calibration.

use dryturn_cube::{Face, Facelet};
use dryturn_geometry::DVec3;
use dryturn_units::colour::EncodedRgb8;
use serde::{Deserialize, Serialize};

use crate::pixels::Patches;
use crate::rendering::log_light;

/// Rounds in which places and colours are told apart where not every place saw every colour.
const ROUNDS: usize = 4;
/// How many sightings a place must have for half of what it differs from its face to be
/// believed.
const PLACE_WEIGHT: f64 = 0.5;

/// One sighting of a known colour.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Sighting {
    /// What was left out of the fit together in cross-validation has the same number.
    pub(crate) fold: usize,
    /// `None` where nobody knows the place.
    pub(crate) facelet: Option<Facelet>,
    /// Which camera saw it; `None` where nobody said, and then it counts as the one that sees
    /// most of the place.
    pub(crate) camera: Option<usize>,
    pub(crate) colour: usize,
    pub(crate) seen: EncodedRgb8,
}

/// Colours as they were seen.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct References {
    /// Median over all places, each in the camera that sees most of it, by colour in the order
    /// U R F D L B.
    pooled: [[u8; 3]; 6],
    /// By facelet index: the camera that sees most of it.
    best: Vec<Option<usize>>,
    /// By camera, facelet index and colour; `None` where that colour was not seen there.
    by_camera: Vec<Vec<Own>>,
}

/// The colours that one camera saw at one place.
type Own = [Option<[u8; 3]>; 6];

/// The middle of some colours, channel by channel; the upper one of an even number.
pub(crate) fn median(seen: &[EncodedRgb8]) -> Option<[u8; 3]> {
    (!seen.is_empty()).then(|| {
        core::array::from_fn(|c| {
            let mut values: Vec<u8> = seen.iter().map(|s| s.0[c]).collect();
            values.sort_unstable();
            values[values.len() / 2]
        })
    })
}

impl References {
    /// Of some sightings; the first colour that has none otherwise.
    pub(crate) fn of(patches: &Patches, sightings: &[&Sighting]) -> Result<Self, Face> {
        let best: Vec<Option<usize>> = Facelet::all().map(|f| patches.camera_of(f)).collect();
        let best_of = |sighting: &Sighting| sighting.facelet.and_then(|f| best[f.index()]);
        let in_best = |s: &Sighting| s.camera.is_none() || s.camera == best_of(s);
        let with = |wanted: &dyn Fn(&Sighting) -> bool| {
            let found = sightings.iter().filter(|s| wanted(s)).map(|s| s.seen);
            median(&found.collect::<Vec<_>>())
        };
        let mut pooled = [[0; 3]; 6];
        for face in Face::ALL {
            pooled[face.index()] = with(&|s| s.colour == face.index() && in_best(s)).ok_or(face)?;
        }
        let places = vec![[const { Vec::new() }; 6]; Facelet::COUNT];
        let mut seen = vec![places; patches.camera_count()];
        for sighting in sightings {
            let camera = sighting.camera.or_else(|| best_of(sighting));
            if let (Some(facelet), Some(camera)) = (sighting.facelet, camera) {
                seen[camera][facelet.index()][sighting.colour].push(sighting.seen);
            }
        }
        let middle = |seen: &[Vec<EncodedRgb8>; 6]| seen.each_ref().map(|own| median(own));
        let by_camera = seen.iter().map(|own| own.iter().map(middle).collect()).collect();
        Ok(Self { pooled, best, by_camera })
    }

    /// Colours that all places share.
    pub(crate) fn pooled(&self) -> [EncodedRgb8; 6] {
        self.pooled.map(EncodedRgb8)
    }

    /// How many cameras, and of each how many facelets.
    pub(crate) fn size(&self) -> (usize, Vec<usize>) {
        let mut facelets: Vec<usize> = self.by_camera.iter().map(Vec::len).collect();
        facelets.push(self.best.len());
        (self.by_camera.len(), facelets)
    }

    /// Whether a facelet showed all colours to some camera.
    pub(crate) fn complete(&self, facelet: Facelet) -> bool {
        self.by_camera.iter().any(|own| own[facelet.index()].iter().all(Option::is_some))
    }

    /// What a camera saw at a facelet.
    fn own(&self, camera: usize, facelet: Facelet) -> &Own {
        static NOTHING: Own = [None; 6];
        self.by_camera.get(camera).map_or(&NOTHING, |own| &own[facelet.index()])
    }

    /// The six colours at a facelet, in the camera that sees most of it: its own where that saw
    /// all of them there, else the shared ones.
    pub(crate) fn encoded(&self, facelet: Facelet) -> [EncodedRgb8; 6] {
        let own = self.best[facelet.index()].map_or([None; 6], |best| *self.own(best, facelet));
        let all = own.iter().all(Option::is_some);
        let shared = self.pooled();
        core::array::from_fn(|k| own[k].filter(|_| all).map_or(shared[k], EncodedRgb8))
    }

    /// Logarithms of the six colours' light, by camera and facelet index, where the camera sees
    /// enough of the facelet. A colour that a place has not seen is what the place has in
    /// common with others, and the colour elsewhere, lead one to expect.
    pub(crate) fn logs(&self, patches: &Patches) -> Vec<Vec<Option<[DVec3; 6]>>> {
        let of_camera = |camera: usize| {
            let rendering = patches.rendering(camera);
            let log = |colour: EncodedRgb8| log_light(rendering.light(colour));
            let places: Vec<Place> = Facelet::all()
                .filter(|&facelet| patches.sees(camera, facelet))
                .map(|facelet| Place {
                    facelet,
                    own: self.own(camera, facelet).map(|c| Some(log(EncodedRgb8(c?)))),
                })
                .collect();
            let filled = fill(&places, self.pooled().map(log));
            let mut logs = vec![None; Facelet::COUNT];
            places.iter().zip(filled).for_each(|(p, all)| logs[p.facelet.index()] = Some(all));
            logs
        };
        (0..patches.camera_count()).map(of_camera).collect()
    }
}

struct Place {
    facelet: Facelet,
    own: [Option<DVec3>; 6],
}

/// All colours at all places of a camera, from those that were seen.
fn fill(places: &[Place], pooled: [DVec3; 6]) -> Vec<[DVec3; 6]> {
    let mut colours = pooled;
    let mut offsets = vec![DVec3::ZERO; places.len()];
    let mean = |sum: DVec3, count: f64| sum / count.max(1e-9);
    for _ in 0..ROUNDS {
        // What a face has, and what each of its places has besides.
        for face in Face::ALL {
            let on_face = || places.iter().enumerate().filter(|(_, p)| p.facelet.face() == face);
            let off = |place: &Place| {
                let seen = (0..6).filter_map(|c| Some(place.own[c]? - colours[c]));
                seen.fold((DVec3::ZERO, 0.0), |(sum, n), off| (sum + off, n + 1.0))
            };
            let (sum, count) = on_face().fold((DVec3::ZERO, 0.0), |(sum, n), (_, place)| {
                let (own, seen) = off(place);
                (sum + own, n + seen)
            });
            let of_face = mean(sum, count);
            for (k, place) in on_face() {
                let (own, seen) = off(place);
                offsets[k] = mean(own + of_face * PLACE_WEIGHT, seen + PLACE_WEIGHT);
            }
        }
        for (c, colour) in colours.iter_mut().enumerate() {
            let seen = places.iter().zip(&offsets).filter_map(|(p, off)| Some(p.own[c]? - off));
            let (sum, count) = seen.fold((DVec3::ZERO, 0.0), |(s, n), log| (s + log, n + 1.0));
            *colour = if count > 0.0 { sum / count } else { pooled[c] };
        }
    }
    let all = |(place, off): (&Place, &DVec3)| {
        core::array::from_fn(|c| place.own[c].unwrap_or(colours[c] + *off))
    };
    places.iter().zip(&offsets).map(all).collect()
}
