//! Definitions for editors that know the language: signatures and comments of all verbs.

use rhai::Engine;

use crate::values::handles::SHOWN;
use crate::verbs::chapters;

/// Types of the language that verbs answer, by their names here and there.
const PLAIN: [(&str, &str); 9] = [
    ("()", "()"),
    ("Dynamic", "?"),
    ("i64", "int"),
    ("f64", "float"),
    ("bool", "bool"),
    ("&str", "String"),
    ("String", "String"),
    ("Array", "Array"),
    ("Map", "Map"),
];

/// `dryturn.d.rhai`: what verbs and properties there are, for editors.
#[must_use]
pub fn definitions() -> String {
    let mut engine = Engine::new_raw();
    for (own, shown) in SHOWN.iter().chain(&PLAIN) {
        engine.register_type_with_name_raw(*own, *shown);
        // As the language's macros write it.
        engine.register_type_with_name_raw(format!("Fallible<{own} >"), *shown);
    }
    // Modules that are registered last come first.
    for (_, verbs) in chapters().into_iter().rev() {
        engine.register_global_module(verbs.into());
    }
    let text = engine.definitions().include_standard_packages(false).single_file();
    format!("{}\n", text.trim_end())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_verb_is_defined_with_names_that_scripts_know() {
        let text = definitions();
        assert_eq!(text, definitions());
        assert!(text.contains("fn scan(rig: Rig, cube: Cube) -> Scan;"), "{text}");
        assert!(text.contains("fn get time_ms(run: Run) -> float;"), "{text}");
        assert!(text.contains("op ==(Cube, Cube) -> bool;"), "{text}");
        for own in ["Value", "Fallible", "Dynamic", "dryturn_"] {
            let code = text.lines().filter(|line| !line.starts_with("///"));
            assert!(!code.into_iter().any(|line| line.contains(own)), "{own}: {text}");
        }
        let defined = text.lines().filter(|line| line.ends_with(';') && !line.starts_with("//"));
        assert_eq!(defined.count(), crate::verbs().len() + 1);
    }
}
