//! Lists of words: a command with its arguments.

use core::ops::RangeInclusive;

use serde::{Deserialize, Serialize};

use super::{Value, fits};
use crate::fault::FieldError;
use crate::text::Shape;

/// Most characters of a word.
const LONGEST: usize = 1000;

/// A command, word by word; a plain list of texts in a scene file.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Words(pub Vec<String>);

impl Words {
    /// No word.
    pub const NONE: Self = Self(Vec::new());
}

/// The range is on the number of words.
impl Value for Words {
    type Range = RangeInclusive<usize>;
    fn check(&self, path: &str, range: &Self::Range, found: &mut Vec<FieldError>) {
        if !range.contains(&self.0.len()) {
            let value = format!("a list of {}", self.0.len());
            found.push(FieldError::new(path, value, Self::allowed(range)));
        }
        for (i, word) in self.0.iter().enumerate() {
            word.check(&format!("{path}[{i}]"), &(1..=LONGEST), found);
        }
    }
    fn shape() -> Shape {
        Shape::Leaf { fits: fits::<Self>, stand_in: "[]" }
    }
    fn allowed(range: &Self::Range) -> String {
        let (least, most) = (range.start(), range.end());
        format!("a list of {least} to {most} texts, each of 1 to {LONGEST} characters")
    }
}

#[cfg(test)]
mod tests {
    use crate::Scene;

    const WORKBENCH: &str = include_str!("../../../../../scenes/workbench.ron");

    /// The workbench with a line more.
    fn with(line: &str) -> Result<Scene, crate::SceneError> {
        let at = WORKBENCH.find("    cube:").unwrap();
        Scene::parse(&format!("{}{line}\n{}", &WORKBENCH[..at], &WORKBENCH[at..]), "bench.ron")
    }

    #[test]
    fn commands_are_lists_of_words_and_stay_so() {
        let scene =
            with(r#"    guests: (reader: (command: ["python3", "my reader.py"])),"#).unwrap();
        let guests = &scene.file().guests;
        assert_eq!(guests.reader.command.0, ["python3", "my reader.py"]);
        assert_eq!((guests.reader.limit_ms, guests.reader.latency_ms), (10_000, 0.0));
        assert!(guests.planner.command.0.is_empty());
        let again = Scene::parse(&scene.to_ron(), "again").unwrap();
        assert_eq!(scene.file(), again.file());
        let quick = scene.with_text("guests.reader.limit_ms", "50").unwrap();
        assert_eq!(quick.file().guests.reader.limit_ms, 50);
        let other = scene.with_text("guests.reader.command", r#"["./read"]"#).unwrap();
        assert_eq!(other.file().guests.reader.command.0, ["./read"]);
    }

    #[test]
    fn what_is_no_command_is_refused_with_its_place() {
        for (line, place) in [
            (r#"guests: (reader: (command: "python3 my_reader.py")),"#, "guests.reader.command"),
            (r#"guests: (reader: (command: ["python3", ""])),"#, "guests.reader.command[1]"),
            (r#"guests: (host: (command: ["a\n"])),"#, "guests.host.command[0]"),
            ("guests: (host: (limit_ms: 5)),", "guests.host.limit_ms"),
            ("guests: (planner: (latency_ms: -1)),", "guests.planner.latency_ms"),
            ("guests: (judge: ()),", "guests.judge"),
        ] {
            let error = with(line).unwrap_err().to_string();
            assert!(error.contains(place), "{line}: {error}");
        }
    }
}
