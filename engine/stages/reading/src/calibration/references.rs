//! What each colour looked like at each place, in the light of the calibration.

use dryturn_cube::{Face, Facelet};
use dryturn_geometry::DVec3;
use dryturn_units::colour::EncodedRgb8;
use serde::{Deserialize, Serialize};

use crate::appearance::log_light;
use crate::patches::Patches;

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
    pub(crate) colour: usize,
    pub(crate) seen: EncodedRgb8,
}

/// Colours as they were seen.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(crate) struct References {
    /// Median over all places, by colour in the order U R F D L B.
    pub(super) pooled: [[u8; 3]; 6],
    /// By facelet index and colour; `None` where that colour was not seen there.
    pub(super) by_facelet: Vec<[Option<[u8; 3]>; 6]>,
}

/// The middle of some colours, channel by channel; the upper one of an even number.
pub(super) fn median(seen: &[EncodedRgb8]) -> Option<[u8; 3]> {
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
    pub(crate) fn of(sightings: &[&Sighting]) -> Result<Self, Face> {
        let with = |wanted: &dyn Fn(&Sighting) -> bool| {
            let found = sightings.iter().filter(|s| wanted(s)).map(|s| s.seen);
            median(&found.collect::<Vec<_>>())
        };
        let mut pooled = [[0; 3]; 6];
        for face in Face::ALL {
            pooled[face.index()] = with(&|s| s.colour == face.index()).ok_or(face)?;
        }
        let mut by_facelet = vec![[const { Vec::new() }; 6]; Facelet::COUNT];
        for sighting in sightings {
            if let Some(facelet) = sighting.facelet {
                by_facelet[facelet.index()][sighting.colour].push(sighting.seen);
            }
        }
        let by_facelet = by_facelet.iter().map(|own| own.each_ref().map(|s| median(s))).collect();
        Ok(Self { pooled, by_facelet })
    }

    /// Colours that all places share.
    pub(crate) fn pooled(&self) -> [EncodedRgb8; 6] {
        self.pooled.map(EncodedRgb8)
    }

    /// The six colours at a facelet: its own where it saw all of them, else the shared ones.
    pub(crate) fn encoded(&self, facelet: Facelet) -> [EncodedRgb8; 6] {
        let own = &self.by_facelet[facelet.index()];
        let all = own.iter().all(Option::is_some);
        let shared = self.pooled();
        core::array::from_fn(|k| own[k].filter(|_| all).map_or(shared[k], EncodedRgb8))
    }

    /// Logarithms of the six colours' light at each facelet that a camera reads. A colour
    /// that a place has not seen is what the place has in common with others, and the
    /// colour elsewhere, lead one to expect.
    pub(crate) fn logs(&self, patches: &Patches) -> Vec<Option<[DVec3; 6]>> {
        let mut logs: Vec<Option<[DVec3; 6]>> = vec![None; Facelet::COUNT];
        for camera in 0..patches.camera_count() {
            let rendering = patches.rendering(camera);
            let log = |colour: EncodedRgb8| log_light(rendering.light(colour));
            let places: Vec<Place> = Facelet::all()
                .filter(|&facelet| patches.camera_of(facelet) == Some(camera))
                .map(|facelet| Place {
                    facelet,
                    own: self.by_facelet[facelet.index()].map(|c| Some(log(EncodedRgb8(c?)))),
                })
                .collect();
            let filled = fill(&places, self.pooled().map(log));
            places.iter().zip(filled).for_each(|(p, all)| logs[p.facelet.index()] = Some(all));
        }
        logs
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
