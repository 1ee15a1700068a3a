//! Documents about the verbs of scripts.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// An argument of a verb.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct VerbArgument {
    /// Its name.
    pub name: String,
    /// What kind of value it is; absent where it may be several.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub kind: Option<String>,
    /// What it is, with its unit and range, as Markdown.
    pub meaning: String,
}

/// A verb of scripts, or a property of a value that verbs give.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct Verb {
    /// Chapter of `scripts/README.md`.
    pub chapter: String,
    /// Its name. A verb may have several entries, which differ in arguments.
    pub name: String,
    /// How it is called, as in `scan(rig, cube)` or `cube.net`.
    pub call: String,
    /// What kind of value answers a property; absent of verbs.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub of: Option<String>,
    /// What it does, or of a property what it is, as Markdown.
    pub says: String,
    /// What it takes, in order; none of a property.
    pub arguments: Vec<VerbArgument>,
    /// What kind of value it gives; absent where it gives none, or one of several kinds.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub kind: Option<String>,
    /// What a verb gives, with its unit, as Markdown; absent where it gives nothing, and of
    /// properties.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub gives: Option<String>,
    /// Lines of a script that show it; absent where another entry of the name has them.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub example: Option<String>,
}

impl Verb {
    /// The first sentence of what it does, without its full stop.
    #[must_use]
    pub fn first_sentence(&self) -> &str {
        let end = self.says.find(". ").unwrap_or(self.says.len());
        self.says[..end].trim_end_matches('.')
    }
}

/// What a name stands for in the examples of verbs.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct ExampleName {
    /// The name.
    pub name: String,
    /// The line of a script that makes it; it uses names before it alone.
    pub line: String,
}

/// The verbs of scripts, or those that a word leads to.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
pub struct VerbsDocument {
    /// The word; absent where none was given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub word: Option<String>,
    /// The verbs, chapter by chapter.
    pub verbs: Vec<Verb>,
    /// What names in their examples stand for.
    pub names: Vec<ExampleName>,
}
