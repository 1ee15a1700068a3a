//! What a text must look like to be a scene: for finding all that is wrong with one that is
//! none. The reader itself stops at the first fault.

use strsim::levenshtein;

use super::tree::{Entry, Kind, Node};
use crate::fault::{Faults, FieldError, Position, join};

/// The kind of a field.
pub(crate) enum Shape {
    /// Told by its text alone.
    Leaf {
        /// Whether a text can be read as one.
        fits: fn(&str) -> bool,
        /// What stands in for one that is missing, so that the rest can be checked.
        stand_in: &'static str,
    },
    /// Blocks of one kind.
    List(Box<Shape>),
    /// Named fields.
    Block {
        /// What it is called.
        name: &'static str,
        /// Its fields.
        fields: Vec<ShapeField>,
    },
}

/// A field of a block.
pub(crate) struct ShapeField {
    pub(crate) name: &'static str,
    pub(crate) required: bool,
    /// What may stand there.
    pub(crate) allowed: String,
    pub(crate) shape: Shape,
}

/// Longest value that is shown whole.
const SHOWN: usize = 60;

impl Shape {
    fn stand_in(&self, at: Position) -> Node {
        let kind = match self {
            Self::Leaf { stand_in, .. } => Kind::Atom((*stand_in).to_owned()),
            Self::List(_) => Kind::List(Vec::new()),
            Self::Block { fields, .. } => {
                let required = fields.iter().filter(|field| field.required);
                let entry = |field: &ShapeField| Entry {
                    name: field.name.to_owned(),
                    at,
                    value: field.shape.stand_in(at),
                    shared: false,
                };
                Kind::Block(required.map(entry).collect())
            }
        };
        Node::new(at, kind)
    }

    /// Finds what is wrong with a value, and mends it: what is none of its fields is taken
    /// out, and what is missing or of another kind gets a stand-in.
    pub(crate) fn mend(&self, node: &mut Node, (path, allowed): (&str, &str), found: &mut Faults) {
        if let Self::Leaf { fits, .. } = self
            && fits(&node.text())
        {
            return;
        }
        let at = node.at;
        match (self, &mut node.kind) {
            (Self::List(shape), Kind::List(items)) => {
                for (i, item) in items.iter_mut().enumerate() {
                    shape.mend(item, (&format!("{path}[{i}]"), &shape.name()), found);
                }
            }
            (Self::Block { name, fields }, Kind::Block(entries)) => {
                mend_block((name, fields), (entries, at), path, found);
            }
            _ => {
                let text = node.text();
                let visible = |c: char| {
                    if c.is_control() { c.escape_debug().to_string() } else { c.to_string() }
                };
                let shown: String = text.chars().take(SHOWN).map(visible).collect();
                let more = if text.chars().nth(SHOWN).is_some() { "…" } else { "" };
                let error = FieldError::new(path, format!("{shown}{more}"), allowed);
                found.push(error.at(at));
                found.stand_in(path);
                *node = self.stand_in(at);
            }
        }
    }

    /// What may stand at a JSON pointer, `/drive/bus_voltage_v` for instance.
    pub(crate) fn allowed_at(&self, pointer: &str) -> Option<&str> {
        let (first, rest) = pointer.strip_prefix('/')?.split_once('/').map_or_else(
            || (&pointer[1..], ""),
            |(first, rest)| (first, &pointer[pointer.len() - rest.len() - 1..]),
        );
        match self {
            Self::List(shape) => shape.allowed_at(rest),
            Self::Block { fields, .. } => {
                let field = fields.iter().find(|field| field.name == first)?;
                if rest.is_empty() { Some(&field.allowed) } else { field.shape.allowed_at(rest) }
            }
            Self::Leaf { .. } => None,
        }
    }

    fn name(&self) -> String {
        match self {
            Self::Block { name, .. } => format!("a block {name}"),
            _ => "a value".to_owned(),
        }
    }
}

fn mend_block(
    (block, fields): (&str, &[ShapeField]),
    (entries, at): (&mut Vec<Entry>, Position),
    path: &str,
    found: &mut Faults,
) {
    let mut seen: Vec<String> = Vec::new();
    let mut misspelt: Vec<&str> = Vec::new();
    entries.retain_mut(|entry| {
        let own = join(path, &entry.name);
        let place = if entry.shared { format!("every_shaft.{}", entry.name) } else { own.clone() };
        let field = fields.iter().find(|field| field.name == entry.name);
        let Some(field) = field else {
            let names: Vec<&str> = fields.iter().map(|field| field.name).collect();
            let meant = nearest(&entry.name, &names);
            let hint = meant.map_or(String::new(), |name| format!(" ({name}?)"));
            misspelt.extend(meant);
            let value = format!("no field of {block}{hint}");
            let allowed = format!("one of {}", names.join(", "));
            found.push(FieldError::new(place, value, allowed).at(entry.at));
            return false;
        };
        if seen.contains(&entry.name) {
            found.push(FieldError::new(place, "given twice", "given once").at(entry.at));
            return false;
        }
        seen.push(entry.name.clone());
        let before = found.count();
        field.shape.mend(&mut entry.value, (&place, &field.allowed), found);
        if found.count() > before && entry.shared {
            found.stand_in(&own);
        }
        true
    });
    for field in fields.iter().filter(|field| field.required) {
        if seen.iter().any(|name| name == field.name) {
            continue;
        }
        // A required field that is misspelt is one mistake, and is told with it.
        if !misspelt.contains(&field.name) {
            let error = FieldError::new(join(path, field.name), "missing", field.allowed.clone());
            found.push(error.at(at));
        }
        found.stand_in(&join(path, field.name));
        let (name, value) = (field.name.to_owned(), field.shape.stand_in(at));
        entries.push(Entry { name, at, value, shared: false });
    }
}

/// The name that a misspelt one stands for, where one is near: at most a third of its
/// letters differ, or it goes on where the other ends.
fn nearest<'a>(name: &str, names: &[&'a str]) -> Option<&'a str> {
    let stem = |name: &str| name.rsplit_once('_').map_or(name.to_owned(), |(stem, _)| stem.into());
    let distance = |other: &&&str| levenshtein(name, other);
    let best = names.iter().min_by_key(distance)?;
    let near = levenshtein(name, best) * 3 <= name.chars().count().max(3);
    // Right but for its unit.
    let unit = || names.iter().find(|other| stem(other) == stem(name));
    if near { Some(best) } else { unit().copied() }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn misspelt_names_are_guessed() {
        assert_eq!(levenshtein("kitten", "sitting"), 3);
        let names = ["flux_lm", "width_mm", "aim_mm", "fixtures"];
        assert_eq!(nearest("flux_lumen", &names), Some("flux_lm"));
        assert_eq!(nearest("width_cm", &names), Some("width_mm"));
        assert_eq!(nearest("fixture", &names), Some("fixtures"));
        assert_eq!(nearest("colour", &names), None);
    }
}
