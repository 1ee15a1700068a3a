//! The field reference, written from the blocks themselves.

use core::fmt::Write as _;

use crate::block::FieldDoc;
use crate::file;

/// `scenes/README.md`: what a scene file holds, as Markdown. A test keeps the
/// file equal to this text.
#[must_use]
pub fn field_reference() -> String {
    let mut text = String::from(INTRODUCTION);
    let blocks: [(&str, &str, Vec<FieldDoc>); 18] = [
        ("SceneFile", file::SceneFile::ABOUT, file::SceneFile::fields()),
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
those change, until a number is given; `dryturn check` tells what it comes to. The three scenes here are invented: a science-hall
foyer in the morning and in the evening, and a workbench.

This page is written by the program from its own field table; a test keeps the
two equal (`UPDATE_GOLDENS=1 cargo test` rewrites it).
";
