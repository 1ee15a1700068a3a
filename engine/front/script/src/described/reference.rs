//! The page of verbs, from what is said beside them.

mod ledger;
mod strangers;

use core::fmt::Write as _;

use dryturn_record::documents::Verb;

use super::{example_names, verbs};

/// `scripts/README.md`: verbs, limits and the ledger, as Markdown. A test keeps
/// the file equal to this text.
#[must_use]
pub fn verb_reference() -> String {
    let mut text = String::from(INTRODUCTION);
    for own in example_names() {
        text.push_str(&own.line);
        text.push('\n');
    }
    text.push_str("```\n");
    let verbs = verbs();
    for chapter in verbs.chunk_by(|one, other| one.chapter == other.chapter) {
        let heading = chapter.first().map_or("", |verb| verb.chapter.as_str());
        let _ = write!(text, "\n## {heading}\n");
        let (properties, verbs): (Vec<&Verb>, Vec<&Verb>) =
            chapter.iter().partition(|verb| verb.of.is_some());
        verbs.iter().for_each(|verb| text.push_str(&section(verb)));
        text.push_str(&table(&properties));
    }
    text.push_str(ledger::LEDGER);
    text.push_str(strangers::STRANGERS);
    text
}

fn fenced(example: Option<&String>) -> String {
    example.map_or_else(String::new, |example| format!("\n```rhai\n{example}\n```\n"))
}

fn section(verb: &Verb) -> String {
    let mut text = format!("\n### `{}`\n\n{}\n\n", verb.call, verb.says);
    // Writing to a String cannot fail.
    for argument in &verb.arguments {
        let _ = writeln!(text, "- `{}`: {}", argument.name, argument.meaning);
    }
    if let Some(gives) = &verb.gives {
        let _ = writeln!(text, "- gives {}", gives.trim_end_matches('.'));
    }
    format!("{}\n{}", text.trim_end(), fenced(verb.example.as_ref()))
}

/// Properties, a row each.
fn table(properties: &[&Verb]) -> String {
    if properties.is_empty() {
        return String::new();
    }
    let mut text = String::from("\n| property | gives | what it is |\n| --- | --- | --- |\n");
    for verb in properties {
        let kind = verb.kind.as_deref().unwrap_or_default();
        let _ = writeln!(text, "| `{}` | {kind} | {} |", verb.call, verb.says);
    }
    properties.iter().for_each(|verb| text.push_str(&fenced(verb.example.as_ref())));
    text
}

const INTRODUCTION: &str = "\
# Scripts

A script drives rehearsals: `dryturn rehearse scripts/NAME.rhai`. The language is
Rhai (variables, loops, functions, closures); the verbs below are ours. A verb
can be called as `verb(a, b)` or as `a.verb(b)`. Everything random follows from
`--seed`, so the same script and seed give the same bytes.

A script has no clock, reads no files but scenes and their tables, and writes only below the
output folder, when it has ended without an error. [What a stranger's script or scene can and
cannot do](#what-a-strangers-script-or-scene-can-and-cannot-do) is below, with all limits.

This page is written by the program; a test keeps it equal to the verbs that
exist (`UPDATE_GOLDENS=1 cargo test` rewrites it). `dryturn verbs WORD` prints the part of it that a
word leads to, and `dryturn verbs --out DIR` writes definitions for editors that know the language.

`()` is the language's empty value. In the examples these names stand for values, each made by its
line. A test runs these lines and all examples, with small pictures and a short tuning:

```rhai
";
