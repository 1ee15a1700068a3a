//! What is said of the verbs: as a list, as definitions for editors, as a page.

mod comment;
mod definitions;
mod examples;
mod reference;

use dryturn_record::documents::{Verb, VerbArgument};
use rhai::{Engine, Module};

use self::comment::parts;
pub use self::definitions::definitions;
pub use self::examples::{example_names, names_used_by};
pub use self::reference::verb_reference;
use crate::values::handles::SHOWN;
use crate::verbs::chapters;

/// How the language names a function that answers a property.
const PROPERTY: &str = "get$";

/// A function as the language knows it.
struct Function {
    name: String,
    /// Name and Rust type.
    parameters: Vec<(String, String)>,
    answer: String,
    comment: String,
}

fn functions(module: Module) -> Vec<Function> {
    let mut engine = Engine::new_raw();
    engine.register_global_module(module.into());
    engine.collect_fn_metadata(
        None,
        |info| {
            let own = info.metadata;
            let parameter = |text: &str| {
                let (name, kind) = text.split_once(':').unwrap_or((text, ""));
                (name.trim().to_owned(), kind.trim().to_owned())
            };
            Some(Function {
                name: own.name.to_string(),
                parameters: own.params_info.iter().map(|text| parameter(text)).collect(),
                answer: own.return_type.to_string(),
                comment: own.comments.iter().map(|own| own.as_str()).collect::<Vec<_>>().join("\n"),
            })
        },
        true,
    )
}

/// What a Rust type is called in scripts; nothing where it may be several.
fn kind(rust: &str) -> Option<String> {
    let bare: String = rust.split_whitespace().collect();
    let bare = bare.strip_prefix("&mut").unwrap_or(&bare);
    let inner = bare.strip_prefix("Fallible<").and_then(|rest| rest.strip_suffix('>'));
    let called = match inner.unwrap_or(bare) {
        "" | "()" | "Dynamic" => return None,
        "i64" => "whole number",
        "f64" => "number",
        "bool" => "true or false",
        "&str" | "String" => "text",
        "Array" => "list",
        "Map" => "map",
        own => SHOWN.iter().find(|(name, _)| *name == own).map_or(own, |(_, shown)| shown),
    };
    Some(called.to_owned())
}

/// A function with its comment, as a verb or a property; or what its comment lacks.
fn verb(chapter: &str, function: Function) -> Result<Verb, String> {
    let Function { name, parameters, answer, comment } = function;
    let property = name.strip_prefix(PROPERTY).map(str::to_owned);
    let names: Vec<&str> = parameters.iter().map(|(name, _)| name.as_str()).collect();
    let operator = !name.starts_with(|c: char| c.is_alphabetic());
    let call = match (&property, &names[..]) {
        (Some(property), [of]) => format!("{of}.{property}"),
        (None, [one, other]) if operator => format!("{one} {name} {other}"),
        _ => format!("{name}({})", names.join(", ")),
    };
    let parts = parts(&comment).map_err(|fault| format!("{call}: {fault}"))?;
    let said: Vec<&str> = parts.arguments.iter().map(|(name, _)| name.as_str()).collect();
    let answers = !["", "()", "Fallible<()>"].contains(&answer.replace(' ', "").as_str());
    let fault = if property.is_none() && said != names {
        Some(format!("its arguments are {names:?}, and it explains {said:?}"))
    } else if property.is_some() && !(said.is_empty() && parts.gives.is_none()) {
        Some("a property has no arguments, and its sentences say what it gives".to_owned())
    } else if property.is_none() && answers != parts.gives.is_some() {
        Some(format!("it answers {answer:?}, and says {:?}", parts.gives))
    } else {
        None
    };
    if let Some(fault) = fault {
        return Err(format!("{call}: {fault}"));
    }
    let of = property.as_ref().and(parameters.first()).and_then(|(_, own)| kind(own));
    let arguments = parts.arguments.into_iter().zip(&parameters);
    let argument = |((name, meaning), (_, own)): ((String, String), &(String, String))| {
        VerbArgument { name, kind: kind(own), meaning }
    };
    Ok(Verb {
        chapter: chapter.to_owned(),
        name: property.clone().unwrap_or(name),
        call,
        of,
        says: parts.says,
        arguments: if property.is_some() { Vec::new() } else { arguments.map(argument).collect() },
        kind: kind(&answer),
        gives: parts.gives,
        example: parts.example,
    })
}

/// Place on the page within a chapter: verbs by name, then properties by the value that answers.
fn place(verb: &Verb) -> (Option<usize>, &str, usize, &str) {
    let shown = |of: &String| SHOWN.iter().position(|(_, shown)| shown == of).unwrap_or(usize::MAX);
    (verb.of.as_ref().map(shown), &verb.name, verb.arguments.len(), &verb.call)
}

/// Every verb and property, or what a comment lacks.
fn all() -> Vec<Result<Verb, String>> {
    let mut all = Vec::new();
    for (heading, verbs) in chapters() {
        let functions = functions(verbs).into_iter();
        let (mut own, mut faults): (Vec<_>, Vec<_>) =
            functions.map(|function| verb(heading, function)).partition(Result::is_ok);
        own.sort_by(|one, other| match (one, other) {
            (Ok(one), Ok(other)) => place(one).cmp(&place(other)),
            _ => core::cmp::Ordering::Equal,
        });
        all.append(&mut own);
        all.append(&mut faults);
    }
    all
}

/// Every verb, and every property of the values that verbs give: chapter by chapter, verbs by
/// name, then properties by the value that answers them.
#[must_use]
pub fn verbs() -> Vec<Verb> {
    all().into_iter().filter_map(Result::ok).collect()
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;
    use std::sync::Arc;

    use dryturn_units::noise::Seed;

    use super::*;
    use crate::run::Nothing;
    use crate::session::{Session, Settings};

    #[test]
    fn every_comment_has_its_parts() {
        let faults: Vec<String> = all().into_iter().filter_map(Result::err).collect();
        assert!(faults.is_empty(), "{faults:#?}");
        let verbs = verbs();
        let kinds = ["whole number", "number", "true or false", "text", "list", "map"];
        let known = |kind: &String| {
            kinds.contains(&kind.as_str()) || SHOWN.iter().any(|(_, shown)| shown == kind)
        };
        for verb in &verbs {
            let arguments = verb.arguments.iter().filter_map(|argument| argument.kind.as_ref());
            let all: Vec<_> = arguments.chain(&verb.kind).chain(&verb.of).collect();
            assert!(all.iter().all(|kind| known(kind)), "{}: {all:?}", verb.call);
            let shown = |other: &&Verb| {
                other.name == verb.name && other.of.is_none() && other.example.is_some()
            };
            assert!(verb.of.is_some() || verbs.iter().any(|v| shown(&v)), "{}", verb.call);
        }
    }

    /// Every function that the engine has beside the language's own is here, and once.
    #[test]
    fn every_verb_is_registered_once_and_described() {
        let session = Arc::new(Session::new(Seed::new(0), Settings::new(), Arc::new(Nothing)));
        let engine = crate::run::engine(&session);
        let taken_over = ["sleep", "replace", "to_string", "print", "debug", "to_debug", "to_json"];
        let name = |signature: &str| {
            let name = signature.split('(').next().unwrap_or_default().to_owned();
            name.replace("get ", PROPERTY)
        };
        let signatures = engine.gen_fn_signatures(false);
        let ours = |signature: &&String| {
            let name = name(signature);
            !taken_over.contains(&name.as_str())
        };
        let registered: Vec<&String> = signatures.iter().filter(ours).collect();
        let once: BTreeSet<&String> = registered.iter().copied().collect();
        assert_eq!(once.len(), registered.len());
        let described = verbs();
        let calls: BTreeSet<&String> = described.iter().map(|verb| &verb.call).collect();
        assert_eq!(calls.len(), described.len());
        let called = |verb: &Verb| {
            let prefix = if verb.of.is_some() { PROPERTY } else { "" };
            format!("{prefix}{}", verb.name)
        };
        let mut found: Vec<String> = registered.iter().map(|own| name(own)).collect();
        let mut wanted: Vec<String> = described.iter().map(called).collect();
        found.sort();
        wanted.sort();
        assert_eq!(found, wanted);
    }

    #[test]
    fn what_a_comment_lacks_is_said() {
        let function = |comment: &str, answer: &str| Function {
            name: "turn".to_owned(),
            parameters: vec![("cube".to_owned(), "CubeValue".to_owned())],
            answer: answer.to_owned(),
            comment: comment.to_owned(),
        };
        let fault = |comment: &str| verb("", function(comment, "Fallible<i64>")).unwrap_err();
        let whole = "/// Turns.\n///\n/// * `cube` - the\n///   cube\n///\n/// Gives a\n/// number.\n\
                     ///\n/// ```rhai\n/// let a = 1;\n/// ```";
        let found = verb("", function(whole, "Fallible<i64>")).unwrap();
        assert_eq!(found.call, "turn(cube)");
        assert_eq!(found.arguments[0].meaning, "the cube");
        assert_eq!(found.arguments[0].kind.as_deref(), Some("Cube"));
        assert_eq!(
            (found.gives.as_deref(), found.kind.as_deref()),
            (Some("a number."), Some("whole number"))
        );
        assert_eq!(found.example.as_deref(), Some("let a = 1;"));
        for (left_out, said) in [
            ("/// Turns.\n", "must begin"),
            ("/// * `cube` - the\n///   cube\n", "its arguments are"),
            ("/// Gives a\n/// number.\n", "it answers"),
            (" - ", "no argument"),
        ] {
            let fault = fault(&whole.replace(left_out, ""));
            assert!(fault.contains(said), "{left_out}: {fault}");
        }
        assert!(fault(whole.trim_end_matches("\n/// ```")).contains("not closed"));
        assert!(fault(&format!("{whole}\n/// More.")).contains("nothing may follow"));
        assert!(verb("", function(whole, "()")).unwrap_err().contains("it answers"));
    }
}
