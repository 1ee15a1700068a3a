//! Fields of a scene by name, in one syntax wherever a person names them: a dotted path
//! (`lamps.upper.flux_lm`), `*` for every item of a list (`lamps.*.flux_lm`), and `+` between
//! paths that take one value together (`lamps.upper.flux_lm+lamps.lower.flux_lm`).

use serde_json::Value as Json;

/// One field that a path leads to.
#[derive(Clone, Debug, PartialEq)]
pub struct Place {
    /// Its own path, with an item's name, face or number where the path had `*`.
    pub path: String,
    /// What stands there.
    pub value: Json,
    /// The same for machines (RFC 6901); what leads to one field is equal.
    pub(crate) pointer: String,
}

impl Place {
    /// Whether both are one field, under whatever name.
    #[must_use]
    pub fn is(&self, other: &Self) -> bool {
        self.pointer == other.pointer
    }
}

/// A place on the way.
struct Spot<'a> {
    path: String,
    pointer: String,
    value: &'a Json,
}

/// All fields that `paths` leads to, each once, in the order given.
///
/// # Errors
/// Where a path breaks off, and what there is instead.
pub(crate) fn places(whole: &Json, paths: &str) -> Result<Vec<Place>, String> {
    let mut found: Vec<Place> = Vec::new();
    for path in paths.split('+') {
        for Spot { path, pointer, value } in along(whole, path.trim())? {
            if !found.iter().any(|other| other.pointer == pointer) {
                found.push(Place { path, value: value.clone(), pointer });
            }
        }
    }
    Ok(found)
}

fn along<'a>(whole: &'a Json, path: &str) -> Result<Vec<Spot<'a>>, String> {
    let mut spots = vec![Spot { path: String::new(), pointer: String::new(), value: whole }];
    for word in path.split('.') {
        let entered: Result<Vec<Vec<Spot<'_>>>, String> =
            spots.iter().map(|spot| spot.enter(word)).collect();
        spots = entered?.into_iter().flatten().collect();
    }
    Ok(spots)
}

impl<'a> Spot<'a> {
    /// What one word of a path leads to.
    fn enter(&self, word: &str) -> Result<Vec<Self>, String> {
        let at = if self.path.is_empty() { "the scene" } else { self.path.as_str() };
        match self.value {
            Json::Object(fields) => match fields.get(word) {
                Some(value) => Ok(vec![self.inside(word, word, value)]),
                None => {
                    let known = fields.keys().cloned().collect::<Vec<_>>().join(", ");
                    let star =
                        if word == "*" { ", which stands for the items of a list," } else { "" };
                    Err(format!("'{word}'{star} is no field of {at}, which has {known}"))
                }
            },
            Json::Array(items) if word == "*" => {
                if items.is_empty() {
                    return Err(format!("{at} is empty, so '*' stands for nothing"));
                }
                let item = |(i, value): (usize, &'a Json)| {
                    let number = i.to_string();
                    self.inside(name_of(value).unwrap_or(&number), &number, value)
                };
                Ok(items.iter().enumerate().map(item).collect())
            }
            Json::Array(items) => {
                let named = items.iter().position(|item| name_of(item) == Some(word));
                let index = named.or_else(|| word.parse().ok());
                match index.and_then(|index| Some((index, items.get(index)?))) {
                    Some((index, value)) => Ok(vec![self.inside(word, &index.to_string(), value)]),
                    None => {
                        let mut known: Vec<&str> = items.iter().filter_map(name_of).collect();
                        let number = format!("a number below {}", items.len());
                        known.push(&number);
                        let known = known.join(", ");
                        Err(format!("'{word}' is no item of {at}: {known}, or * for all"))
                    }
                }
            }
            value => Err(format!("'{word}' is asked of {at}, a single value ({value})")),
        }
    }

    /// `word` is what a person calls it, `key` what the list or block does.
    fn inside(&self, word: &str, key: &str, value: &'a Json) -> Self {
        let path =
            if self.path.is_empty() { word.to_owned() } else { format!("{}.{word}", self.path) };
        // No field's name has a character that a pointer would escape.
        Self { path, pointer: format!("{}/{key}", self.pointer), value }
    }
}

/// The name of a list's item, or its face.
fn name_of(item: &Json) -> Option<&str> {
    ["name", "face"].iter().find_map(|key| item.get(key)?.as_str())
}

#[cfg(test)]
mod tests {
    use crate::Scene;
    use serde_json::json;

    fn scene() -> Scene {
        let text = include_str!("../../../../../scenes/foyer_morning.ron");
        Scene::parse(text, "foyer").unwrap()
    }

    fn paths(paths: &str) -> Vec<String> {
        scene().places(paths).unwrap().into_iter().map(|place| place.path).collect()
    }

    #[test]
    fn names_numbers_stars_and_links_lead_to_fields() {
        assert_eq!(paths("lamps.upper.flux_lm"), ["lamps.upper.flux_lm"]);
        let lamps = ["lamps.window.flux_lm", "lamps.upper.flux_lm", "lamps.lower.flux_lm"];
        assert_eq!(paths("lamps.*.flux_lm"), lamps);
        assert_eq!(paths("lamps.lower.flux_lm + lamps.upper.flux_lm"), [lamps[2], lamps[1]]);
        // Each field once, whatever it is called.
        assert_eq!(paths("lamps.1.flux_lm+lamps.*.flux_lm").len(), 3);
        assert_eq!(paths("shafts.*.width_mm")[3], "shafts.D.width_mm");
        assert_eq!(paths("cameras.*.position_mm.1").len(), 2);
        let [one, other] = ["lamps.1.flux_lm", "lamps.upper.flux_lm"]
            .map(|p| scene().places(p).unwrap().remove(0));
        assert!(one.is(&other) && one != other);
    }

    #[test]
    fn a_path_that_breaks_off_says_where_and_what_is_there() {
        let cases: [(&str, &[&str]); 9] = [
            (
                "lamps.uper.flux_lm",
                &["'uper' is no item of lamps: window, upper, lower, a number below 3"],
            ),
            ("lamps.3.flux_lm", &["'3' is no item of lamps"]),
            ("lamps.*.watts", &["'watts' is no field of lamps.window", "flux_lm"]),
            ("shafts.*.colour", &["'colour' is no field of shafts.U", "width_mm"]),
            ("drive.*", &["'*', which stands for the items of a list, is no field of drive"]),
            ("drive.bus_voltage_v.x", &["'x' is asked of drive.bus_voltage_v, a single value"]),
            ("lamps.*.flux_lm+", &["'' is no field of the scene"]),
            ("colour", &["'colour' is no field of the scene", "handover"]),
            ("", &["'' is no field of the scene"]),
        ];
        for (path, parts) in cases {
            let error = scene().with(path, json!(1)).unwrap_err().to_string();
            let all = parts.iter().chain(&["foyer: there is no field "]);
            all.for_each(|part| assert!(error.contains(part), "{path}: {error}"));
            assert_eq!(error.lines().count(), 1);
        }
        let mut file = scene().file().clone();
        file.fixtures.clear();
        let bare = scene().with_file(file).unwrap();
        let error = bare.with("fixtures.*.role", json!("Panel")).unwrap_err().to_string();
        assert!(error.contains("fixtures is empty"), "{error}");
    }

    #[test]
    fn one_value_goes_to_every_place() {
        let all = scene().with("shafts.*.width_mm", json!(5)).unwrap();
        assert!(all.file().shafts.iter().all(|shaft| shaft.width_mm == 5.0));
        let flux = |scene: &Scene| scene.file().lamps.iter().map(|l| l.flux_lm).collect::<Vec<_>>();
        let before = flux(&scene());
        let half = scene().with_text("lamps.*.flux_lm", "x0.5").unwrap();
        assert_eq!(flux(&half), before.iter().map(|lm| 0.5 * lm).collect::<Vec<_>>());
        // Whole numbers stay whole.
        let rays = scene().with_text("cameras.*.samples_px", "x4").unwrap();
        assert!(rays.file().cameras.iter().all(|camera| camera.samples_px == 64));
        // A factor is one of numbers only, and what comes of it must be allowed.
        for (path, text, said) in [
            ("handover.policy", "x2", "Settle (when"),
            ("lamps.*.flux_lm", "x", "0.0 to 10000000.0"),
            ("lamps.*.flux_lm", "xNaN", "0.0 to 10000000.0"),
            ("lamps.*.flux_lm", "x1e9", "0.0 to 10000000.0"),
            ("lamps.*.flux_lm", "x-1", "0.0 to 10000000.0"),
            ("cameras.*.samples_px", "x0.3", "a whole number, 1 to 1024"),
        ] {
            let error = scene().with_text(path, text).unwrap_err().to_string();
            assert!(error.contains(said), "{path} {text}: {error}");
        }
    }

    /// A preset brings its own figures, also where several values change in a row.
    #[test]
    fn presets_come_before_what_follows_them() {
        let changed = scene()
            .with_all(&[
                ("drive.resistance_ohm", json!(9.0)),
                ("drive.preset", json!("WindingLine")),
                ("drive.inductance_mh", json!(7.0)),
            ])
            .unwrap();
        let drive = &changed.file().drive;
        assert_eq!((drive.resistance_ohm, drive.inductance_mh), (20.88, 7.0));
    }
}
