//! Values for the fields of a block, by the field table alone: a new field is drawn too.

use dryturn_scene::file::{
    Camera, Controller, Cube, Detection, Drive, Faults, Fixture, Handover, Lamp, Link, Reader,
    SceneFile, Shaft, Supply, Surroundings, Tolerances,
};
use dryturn_scene::{FieldDoc, Scene};
use dryturn_units::maths;
use dryturn_units::noise::{Noise, Seed};
use serde_json::{Value as Json, json};

/// A number is at either end of its range with this probability.
const AT_AN_END: f64 = 0.07;
/// A figure that follows from others is left to do so with this probability.
const LEFT_OUT: f64 = 0.3;
/// Shares of a scene's fields that are drawn; the others stay as they are. Of what pictures
/// depend on a few are enough that nothing can be read any more.
const SHARES: [f64; 3] = [0.15, 0.5, 1.0];
const OPTICAL_SHARES: [f64; 5] = [0.01, 0.03, 0.1, 0.4, 1.0];
/// Log-even draws from 0 on begin at this share of the largest value.
const LEAST: f64 = 1e-6;

/// A block of a scene with its fields; `list` where there are several, each drawn by itself.
struct Block {
    name: &'static str,
    list: bool,
    fields: Vec<FieldDoc>,
}

fn block(name: &'static str, fields: Vec<FieldDoc>) -> Block {
    Block { name, list: false, fields }
}

fn list(name: &'static str, fields: Vec<FieldDoc>) -> Block {
    Block { name, list: true, fields }
}

/// What an execution depends on.
fn driving() -> Vec<Block> {
    vec![
        block("drive", Drive::fields()),
        block("controller", Controller::fields()),
        block("handover", Handover::fields()),
        block("cube", Cube::fields()),
        block("link", Link::fields()),
    ]
}

/// What more it depends on; not in every scene, for each narrows what is left.
fn around_driving() -> Vec<Block> {
    vec![
        block("supply", Supply::fields()),
        block("detection", Detection::fields()),
        block("faults", Faults::fields()),
        block("tolerances", Tolerances::fields()),
        list("shafts", Shaft::fields()),
    ]
}

/// What a picture and its reading depend on.
fn optics() -> Vec<Block> {
    vec![
        list("cameras", Camera::fields()),
        list("lamps", Lamp::fields()),
        list("fixtures", Fixture::fields()),
        block("surroundings", Surroundings::fields()),
        block("reader", Reader::fields()),
        block("cube", Cube::fields()),
    ]
}

fn around_optics() -> Vec<Block> {
    vec![list("shafts", Shaft::fields()), block("tolerances", Tolerances::fields())]
}

/// Scenes of one kind, and how many draws were refused by the checks.
pub(crate) struct Drawn {
    base: Scene,
    always: Vec<Block>,
    sometimes: Vec<Block>,
    shares: &'static [f64],
    /// Put in whatever was drawn.
    fixed: fn(&mut Json, &mut Noise),
    seed: Seed,
}

/// A scene, and how many had been refused before it.
pub(crate) struct Taken {
    pub(crate) scene: Scene,
    pub(crate) refused: usize,
}

impl Drawn {
    pub(crate) fn driving(seed: u64) -> Self {
        let (always, sometimes) = (driving(), around_driving());
        let (fixed, shares): (fn(&mut Json, &mut Noise), _) = (|_, _| {}, &SHARES[..]);
        Self { base: base(), always, sometimes, shares, fixed, seed: Seed::new(seed) }
    }

    pub(crate) fn optics(seed: u64) -> Self {
        let (always, sometimes) = (optics(), around_optics());
        let (fixed, shares): (fn(&mut Json, &mut Noise), _) = (small_pictures, &OPTICAL_SHARES[..]);
        Self { base: base(), always, sometimes, shares, fixed, seed: Seed::new(seed) }
    }

    /// The scene of a number: drawn again until the checks take it.
    pub(crate) fn scene(&self, number: u64) -> Taken {
        let whole = serde_json::to_value(self.base.file()).unwrap();
        for refused in 0..100_000 {
            let mut noise = self.seed.stream("drawn scenes", number, refused as u64);
            let share = self.shares[below(&mut noise, self.shares.len())];
            let mut drawn = whole.clone();
            for block in &self.always {
                fill(&mut drawn, block, share, &mut noise);
            }
            for block in &self.sometimes {
                if noise.uniform() < 0.3 {
                    fill(&mut drawn, block, share, &mut noise);
                }
            }
            (self.fixed)(&mut drawn, &mut noise);
            let file: SceneFile = serde_json::from_value(drawn).expect("values of each kind");
            if let Ok(scene) = self.base.with_file(file) {
                return Taken { scene, refused };
            }
        }
        panic!("no valid scene {number} in 100,000 draws");
    }
}

fn base() -> Scene {
    let text = include_str!("../../../../../scenes/foyer_morning.ron");
    Scene::parse(text, "foyer_morning.ron").unwrap()
}

/// Pictures of 64 × 64 to 320 × 240 pixels at one ray a pixel: what is drawn is the rest. Below
/// about 160 pixels' width no facelet is wide enough to calibrate by.
fn small_pictures(whole: &mut Json, noise: &mut Noise) {
    for camera in whole["cameras"].as_array_mut().unwrap() {
        camera["width_px"] = json!(64 + below(noise, 257));
        camera["height_px"] = json!(64 + below(noise, 177));
        camera["samples_px"] = json!(1);
    }
}

fn below(noise: &mut Noise, count: usize) -> usize {
    ((noise.uniform() * count as f64) as usize).min(count - 1)
}

fn fill(whole: &mut Json, block: &Block, share: f64, noise: &mut Noise) {
    let place = &mut whole[block.name];
    let items = if block.list {
        place.as_array_mut().expect("a list").iter_mut().collect()
    } else {
        vec![place]
    };
    for item in items {
        for field in &block.fields {
            // Which shaft is which does not matter; each face has one.
            if field.name == "face" || noise.uniform() >= share {
                continue;
            }
            let old = item.get_mut(field.name).unwrap_or_else(|| panic!("{}", field.name));
            if let Some(value) = drawn(field, old, noise) {
                *old = value;
            }
        }
    }
}

/// A value that a field may have; `None` for text and for blocks within a block, which have no
/// range.
fn drawn(field: &FieldDoc, old: &Json, noise: &mut Noise) -> Option<Json> {
    if let Some((low, high)) = field.limits {
        return Some(match old {
            Json::Array(values) => {
                Json::Array(values.iter().map(|_| json!(number(low, high, noise))).collect())
            }
            Json::Null if noise.uniform() < LEFT_OUT => Json::Null,
            Json::Number(old) if old.is_u64() => {
                json!(number(low, high, noise).round().clamp(low, high) as u64)
            }
            _ => json!(number(low, high, noise)),
        });
    }
    match old {
        Json::Bool(_) => Some(json!(noise.uniform() < 0.5)),
        Json::String(_) if field.allowed.starts_with("text ") => None,
        Json::String(_) => {
            let names = choices(&field.allowed);
            assert!(names.len() > 1, "{}: {}", field.name, field.allowed);
            Some(json!(names[below(noise, names.len())]))
        }
        Json::Object(_) => None,
        other => panic!("no way to draw {} ({other})", field.name),
    }
}

/// Evenly or log-evenly within a range, or at one of its ends.
fn number(low: f64, high: f64, noise: &mut Noise) -> f64 {
    let draw = noise.uniform();
    if draw < AT_AN_END {
        return low;
    }
    if draw < 2.0 * AT_AN_END {
        return high;
    }
    let evenly = noise.uniform() < 0.4 || low < 0.0;
    if evenly {
        return noise.between(low, high);
    }
    let least = low.max(LEAST * high);
    let (from, to) = (maths::ln(least), maths::ln(high));
    maths::exp(noise.between(from, to)).clamp(low, high)
}

/// The names in `Name (meaning); Other (meaning)`; spectra from a file need one.
fn choices(allowed: &str) -> Vec<&str> {
    let name = |part: &'_ str| {
        let (name, _) = part.split_once(" (")?;
        let starts = name.starts_with(|c: char| c.is_ascii_uppercase());
        (starts && name.chars().all(|c| c.is_ascii_alphanumeric())).then_some(())?;
        Some(name.len())
    };
    let parts = allowed.split("; ");
    parts.filter_map(|part| Some(&part[..name(part)?])).filter(|name| *name != "Measured").collect()
}

/// Every choice of every field is drawn, and every number reaches both ends.
#[test]
fn whole_ranges_are_drawn() {
    let mut noise = Seed::new(1).stream("ranges", 0, 0);
    let all = [driving(), around_driving(), optics(), around_optics()];
    for field in all.iter().flatten().flat_map(|block| &block.fields) {
        let Some((low, high)) = field.limits else { continue };
        let values: Vec<f64> = (0..400).map(|_| number(low, high, &mut noise)).collect();
        assert!(values.iter().all(|value| (low..=high).contains(value)), "{}", field.name);
        assert!(values.contains(&low) && values.contains(&high), "{}", field.name);
    }
    let policies = Handover::fields().into_iter().find(|field| field.name == "policy").unwrap();
    assert_eq!(choices(&policies.allowed), ["Settle", "Release", "Predict"]);
    let presets = Drive::fields().into_iter().find(|field| field.name == "preset").unwrap();
    assert_eq!(choices(&presets.allowed).len(), 5, "{}", presets.allowed);
}
