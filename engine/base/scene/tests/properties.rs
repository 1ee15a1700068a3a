//! What holds of every scene, whatever stands in its fields. Texts have `texts.rs`.

use std::sync::LazyLock;

use dryturn_geometry::DVec2;
use dryturn_scene::file::{
    Camera, Controller, Cube, Detection, Drive, Faults, Guest, Handover, Host, Lamp, Link, Reader,
    Shaft, Supply, Surroundings, Tolerances,
};
use dryturn_scene::{Fault, FieldDoc, Scene, View, starter};
use dryturn_units::{maths, radians};
use proptest::prelude::*;
use serde_json::Value as Json;

/// Fields that clash with no other, whatever of their range stands there.
const FREE: [&str; 10] = [
    "cube.wear_share",
    "cameras.high.exposure_ms",
    "lamps.upper.flux_lm",
    "surroundings.ambient_lux",
    "controller.deadband_deg",
    "handover.clearance_margin_deg",
    "link.most_resends",
    "supply.ambient_c",
    "tolerances.mount_turn_sigma_deg",
    "guests.reader.limit_ms",
];

/// Every field of the starter that holds one number, by its path.
static FIELDS: LazyLock<Vec<(String, FieldDoc)>> = LazyLock::new(|| {
    let blocks = [
        ("cube", Cube::fields()),
        ("shafts.U", Shaft::fields()),
        ("cameras.high", Camera::fields()),
        ("lamps.upper", Lamp::fields()),
        ("surroundings", Surroundings::fields()),
        ("reader", Reader::fields()),
        ("drive", Drive::fields()),
        ("controller", Controller::fields()),
        ("handover", Handover::fields()),
        ("link", Link::fields()),
        ("supply", Supply::fields()),
        ("detection", Detection::fields()),
        ("faults", Faults::fields()),
        ("host", Host::fields()),
        ("guests.reader", Guest::fields()),
        ("tolerances", Tolerances::fields()),
    ];
    let mut fields = Vec::new();
    for (block, docs) in blocks {
        let numbers = docs.into_iter().filter(|doc| doc.limits.is_some());
        let single = numbers.filter(|doc| !doc.allowed.contains("numbers"));
        fields.extend(single.map(|doc| (format!("{block}.{}", doc.name), doc)));
    }
    fields
});

fn cases(cases: u32) -> ProptestConfig {
    ProptestConfig { cases, failure_persistence: None, ..ProptestConfig::default() }
}

fn field() -> impl Strategy<Value = (String, FieldDoc)> {
    prop::sample::select(FIELDS.to_vec())
}

/// Which of a field's numbers stands at a share of its range; a whole one where it holds such.
fn number(scene: &Scene, path: &str, share: f64) -> f64 {
    let field = FIELDS.iter().find(|field| field.0 == path);
    let (low, high) = field.and_then(|field| field.1.limits).unwrap();
    let value = (low + (high - low) * share).min(high);
    if is_whole(scene, path) { value.round() } else { value }
}

fn is_whole(scene: &Scene, path: &str) -> bool {
    scene.places(path).unwrap()[0].value.is_u64()
}

/// Tangent of half the angle that a camera sees across its picture.
fn half_view(view: &View) -> f64 {
    -view.lens.normalise(DVec2::new(-0.5, 0.0)).unwrap().x
}

proptest! {
    #![proptest_config(cases(128))]

    /// A number beyond its range is refused, by a message with the field and what it may be.
    #[test]
    fn what_is_out_of_range_is_refused(
        (path, doc) in field(),
        beyond in 0.01..2.0f64,
        above in any::<bool>(),
    ) {
        let scene = starter();
        let (low, high) = doc.limits.unwrap();
        let off = beyond * (1.0 + high - low);
        let value = if above { high + off } else { low - off };
        let outwards = if above { value.ceil() } else { value.floor() };
        let value = if is_whole(&scene, &path) { outwards } else { value };
        let error = scene.with(&path, Json::from(value)).unwrap_err();
        let named = |fault: &Fault| match fault {
            Fault::Value { field, allowed, .. } => {
                field.ends_with(doc.name) && allowed.contains(&doc.allowed)
            }
            _ => false,
        };
        prop_assert!(error.faults().iter().any(named), "{path} of {value}: {error}");
        let text = error.to_string();
        prop_assert!(text.contains(doc.name) && text.contains(&doc.allowed), "{text}");
    }

    /// A number in its range is taken, is written and read back, and can be put back; or it
    /// clashes with another field, which is not its range's fault.
    #[test]
    fn what_is_in_range_is_taken_or_clashes((path, doc) in field(), share in 0.0..=1.0f64) {
        let scene = starter();
        let before = scene.places(&path).unwrap()[0].value.clone();
        let value = number(&scene, &path, share);
        match scene.with(&path, Json::from(value)) {
            Ok(changed) => {
                let stands = changed.places(&path).unwrap()[0].value.as_f64();
                prop_assert_eq!(stands, Some(value), "{}", path);
                let again = Scene::parse(&changed.to_ron(), "again.ron").unwrap();
                prop_assert_eq!(again.file(), changed.file());
                let back = changed.with(&path, before).unwrap();
                prop_assert_eq!(back.file(), scene.file());
            }
            Err(error) => {
                for fault in error.faults() {
                    if let Fault::Value { allowed, .. } = fault {
                        prop_assert_ne!(allowed, &doc.allowed, "{} of {}", path, value);
                    }
                }
            }
        }
    }

    /// Many fields at once, in whatever order, are written and read back.
    #[test]
    fn what_is_written_is_read_back(shares in prop::array::uniform10(0.0..=1.0f64)) {
        let scene = starter();
        let change = |(path, share): (&'static str, f64)| {
            (path, Json::from(number(&scene, path, share)))
        };
        let mut changes: Vec<(&str, Json)> = FREE.into_iter().zip(shares).map(change).collect();
        let changed = scene.with_all(&changes).unwrap();
        let again = Scene::parse(&changed.to_ron(), "again.ron").unwrap();
        prop_assert_eq!(again.file(), changed.file());
        prop_assert_eq!(again.identity(), changed.identity());
        changes.reverse();
        let otherwise = scene.with_all(&changes).unwrap();
        prop_assert_eq!(otherwise.file(), changed.file());
    }

    /// A field is one field by name, number and star, and a factor is undone by its inverse.
    #[test]
    fn fields_have_several_names(
        field in prop::sample::select(vec!["flux_lm", "flicker_hz", "flicker_depth_share"]),
        share in 0.0..=1.0f64,
        doublings in 1u32..5,
    ) {
        let scene = starter();
        let named = format!("lamps.upper.{field}");
        let value = Json::from(number(&scene, &named, share));
        let with = |path: &str| scene.with(path, value.clone()).unwrap();
        let (by_name, by_number) = (with(&named), with(&format!("lamps.0.{field}")));
        prop_assert_eq!(by_name.file(), by_number.file());
        let all = with(&format!("lamps.*.{field}"));
        let linked = with(&format!("{named} + lamps.lower.{field}"));
        prop_assert_eq!(all.file(), linked.file());
        prop_assert_eq!(&all.file().lamps[0], &by_name.file().lamps[0]);
        let times = 1i32 << doublings;
        let path = "lamps.*.flux_lm+surroundings.ambient_lux+cameras.*.exposure_ms";
        let more = scene.with_text(path, &format!("x{times}")).unwrap();
        let ambient_lux = f64::from(times) * scene.file().surroundings.ambient_lux;
        prop_assert_eq!(more.file().surroundings.ambient_lux, ambient_lux);
        let back = more.with_text(path, &format!("x{}", 1.0 / f64::from(times))).unwrap();
        prop_assert_eq!(back.file(), scene.file());
    }

    /// Whatever its pixels, a camera sees the same angle on the same sensor.
    #[test]
    fn resized_cameras_keep_their_view(width_px in 80u32..=2560, height_px in 64u32..=1920) {
        let scene = starter();
        let resized = scene.with_pixels([width_px, height_px]).unwrap();
        for ((old, new), camera) in
            scene.views().iter().zip(resized.views()).zip(&resized.file().cameras)
        {
            prop_assert_eq!(old.pose, new.pose);
            prop_assert_eq!([camera.width_px, camera.height_px], [width_px, height_px]);
            let tangent = maths::tan(radians(camera.horizontal_fov_deg) / 2.0);
            for view in [old, new] {
                prop_assert!((half_view(view) - tangent).abs() <= 1e-12);
            }
        }
        let sensor = |camera: &Camera| {
            let across_um = camera.pixel_pitch_um * f64::from(camera.width_px);
            let rows_us = camera.row_time_us * f64::from(camera.height_px);
            let per_um2 = camera.full_well_e / (camera.pixel_pitch_um * camera.pixel_pitch_um);
            [across_um, rows_us, per_um2]
        };
        for (old, new) in scene.file().cameras.iter().zip(&resized.file().cameras) {
            for (old, new) in sensor(old).into_iter().zip(sensor(new)) {
                prop_assert!((new / old - 1.0).abs() <= 1e-12, "{new} for {old}");
            }
        }
    }
}
