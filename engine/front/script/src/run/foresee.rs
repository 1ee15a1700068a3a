//! What can be known of a script before it runs: that it parses, that there are the verbs it
//! calls, which settings it asks for and which scenes it loads.

use std::collections::BTreeSet;
use std::sync::Arc;

use dryturn_units::noise::Seed;
use rhai::{AST, ASTNode, Array, Dynamic, Engine, Expr, FnCallExpr, FnPtr, Map, Position, Stmt};

use super::error::{ScriptError, renamed};
use super::{compiled, engine};
use crate::session::{Host, Session, Settings};

/// What a script will ask for, as far as its text says.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Foreseen {
    /// Names of the settings that it asks for; `None` where some are only known when it runs.
    pub settings: Option<BTreeSet<String>>,
    /// Scenes that it loads by a path that stands in it, with the line; none that it tries.
    pub scenes: Vec<(Option<usize>, String)>,
}

/// Words of the language that look like functions.
const OF_THE_LANGUAGE: [&str; 11] = [
    "print",
    "debug",
    "type_of",
    "call",
    "curry",
    "Fn",
    "is_def_var",
    "is_def_fn",
    "is_shared",
    "this",
    "sleep",
];

/// Nothing can be read.
pub(crate) struct Nothing;

impl Host for Nothing {
    fn read_text(&self, path: &str) -> Result<String, String> {
        Err(format!("{path}: not read"))
    }

    fn progress(&self, _: &str, _: usize, _: usize) {}
}

/// Looks through a script without running it. `name` is what messages call it.
///
/// # Errors
/// The first syntax error, hidden verb or unknown verb, with its line.
pub fn foresee(name: &str, text: &str) -> Result<Foreseen, ScriptError> {
    let session = Arc::new(Session::new(Seed::new(0), Settings::new(), Arc::new(Nothing)));
    let engine = engine(&session);
    let tree = compiled(name, text, &engine)?;
    let known = known(&engine, &tree);
    let mut unknown: Option<(String, Position)> = None;
    let mut settings = Some(BTreeSet::new());
    let mut scenes = Vec::new();
    tree.walk(&mut |path: &[ASTNode<'_>]| {
        let Some(node) = path.last() else { return true };
        if let Some((call, position)) = call_of(node) {
            let is_name = call.op_token.is_none() && call.namespace.is_empty();
            if is_name && !call.name.contains('$') && !known.contains(call.name.as_str()) {
                unknown.get_or_insert((call.name.to_string(), position));
            }
            match (call.name.as_str(), literal(call.args.first())) {
                ("setting", Some(name)) if call.args.len() == 2 => {
                    if let Some(settings) = &mut settings {
                        settings.insert(name.to_owned());
                    }
                }
                ("setting", _) => settings = None,
                ("scene", Some(scene)) if call.args.len() == 1 && !tried(path) => {
                    scenes.push((position.line(), scene.to_owned()));
                }
                _ => {}
            }
        }
        // By a pointer to the verb, or as a method of a text.
        if let ASTNode::Expr(Expr::StringConstant(text, _)) = node
            && text.as_str() == "setting"
        {
            settings = None;
        }
        if let ASTNode::Expr(Expr::DynamicConstant(value, _)) = node
            && points_to_setting(value)
        {
            settings = None;
        }
        if let ASTNode::Expr(Expr::MethodCall(call, _)) = node
            && call.name.as_str() == "setting"
        {
            settings = None;
        }
        true
    });
    if let Some((verb, position)) = unknown {
        let message = renamed(&verb)
            .unwrap_or_else(|| format!("unknown verb {verb}; dryturn verbs says what there is"));
        return Err(ScriptError::new(name, position, message));
    }
    Ok(Foreseen { settings, scenes })
}

/// Checks a script without running it: its syntax, that all of it is closed, that it hides no
/// verb and calls none that there is not.
///
/// # Errors
/// The first fault, with its line.
pub fn check(name: &str, text: &str) -> Result<(), ScriptError> {
    foresee(name, text).map(drop)
}

fn call_of<'a>(node: &'a ASTNode<'_>) -> Option<(&'a FnCallExpr, Position)> {
    match node {
        ASTNode::Expr(Expr::FnCall(call, position))
        | ASTNode::Stmt(Stmt::FnCall(call, position)) => Some((call, *position)),
        _ => None,
    }
}

fn literal(argument: Option<&Expr>) -> Option<&str> {
    match argument? {
        Expr::StringConstant(text, _) => Some(text.as_str()),
        _ => None,
    }
}

/// Whether a constant is, or holds, a pointer to the verb.
fn points_to_setting(value: &Dynamic) -> bool {
    if let Some(pointer) = value.read_lock::<FnPtr>() {
        return pointer.fn_name() == "setting";
    }
    if let Some(list) = value.read_lock::<Array>() {
        return list.iter().any(points_to_setting);
    }
    value.read_lock::<Map>().is_some_and(|map| map.values().any(points_to_setting))
}

/// Whether a fault here may be caught.
fn tried(path: &[ASTNode<'_>]) -> bool {
    path.iter().any(|node| matches!(node, ASTNode::Stmt(Stmt::TryCatch(..))))
}

/// Names that a script may call: verbs, the language's functions, its own functions and what it
/// keeps closures in.
fn known(engine: &Engine, tree: &AST) -> BTreeSet<String> {
    let mut known: BTreeSet<String> = OF_THE_LANGUAGE.iter().map(|word| (*word).into()).collect();
    for signature in engine.gen_fn_signatures(true) {
        known.extend(signature.split('(').next().map(|name| name.trim().to_owned()));
    }
    for function in tree.iter_functions() {
        known.insert(function.name.to_owned());
        known.extend(function.params.iter().map(|name| (*name).to_owned()));
    }
    tree.walk(&mut |path: &[ASTNode<'_>]| {
        if let Some(ASTNode::Stmt(Stmt::Var(declared, ..))) = path.last() {
            known.insert(declared.0.as_str().to_owned());
        }
        true
    });
    known
}

#[cfg(test)]
mod tests {
    use super::*;

    fn seen(text: &str) -> Foreseen {
        foresee("s.rhai", text).unwrap()
    }

    #[test]
    fn settings_are_found_where_their_names_stand() {
        let of =
            |text: &str| seen(text).settings.map(|names| names.into_iter().collect::<Vec<_>>());
        let names =
            |names: &[&str]| Some(names.iter().map(|n| (*n).to_owned()).collect::<Vec<_>>());
        assert_eq!(of("// setting(\"a\", 1)\nnote(\"setting(b, 1)\");"), names(&[]));
        let nested = "fn f() { setting(\"a\", 1) } if true { note(setting(\"b\", f())); }";
        assert_eq!(of(nested), names(&["a", "b"]));
        for dynamic in [
            "let x = \"a\"; x += \"b\"; setting(x, 1);",
            "\"a\".setting(1);",
            "let f = Fn(\"setting\"); f.call(\"a\", 1);",
            "let m = #{f: [Fn(\"setting\")]}; m.f[0].call(\"a\", 1);",
        ] {
            assert_eq!(of(dynamic), None, "{dynamic}");
        }
    }

    #[test]
    fn scenes_are_found_unless_they_are_tried() {
        let text = "let a = scene(\"a.ron\");\nfor n in [1] {\n  scene(\"b.ron\"); }\n\
                    try { scene(\"c.ron\"); } catch (e) { note(e); }";
        let wanted = vec![(Some(1), "a.ron".to_owned()), (Some(3), "b.ron".to_owned())];
        assert_eq!(seen(text).scenes, wanted);
    }

    #[test]
    fn verbs_that_there_are_not_are_found() {
        let fault = |text: &str| foresee("s.rhai", text).unwrap_err().to_string();
        let wanted = "s.rhai:2:3: unknown verb fly; dryturn verbs says what there is";
        assert_eq!(fault("let a = 1;\n  fly(a);"), wanted);
        assert!(fault("if false { note(1) } else { note(fly()) }").contains("unknown verb fly"));
        assert!(fault("let a = [1].map(|x| fly(x));").contains("unknown verb fly"));
        let old = "s.rhai:1:1: the verb drill_turning is now called drill_axes";
        assert_eq!(fault("drill_turning(1, 2);"), old);
        seen("fn f(x) { x } let g = |x| f(x); note(g.call(1)); let m = #{h: g}; m.h(2);");
        seen("let a = [3, 1]; a.sort(); note(a.len()); note(abs(-1)); note(type_of(a));");
    }
}
