//! What the six shafts did over time.

use dryturn_cube::Face;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use crate::finite;

/// How many pairs of neighbouring faces there are.
pub const NEIGHBOURS: usize = 12;

/// The pairs of neighbouring faces, in the order of [`Trace::gaps_mm`].
#[must_use]
pub fn neighbours() -> [(Face, Face); NEIGHBOURS] {
    let mut pairs = [(Face::U, Face::R); NEIGHBOURS];
    let all = Face::ALL.into_iter().enumerate().flat_map(|(i, one)| {
        Face::ALL
            .into_iter()
            .skip(i + 1)
            .filter(move |other| !other.same_axis(one))
            .map(move |other| (one, other))
    });
    pairs.iter_mut().zip(all).for_each(|(place, pair)| *place = pair);
    pairs
}

/// What the six shafts did over time; lists of equal length, faces in the order
/// U R F D L B. All but the angles are empty where only the angles were asked for. Where the motion
/// grew beyond all numbers there is null as JSON, which is read as no number.
#[derive(Clone, Debug, Default, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct Trace {
    /// Seconds between samples; the first is at 0.
    pub step_s: f64,
    /// Degrees that each face has turned since the start, clockwise positive.
    #[serde(with = "finite::no_number")]
    #[schemars(with = "Vec<[Option<f64>; 6]>")]
    pub angles_deg: Vec<[f64; 6]>,
    /// What each axis's encoder reads, on the motor's side of the shaft, degrees; clockwise
    /// positive. A real rig logs this: the face itself is off by the shaft's twist.
    #[serde(with = "finite::no_number")]
    #[schemars(with = "Vec<[Option<f64>; 6]>")]
    pub encoders_deg: Vec<[f64; 6]>,
    /// Speeds of the motors, rad/s.
    #[serde(with = "finite::no_number")]
    #[schemars(with = "Vec<[Option<f64>; 6]>")]
    pub speeds_rad_s: Vec<[f64; 6]>,
    /// Currents of the motors, A (direct-current equivalent).
    #[serde(with = "finite::no_number")]
    #[schemars(with = "Vec<[Option<f64>; 6]>")]
    pub currents_a: Vec<[f64; 6]>,
    /// Signed gap between the pieces of each pair of neighbouring faces, mm, capped at
    /// the cube's play and lift; negative where the rounded edges meet.
    #[serde(with = "finite::no_number")]
    #[schemars(with = "Vec<[Option<f64>; NEIGHBOURS]>")]
    pub gaps_mm: Vec<[f64; NEIGHBOURS]>,
    /// Bus voltage.
    #[serde(with = "finite::no_number")]
    #[schemars(with = "Vec<Option<f64>>")]
    pub bus_v: Vec<f64>,
    /// Temperature of the brake resistor, °C.
    #[serde(with = "finite::no_number")]
    #[schemars(with = "Vec<Option<f64>>")]
    pub resistor_c: Vec<f64>,
    /// Temperature of the hottest winding, °C.
    #[serde(with = "finite::no_number")]
    #[schemars(with = "Vec<Option<f64>>")]
    pub winding_c: Vec<f64>,
}

impl Trace {
    /// Every second sample, in steps twice as long.
    pub fn thin_out(&mut self) {
        fn every_second<T>(samples: &mut Vec<T>) {
            let mut place = 0;
            samples.retain(|_| {
                place += 1;
                place % 2 == 1
            });
        }
        self.step_s *= 2.0;
        every_second(&mut self.angles_deg);
        every_second(&mut self.encoders_deg);
        every_second(&mut self.speeds_rad_s);
        every_second(&mut self.currents_a);
        every_second(&mut self.gaps_mm);
        every_second(&mut self.bus_v);
        every_second(&mut self.resistor_c);
        every_second(&mut self.winding_c);
    }
}
