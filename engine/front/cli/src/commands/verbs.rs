//! `dryturn verbs [WORD]`: what scripts can do.

use core::fmt::Write as _;

use dryturn_record::documents::{Document, Verb, VerbsDocument};
use strsim::levenshtein;

use crate::commands::{Out, issued};
use crate::failure::Failure;
use crate::say;
use crate::shared::Shared;

/// Most names that are offered for a word that leads nowhere.
const NEAREST: usize = 3;

/// What `verbs` takes.
#[derive(clap::Args)]
pub(crate) struct VerbsArgs {
    /// Part of a verb's name, or a word of what is said of it
    #[arg(value_name = "WORD")]
    word: Option<String>,
}

pub(crate) fn run(args: &VerbsArgs, shared: &Shared) -> Result<u8, Failure> {
    const DEFINITIONS: &str = "dryturn.d.rhai";
    let out = Out::open(shared, &["verbs.json", DEFINITIONS])?;
    let all = dryturn_script::verbs();
    let verbs = match &args.word {
        Some(word) => sought(&all, word)?,
        None => all,
    };
    let examples: Vec<&str> = verbs.iter().filter_map(|verb| verb.example.as_deref()).collect();
    let names = dryturn_script::names_used_by(&examples.join("\n"));
    let document = VerbsDocument { word: args.word.clone(), verbs, names };
    if !shared.json {
        let text = if args.word.is_some() { whole(&document) } else { overview(&document.verbs) };
        say::result(text.trim_end())?;
    }
    let document = issued(Document::Verbs(document));
    if shared.out.is_some() {
        out.keep_all(&document, "verbs.json", &[(DEFINITIONS, dryturn_script::definitions())])?;
    }
    if shared.json {
        say::document(&document)?;
    }
    Ok(0)
}

/// The verbs whose name has the word; if none has, those of whom some text has it.
fn sought(all: &[Verb], word: &str) -> Result<Vec<Verb>, Failure> {
    let word = word.to_lowercase();
    let with = |has: &dyn Fn(&Verb) -> bool| -> Vec<Verb> {
        all.iter().filter(|verb| has(verb)).cloned().collect()
    };
    let of_name = with(&|verb| verb.name.to_lowercase().contains(&word));
    if !of_name.is_empty() {
        return Ok(of_name);
    }
    let in_text: Vec<&Verb> =
        all.iter().filter(|verb| text(verb).to_lowercase().contains(&word)).collect();
    // With its other forms: they say what is as above.
    let of_text =
        with(&|verb| in_text.iter().any(|own| (&own.name, &own.of) == (&verb.name, &verb.of)));
    if !of_text.is_empty() {
        return Ok(of_text);
    }
    if let Some(words) = dryturn_script::renamed(&word) {
        return Err(Failure::input(words));
    }
    let named = |name: &&str| name.starts_with(char::is_alphabetic);
    let mut names: Vec<&str> = all.iter().map(|verb| verb.name.as_str()).filter(named).collect();
    names.sort_by_key(|name| (levenshtein(name, &word), *name));
    names.dedup();
    let nearest = names[..names.len().min(NEAREST)].join(", ");
    Err(Failure::input(format!("no verb has {word:?} in its name or text; the nearest: {nearest}")))
}

/// Calls with their first sentences, chapter by chapter.
fn overview(verbs: &[Verb]) -> String {
    let mut text = String::new();
    // Writing to a String cannot fail.
    for chapter in verbs.chunk_by(|one, other| one.chapter == other.chapter) {
        let heading = chapter.first().map_or("", |verb| verb.chapter.as_str());
        let _ = writeln!(text, "{heading}");
        for verb in chapter {
            let _ = writeln!(text, "  {}: {}", verb.call, verb.first_sentence());
        }
        text.push('\n');
    }
    text
}

/// Everything about a verb.
fn text(verb: &Verb) -> String {
    let of = verb.of.as_ref().map_or_else(String::new, |of| format!(" (of a {of})"));
    let mut text = format!("{}{of}\n  {}\n", verb.call, verb.says);
    for argument in &verb.arguments {
        let _ = writeln!(text, "  {}: {}", argument.name, argument.meaning);
    }
    if let Some(gives) = verb.gives.as_ref().or(verb.kind.as_ref()) {
        let _ = writeln!(text, "  gives {}", gives.trim_end_matches('.'));
    }
    for line in verb.example.iter().flat_map(|example| example.lines()) {
        let _ = writeln!(text, "    {line}");
    }
    text
}

fn whole(document: &VerbsDocument) -> String {
    let mut parts: Vec<String> = document.verbs.iter().map(text).collect();
    if !document.names.is_empty() {
        let lines = document.names.iter().map(|own| format!("    {}\n", own.line));
        parts.push(format!("In the examples\n{}", lines.collect::<String>()));
    }
    parts.join("\n")
}
