//! The field reference, written from the blocks themselves.

use core::fmt::Write as _;

use crate::block::FieldDoc;
use crate::file;
use crate::text::EVERY_SHAFT;

/// `scenes/README.md`: what a scene file holds, as Markdown. A test keeps the
/// file equal to this text.
#[must_use]
pub fn field_reference() -> String {
    let mut text = String::from(INTRODUCTION);
    let blocks: [(&str, &str, Vec<FieldDoc>); 20] = [
        ("SceneFile", file::SceneFile::ABOUT, scene_fields()),
        ("Cube", file::Cube::ABOUT, file::Cube::fields()),
        ("Colours", file::Colours::ABOUT, file::Colours::fields()),
        ("Shaft", file::Shaft::ABOUT, file::Shaft::fields()),
        ("Fixture", file::Fixture::ABOUT, file::Fixture::fields()),
        ("Camera", file::Camera::ABOUT, file::Camera::fields()),
        ("Lamp", file::Lamp::ABOUT, file::Lamp::fields()),
        ("Surroundings", file::Surroundings::ABOUT, file::Surroundings::fields()),
        ("Reader", file::Reader::ABOUT, file::Reader::fields()),
        ("Drive", file::Drive::ABOUT, file::Drive::fields()),
        ("Controller", file::Controller::ABOUT, file::Controller::fields()),
        ("Handover", file::Handover::ABOUT, file::Handover::fields()),
        ("Link", file::Link::ABOUT, file::Link::fields()),
        ("Supply", file::Supply::ABOUT, file::Supply::fields()),
        ("Detection", file::Detection::ABOUT, file::Detection::fields()),
        ("Faults", file::Faults::ABOUT, file::Faults::fields()),
        ("Host", file::Host::ABOUT, file::Host::fields()),
        ("Guests", file::Guests::ABOUT, file::Guests::fields()),
        ("Guest", file::Guest::ABOUT, file::Guest::fields()),
        ("Tolerances", file::Tolerances::ABOUT, file::Tolerances::fields()),
    ];
    for (name, about, fields) in blocks {
        // Writing to a String cannot fail.
        let _ = write!(text, "\n## {name}\n\n{}\n\n", about.trim());
        text.push_str("| field | default | allowed | meaning |\n| --- | --- | --- | --- |\n");
        for FieldDoc { name, default, allowed, meaning, .. } in fields {
            let _ = writeln!(text, "| `{name}` | {default} | {allowed} | {meaning} |");
        }
    }
    text
}

/// The fields of a scene, with the one that is gone once a scene is read.
fn scene_fields() -> Vec<FieldDoc> {
    let mut fields = file::SceneFile::fields();
    if let Some(shafts) = fields.iter().position(|field| field.name == "shafts") {
        fields[shafts].default = "[]".to_owned();
        fields[shafts].allowed = "a list of up to 6 blocks, each face once".to_owned();
        let every = FieldDoc {
            name: EVERY_SHAFT,
            default: "()".to_owned(),
            allowed: "a block Shaft without its face".to_owned(),
            limits: None,
            meaning: "What the six shafts share, written once: each entry of shafts starts from it.",
        };
        fields.insert(shafts, every);
    }
    fields
}

const INTRODUCTION: &str = "\
# Scene files

A scene describes the rig, the light and how exactly it is all built, in RON
(version 1). `dryturn check scenes/NAME.ron` reads it and says what is wrong, or
what each camera sees. Scripts load it with `scene(\"../scenes/NAME.ron\")` and
change single values with `changed(scene, path, value)`.

Lengths are in millimetres from the centre of the cube: x to the right face, y
up, z to the front face. The last part of a field's name is its unit; `share`
and `ratio` are numbers without one. A field with a default may be left out; an
unknown field is an error. What is `None` by default follows from other fields, also when
those change, until a number is given; `dryturn check` tells what it comes to. All that is wrong with a scene is said at once, each with its
line and column. What the six shafts share is written once, in `every_shaft`; `shafts`
lists only those that differ, and none where all are alike. The three scenes here are
invented: a science-hall foyer in the morning and in the evening, and a workbench.

This page is written by the program from its own field table; a test keeps the
two equal (`UPDATE_GOLDENS=1 cargo test` rewrites it).

## How fields are named

`--set`, `--vary`, `--compare`, `tune --allow` and `--keep`, and in scripts `changed`,
`frames` and `tune` all take the same paths. Quote them in a shell.

| written | means |
| --- | --- |
| `drive.bus_voltage_v` | one field |
| `lamps.upper.flux_lm`, `shafts.U.width_mm`, `lamps.0.flux_lm` | of one item of a list, by its name, its face or its number from 0 |
| `shafts.*.width_mm`, `lamps.*.flux_lm` | of every item of a list |
| `lamps.upper.flux_lm+lamps.lower.flux_lm` | several fields together |

and the same values:

| written | means | where |
| --- | --- | --- |
| `48`, `true`, `Predict`, `[0,300,0]` | a number, a choice, a list of numbers | everywhere |
| `x1.5` | 1.5 times what stands there, at each field its own | everywhere |
| `30,36,48`, `Settle,Release,Predict`, `LedB1,LedB3` | each of these | `--compare` drills them all, `--vary` draws one of them, `--allow` chooses one |
| `100..400`, `x0.5..x1.5` | any number between | `--vary`, `--allow` |

A path that leads to several fields stands for one value, the same for all of them:
`--vary 'lamps.*.flux_lm=x0.5..x1.5'` dims all lamps together, by one factor a scan. Lamps that
vary each by itself are named each by itself, with a `--vary` of its own.
Changes take effect in order. `drive.preset` and `cube.tension` bring their own figures with
them, so they come before the figures that shall differ.
";
