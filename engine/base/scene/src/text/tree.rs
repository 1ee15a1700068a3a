//! A scene's text as a tree that remembers where everything stands. Values are left as they are
//! written: what they mean is for the reader of the scene to say.

use crate::fault::Position;

/// A value of the text.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Node {
    pub(crate) at: Position,
    /// What stands before the bracket; nearly always nothing.
    pub(crate) name: String,
    pub(crate) kind: Kind,
}

#[derive(Clone, Debug, PartialEq)]
pub(crate) enum Kind {
    /// `(name: value, …)`
    Block(Vec<Entry>),
    /// `[value, …]`
    List(Vec<Node>),
    /// `(value, …)`
    Tuple(Vec<Node>),
    /// A number, text, a choice: as it is written.
    Atom(String),
}

/// A named value.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct Entry {
    pub(crate) name: String,
    pub(crate) at: Position,
    pub(crate) value: Node,
    /// Whether it was written once for all shafts.
    pub(crate) shared: bool,
}

impl Node {
    pub(crate) fn new(at: Position, kind: Kind) -> Self {
        Self { at, name: String::new(), kind }
    }

    /// The same as text in one line.
    pub(crate) fn text(&self) -> String {
        let list = |items: &[Self], open, close| {
            let items: Vec<String> = items.iter().map(Self::text).collect();
            format!("{open}{}{close}", items.join(", "))
        };
        let value = match &self.kind {
            Kind::Atom(text) => text.clone(),
            Kind::List(items) => list(items, '[', ']'),
            Kind::Tuple(items) => list(items, '(', ')'),
            Kind::Block(entries) => {
                let entries: Vec<String> =
                    entries.iter().map(|e| format!("{}: {}", e.name, e.value.text())).collect();
                format!("({})", entries.join(", "))
            }
        };
        format!("{}{value}", self.name)
    }

    /// Fields of a block; none where it is no block.
    pub(crate) fn entries(&self) -> &[Entry] {
        if let Kind::Block(entries) = &self.kind { entries } else { &[] }
    }

    pub(crate) fn entry(&self, name: &str) -> Option<&Entry> {
        self.entries().iter().find(|entry| entry.name == name)
    }

    /// Where a field stands, or what it is part of; and the field's name, where it was
    /// written once for all shafts. The path is as in messages: `cameras[0].aim_mm[2]`.
    pub(crate) fn find(&self, path: &str) -> (Position, Option<String>) {
        let (mut node, mut shared) = (self, None);
        for word in path.split(['.', '[']).map(|word| word.trim_end_matches(']')) {
            let next = match &node.kind {
                Kind::Block(_) => node.entry(word).map(|entry| {
                    if entry.shared {
                        shared = Some(format!("every_shaft.{word}"));
                    }
                    &entry.value
                }),
                Kind::List(items) | Kind::Tuple(items) => {
                    word.parse::<usize>().ok().and_then(|index| items.get(index))
                }
                Kind::Atom(_) => None,
            };
            let Some(next) = next else { break };
            node = next;
        }
        (node.at, shared)
    }
}
