//! What holds of every text: of ranges and lists of values, and of scenes with a wrong character.

use dryturn_scene::{Fault, STARTER, Scene, Values};
use proptest::prelude::*;
use serde_json::Value as Json;

fn cases(cases: u32) -> ProptestConfig {
    ProptestConfig { cases, failure_persistence: None, ..ProptestConfig::default() }
}

proptest! {
    #![proptest_config(cases(128))]

    /// Values keep to their range and rise with their place; each of a list has its share.
    #[test]
    fn varied_values_keep_to_their_range(
        low in -1e6..1e6f64,
        width in 0.0..1e6f64,
        (one, other) in (0.0..1.0f64, 0.0..1.0f64),
        count in 1usize..9,
    ) {
        let high = low + width;
        let range = Values::parse(&format!("{low}..{high}")).unwrap();
        let at = |place| range.at(place).as_f64().unwrap();
        prop_assert!((low..=high).contains(&at(one)));
        prop_assert!(at(one.min(other)) <= at(one.max(other)));
        prop_assert!(at(0.0) == low && (at(1.0) - high).abs() <= 1e-9);
        let factors = Values::parse(&format!("x{low}..x{high}")).unwrap();
        prop_assert_eq!(factors.at(one), Json::from(format!("x{}", at(one))));
        let words: Vec<String> = (0..count).map(|k| format!("word{k}")).collect();
        let list = Values::parse(&words.join(",")).unwrap();
        let drawn = (one * count as f64) as usize;
        prop_assert_eq!(list.at(one), Json::from(words[drawn].as_str()));
    }

    /// A text with a wrong character is read all the same, or refused with places inside it.
    #[test]
    fn mangled_texts_are_refused_with_their_places(
        place in 0.0..1.0f64,
        wrong in prop::sample::select("(),:[]\"x0.- \n".chars().collect::<Vec<char>>()),
        remove in any::<bool>(),
    ) {
        let mut text: Vec<char> = STARTER.chars().collect();
        let at = (place * text.len() as f64) as usize;
        if remove {
            text.remove(at);
        } else {
            text[at] = wrong;
        }
        let text: String = text.into_iter().collect();
        match Scene::parse(&text, "mangled.ron") {
            Ok(scene) => {
                let again = Scene::parse(&scene.to_ron(), "again.ron").unwrap();
                prop_assert_eq!(again.file(), scene.file());
            }
            Err(error) => {
                prop_assert!(error.to_string().starts_with("mangled.ron:"), "{error}");
                for fault in error.faults() {
                    let shown = fault.to_string();
                    prop_assert!(!shown.contains(char::is_control), "{shown:?}");
                    let line = match fault {
                        Fault::Syntax { line, .. } => *line,
                        Fault::Value { place, .. } => place.map_or(0, |place| place.line),
                        _ => 0,
                    };
                    prop_assert!(line <= text.lines().count() + 1, "{fault}");
                }
            }
        }
    }
}

#[test]
fn a_wrong_value_of_two_lines_is_shown_in_one() {
    let (before, after) = STARTER.split_once("bus_voltage_v: ").unwrap();
    let after = after.trim_start_matches(|c: char| c.is_ascii_digit() || c == '.');
    let text = format!("{before}bus_voltage_v: \"4\n8\"{after}");
    let error = Scene::parse(&text, "two.ron").unwrap_err().to_string();
    assert!(error.contains(r#""4\n8""#) && !error.contains(char::is_control), "{error:?}");
}
