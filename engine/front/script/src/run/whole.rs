//! What a script must be before it runs: closed to its end, and hiding no verb.

use std::collections::BTreeSet;

use rhai::{AST, Engine, Position};

use super::error::ScriptError;

/// # Errors
/// A comment or a raw text that is not closed; a function that hides a verb or a function of
/// the language.
pub(crate) fn check(
    name: &str,
    text: &str,
    engine: &Engine,
    tree: &AST,
) -> Result<(), ScriptError> {
    // The language passes over an unclosed comment. A bracket after the end of the script is a
    // fault, unless the comment swallows it.
    if engine.compile(format!("{text}\n)")).is_ok() {
        let message = "a comment /* or a raw text # that begins here or before is not closed: \
                       what follows would not run";
        let at = position(text, last_open(text));
        return Err(ScriptError::new(name, at, message.to_owned()));
    }
    let known: BTreeSet<String> = engine
        .gen_fn_signatures(true)
        .iter()
        .filter_map(|signature| signature.split('(').next())
        .map(|known| known.trim().to_owned())
        .collect();
    let hides = tree.iter_functions().find(|function| known.contains(function.name));
    let Some(function) = hides else { return Ok(()) };
    let at = definition(text, function.name);
    let message = format!(
        "the script's own function {} would hide a verb or a function of the language: give it \
         another name",
        function.name
    );
    Err(ScriptError::new(name, at.map_or(Position::NONE, |at| position(text, at)), message))
}

/// Where the last comment begins that is not closed, or the last raw text.
fn last_open(text: &str) -> usize {
    let bytes = text.as_bytes();
    let (mut depth, mut at) = (0usize, bytes.len());
    while at >= 2 {
        match &bytes[at - 2..at] {
            b"*/" => (depth, at) = (depth + 1, at - 2),
            b"/*" if depth == 0 => return at - 2,
            b"/*" => (depth, at) = (depth - 1, at - 2),
            _ => at -= 1,
        }
    }
    text.rfind('#').unwrap_or(0)
}

/// Where a function of this name is defined, as far as its text tells.
fn definition(text: &str, name: &str) -> Option<usize> {
    let mut start = 0;
    for line in text.split_inclusive('\n') {
        // Each line is looked through once, whatever stands in it.
        let code = line.find("//").unwrap_or(line.len());
        let places = line[..code].match_indices("fn").map(|(at, _)| start + at);
        let defines = |at: &usize| {
            let rest = &text[at + 2..];
            let own = rest.trim_start();
            let after = own.strip_prefix(name).map(str::trim_start);
            own.len() < rest.len() && after.is_some_and(|after| after.starts_with('('))
        };
        if let Some(at) = places.into_iter().find(defines) {
            return Some(at);
        }
        start += line.len();
    }
    None
}

fn position(text: &str, at: usize) -> Position {
    let before = &text[..at];
    let line = 1 + before.matches('\n').count();
    let column = before.rsplit('\n').next().unwrap_or_default().chars().count() + 1;
    let small = |n: usize| u16::try_from(n).unwrap_or(u16::MAX);
    Position::new(small(line), small(column))
}

#[cfg(test)]
mod tests {
    use crate::run::check;

    #[test]
    fn what_is_not_closed_is_said_with_its_line() {
        for (text, line) in [
            ("/* nothing", 1),
            ("expect(true, \"a\");\n/* expect(false, \"b\");", 2),
            ("let a = 1; /* b /* c */\n\n d", 1),
            ("/* a */\n\nlet x = \"*/\"; /* b", 3),
        ] {
            let error = check("s.rhai", text).unwrap_err();
            assert_eq!(error.line, Some(line), "{text}: {error}");
            assert!(error.message.contains("is not closed"), "{error}");
        }
        for text in ["", "// a", "/* a /* b */ c */", "let a = \"/*\";", "let a = `/*`; // /*"] {
            check("s.rhai", text).unwrap_or_else(|error| panic!("{text}: {error}"));
        }
    }

    #[test]
    fn a_verb_cannot_be_hidden() {
        for (text, line) in [
            ("fn expect(a, b) {}", 1),
            ("let a = 1;\nprivate fn expect_at_most(a) {}", 2),
            ("// fn scan()\n\nfn  scan (a) { a }", 3),
            ("fn len(a) { 1 }", 1),
            ("fn plan() {}", 1),
        ] {
            let error = check("s.rhai", text).unwrap_err();
            assert!(error.message.contains("would hide"), "{text}: {error}");
            assert_eq!(error.line, Some(line), "{text}");
        }
        check("s.rhai", "fn own(a) { a }\nlet plan = 1; let scan = |x| x;").unwrap();
    }
}
