//! Texts of values, within bounds. The language's own functions check a text when it is made;
//! a list of texts that share their memory would come to gigabytes first.

use std::fmt::{self, Write};
use std::sync::Arc;

use rhai::{Array, Dynamic, Engine, Map, format_map_as_json};

use crate::session::limits::MAX_TEXT;
use crate::session::{Fallible, Session, fault};

/// A text that grows to [`MAX_TEXT`] bytes and no further.
#[derive(Default)]
struct Bounded(String);

impl Write for Bounded {
    fn write_str(&mut self, part: &str) -> fmt::Result {
        if self.0.len() + part.len() > MAX_TEXT {
            return Err(fmt::Error);
        }
        self.0.push_str(part);
        Ok(())
    }
}

fn bounded(what: fmt::Arguments<'_>) -> Fallible<String> {
    let mut text = Bounded::default();
    match text.write_fmt(what) {
        Ok(()) => Ok(text.0),
        Err(_) => {
            fault(format!("this value as text is too long: a text has at most {MAX_TEXT} bytes"))
        }
    }
}

/// A value as text.
pub(crate) fn text_of(value: &Dynamic) -> Fallible<String> {
    bounded(format_args!("{value}"))
}

fn replaced(text: &str, from: &str, to: &str) -> Fallible<String> {
    let bytes = text.len() + text.matches(from).count() * to.len();
    if bytes > MAX_TEXT {
        return fault(format!("a text has at most {MAX_TEXT} bytes; this one would have {bytes}"));
    }
    Ok(text.replace(from, to))
}

/// Puts these in the place of the language's own.
pub(crate) fn register(engine: &mut Engine, session: &Arc<Session>) {
    engine.register_fn("replace", |text: &str, from: &str, to: &str| replaced(text, from, to));
    engine.register_fn("replace", |text: &str, from: char, to: &str| {
        replaced(text, from.encode_utf8(&mut [0; 4]), to)
    });
    // The language asks for texts of values in places where it does not look at errors, and
    // would make the whole text by itself then: so the script ends, and the value is emptied.
    for name in ["to_string", "to_debug", "print", "debug"] {
        let s = session.clone();
        engine.register_fn(name, move |list: &mut Array| {
            bounded(format_args!("{list:?}")).unwrap_or_else(|_| {
                list.clear();
                s.budget.ends_with_a_text()
            })
        });
        let s = session.clone();
        engine.register_fn(name, move |map: &mut Map| {
            bounded(format_args!("#{map:?}")).unwrap_or_else(|_| {
                map.clear();
                s.budget.ends_with_a_text()
            })
        });
    }
    engine.register_fn("to_json", |map: &mut Map| -> Fallible<String> {
        bounded(format_args!("{map:?}"))?;
        Ok(format_map_as_json(map))
    });
}
