//! What settings do to the rig, in a builder's words: the one table that text, page, JSON and
//! scripts quote.

use dryturn_scene::{FieldDoc, file};

/// One field.
struct Words {
    /// Block and field.
    field: &'static str,
    /// What it is.
    is: &'static str,
    /// What more of it does to the rig.
    more: &'static str,
    /// And what less of it does.
    less: &'static str,
}

const fn words(
    field: &'static str,
    is: &'static str,
    more: &'static str,
    less: &'static str,
) -> Words {
    Words { field, is, more, less }
}

const TABLE: [Words; 22] = [
    words(
        "handover.clearance_margin_deg",
        "how much further off than planned a face may be and still be passed untouched",
        "the next face begins later and forgives a later neighbour",
        "the next face begins sooner and forgives less of a late neighbour",
    ),
    words(
        "handover.release_angle_deg",
        "how far from its stop a face may be when the next one begins",
        "the next face begins sooner and meets more of its neighbour's corners",
        "the next face begins later and meets less of its neighbour's corners",
    ),
    words(
        "handover.settle_window_deg",
        "how near to its stop a face counts as settled",
        "the next face begins sooner, with its neighbour further off",
        "the next face waits longer, until its neighbour stands truer",
    ),
    words(
        "controller.speed_gain_per_s",
        "how hard an axis works against a wrong speed",
        "disturbances are made good sooner, and the encoder's noise shakes the axis more",
        "the axis runs calmer, and disturbances last longer",
    ),
    words(
        "controller.position_gain_per_s",
        "how hard an axis pulls towards where it should be",
        "it lags less, and swings past its stop more",
        "it swings past its stop less, and lags more",
    ),
    words(
        "controller.speed_integral_per_s",
        "how soon an axis makes good what does not go away by itself, as friction",
        "the last of an error goes sooner, and more of it swings past the stop",
        "less swings past the stop, and the last of an error stays longer",
    ),
    words(
        "controller.friction_feed_forward_ratio",
        "how much friction an axis pushes against before it sees any",
        "faces lag less, and above the true friction they run ahead",
        "faces lag more, and never run ahead",
    ),
    words(
        "controller.inertia_feed_forward_ratio",
        "how much inertia an axis pushes against before it sees any",
        "faces lag less, and above the true inertia they run ahead",
        "faces lag more, and never run ahead",
    ),
    words(
        "controller.wind_up_compensation_ratio",
        "how far beyond its stop a motor goes, so that the face behind the twisted shaft stands right",
        "faces held by friction stand nearer to their stops, and those that are not go past them",
        "faces held by friction stand shorter of their stops, and none goes past it",
    ),
    words(
        "controller.hold_torque_share",
        "how hard an axis that has stopped holds its face",
        "a face is pushed aside less, and a neighbour that must push it is blocked sooner",
        "a face gives way to its neighbours more easily, and may be left further off",
    ),
    words(
        "drive.torque_limit_n_m",
        "the most torque that an axis gives",
        "turns are quicker, and shafts take more",
        "shafts are spared, and turns take longer",
    ),
    words(
        "drive.planned_torque_share",
        "how much of its torque an axis plans its turns with",
        "turns are planned quicker, and less torque is left to catch up with",
        "more torque is left to catch up with, and turns are planned slower",
    ),
    words(
        "drive.acceleration_limit_rad_s2",
        "how hard turns are planned to accelerate",
        "turns are planned quicker, and less torque is left to catch up with",
        "more torque is left to catch up with, and turns are planned slower",
    ),
    words(
        "drive.speed_limit_rad_s",
        "how fast turns are planned to go",
        "turns are planned quicker, and less voltage is left to catch up with",
        "more voltage is left to catch up with, and turns are planned slower",
    ),
    words(
        "drive.bus_voltage_v",
        "the supply's voltage",
        "axes reach more speed, and braking sends more energy back",
        "axes reach less speed, and braking sends less energy back",
    ),
    words(
        "cube.tension_ratio",
        "how tight the cube's screws are",
        "layers rub more and lift less, so that corners meet sooner",
        "layers rub less and lift more, so that corners meet later",
    ),
    words(
        "shafts.width_mm",
        "how thick the rods are",
        "shafts stand more torque and twist less",
        "shafts stand less torque and twist more",
    ),
    words(
        "shafts.infill_share",
        "how full the rods are printed",
        "shafts stand more torque and twist less",
        "shafts stand less torque and twist more",
    ),
    words(
        "shafts.wall_mm",
        "how thick the walls of the rods are printed",
        "shafts stand more torque and twist less",
        "shafts stand less torque and twist more",
    ),
    words(
        "shafts.twisting_length_mm",
        "how much of a rod is free to twist",
        "faces trail their motors more",
        "faces trail their motors less",
    ),
    words(
        "shafts.backlash_deg",
        "how much play the couplers have",
        "faces may stand further off than their motors",
        "faces follow their motors more closely",
    ),
    words(
        "supply.capacitance_uf",
        "how much charge the supply's capacitor holds",
        "the bus sags and swells less",
        "the bus sags and swells more",
    ),
];

/// `shafts.width_mm` of `shafts.*.width_mm`.
fn key(path: &str) -> String {
    let first = path.split('+').next().unwrap_or_default().trim();
    let (block, rest) = first.split_once('.').unwrap_or((first, ""));
    format!("{block}.{}", rest.rsplit('.').next().unwrap_or_default())
}

fn find(path: &str) -> Option<&'static Words> {
    let key = key(path);
    TABLE.iter().find(|words| words.field == key)
}

/// What a policy does.
fn policy(name: &str) -> Option<&'static str> {
    match name {
        "Settle" => Some("the next face waits until its neighbour stands within the settle window"),
        "Release" => {
            Some("the next face waits until its neighbour is within the release angle of its stop")
        }
        "Predict" => Some(
            "the next face begins while its neighbour still ends its turn, so early that by both \
             set-points they just pass each other",
        ),
        _ => None,
    }
}

/// What is said of a field in the field table of the scene.
fn documented(path: &str) -> String {
    let key = key(path);
    let (block, field) = key.split_once('.').unwrap_or_default();
    let docs: Vec<FieldDoc> = match block {
        "drive" => file::Drive::fields(),
        "controller" => file::Controller::fields(),
        "handover" => file::Handover::fields(),
        "cube" => file::Cube::fields(),
        "shafts" => file::Shaft::fields(),
        "supply" => file::Supply::fields(),
        _ => Vec::new(),
    };
    let meaning = docs.iter().find(|doc| doc.name == field).map_or("", |doc| doc.meaning);
    let mut letters = meaning.trim_end_matches('.').chars();
    letters.next().map_or_else(String::new, |first| first.to_lowercase().chain(letters).collect())
}

/// What a field is, one clause.
pub(crate) fn what(path: &str) -> String {
    find(path).map_or_else(|| documented(path), |words| words.is.to_owned())
}

/// What more of a field does to the rig, or less; `None` where the table does not say.
pub(crate) fn effect(path: &str, more: bool) -> Option<&'static str> {
    find(path).map(|words| if more { words.more } else { words.less })
}

/// What a change does to the rig, one clause or two.
pub(crate) fn change(path: &str, before: &str, after: &str) -> String {
    if let Some(says) = policy(after) {
        return says.to_owned();
    }
    let number = |text: &str| text.split(", ").next().and_then(|text| text.parse::<f64>().ok());
    let effect = number(before)
        .zip(number(after))
        .and_then(|(before, after)| Some((after > before, effect(path, after > before)?)));
    match effect {
        Some((true, effect)) => format!("{}; with more, {effect}", what(path)),
        Some((false, effect)) => format!("{}; with less, {effect}", what(path)),
        None => what(path),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tune::knobs;
    use dryturn_scene::Scene;

    /// Whatever tuning may change in a scene of either kind of profile is in the table.
    #[test]
    fn every_usual_field_has_words() {
        for name in ["workbench", "foyer_morning"] {
            let path = format!("{}/../../../scenes/{name}.ron", env!("CARGO_MANIFEST_DIR"));
            let scene = Scene::parse(&std::fs::read_to_string(path).unwrap(), name).unwrap();
            for preset in ["TorqueFollowsBus", "ProfileLimited"] {
                let scene = scene.with_text("drive.preset", preset).unwrap();
                for knob in knobs::usual(&scene) {
                    let told = knob.policies().is_some() || find(&knob.field).is_some();
                    assert!(told, "{}", knob.field);
                }
            }
        }
    }

    /// Every line is of a field that is there.
    #[test]
    fn the_table_names_fields_of_the_scene() {
        for Words { field, is, more, less } in TABLE {
            assert!(!documented(field).is_empty(), "{field}");
            for clause in [is, more, less] {
                assert!(
                    !clause.ends_with('.') && clause.starts_with(char::is_lowercase),
                    "{clause}"
                );
            }
        }
    }

    #[test]
    fn changes_are_told_by_their_direction() {
        let said = change("shafts.*.width_mm", "8", "10");
        assert_eq!(
            said,
            "how thick the rods are; with more, shafts stand more torque and twist less"
        );
        assert!(change("cube.tension_ratio", "1.0", "0.8").contains("with less, layers rub less"));
        assert!(change("handover.policy", "Settle", "Predict").contains("just pass each other"));
        // What the table leaves out, the scene's own reference says.
        let other = change("drive.encoder_bits", "14", "16");
        assert!(other.starts_with("resolution of the encoder"), "{other}");
    }
}
