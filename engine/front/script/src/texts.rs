//! Texts of values, within bounds. The language's own functions check a text when it is made;
//! a list of texts that share their memory would come to gigabytes first.

use std::fmt::{self, Write};

use rhai::{Array, Dynamic, Engine, Map, format_map_as_json};

use crate::run::MAX_TEXT;
use crate::session::{Fallible, fault};

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

/// A value as text, cut where it is too long. The language asks for texts of values in places
/// where it does not look at errors, and would make the whole text itself then.
fn cut(what: fmt::Arguments<'_>) -> String {
    let mut text = Bounded::default();
    if text.write_fmt(what).is_err() {
        let mark = "… (cut)";
        let mut end = text.0.len().min(MAX_TEXT - mark.len());
        while !text.0.is_char_boundary(end) {
            end -= 1;
        }
        text.0.truncate(end);
        text.0.push_str(mark);
    }
    text.0
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
pub(crate) fn register(engine: &mut Engine) {
    engine.register_fn("replace", |text: &str, from: &str, to: &str| replaced(text, from, to));
    engine.register_fn("replace", |text: &str, from: char, to: &str| {
        replaced(text, from.encode_utf8(&mut [0; 4]), to)
    });
    for name in ["to_string", "to_debug", "print", "debug"] {
        engine.register_fn(name, |list: &mut Array| cut(format_args!("{list:?}")));
        engine.register_fn(name, |map: &mut Map| cut(format_args!("#{map:?}")));
    }
    engine.register_fn("to_json", |map: &mut Map| -> Fallible<String> {
        bounded(format_args!("{map:?}"))?;
        Ok(format_map_as_json(map))
    });
}
