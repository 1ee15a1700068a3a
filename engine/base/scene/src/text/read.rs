//! From text to its tree: the brackets, names and commas of RON
//! (<https://github.com/ron-rs/ron>, its grammar).

use super::tree::{Entry, Kind, Node};
use crate::fault::Position;

/// Deeper than any scene.
const DEEPEST: usize = 32;

impl Node {
    /// `None` where the text is no RON, or more of RON than a scene needs.
    pub(crate) fn parse(text: &str) -> Option<Self> {
        let mut reader = Reader { rest: text, place: Position { line: 1, column: 1 } };
        reader.blank()?;
        let node = reader.value(0)?;
        reader.blank()?;
        reader.rest.is_empty().then_some(node)
    }
}

struct Reader<'a> {
    rest: &'a str,
    place: Position,
}

impl<'a> Reader<'a> {
    fn take(&mut self, bytes: usize) -> &'a str {
        let (taken, rest) = self.rest.split_at(bytes);
        for c in taken.chars() {
            if c == '\n' {
                self.place = Position { line: self.place.line + 1, column: 1 };
            } else {
                self.place.column += 1;
            }
        }
        self.rest = rest;
        taken
    }

    /// Takes a text if it comes next.
    fn next_is(&mut self, text: &str) -> bool {
        let is = self.rest.starts_with(text);
        if is {
            self.take(text.len());
        }
        is
    }

    /// Passes over space and comments.
    fn blank(&mut self) -> Option<()> {
        loop {
            let space = self.rest.len() - self.rest.trim_start().len();
            self.take(space);
            if self.rest.starts_with("//") {
                let line = self.rest.find('\n').unwrap_or(self.rest.len());
                self.take(line);
            } else if self.rest.starts_with("/*") {
                self.take(self.comment()?);
            } else {
                return Some(());
            }
        }
    }

    /// Length of a comment in `/* */`, which may have others inside.
    fn comment(&self) -> Option<usize> {
        let (mut depth, mut at) = (0usize, 0);
        loop {
            let rest = &self.rest[at..];
            if rest.starts_with("/*") {
                (depth, at) = (depth + 1, at + 2);
            } else if rest.starts_with("*/") {
                (depth, at) = (depth - 1, at + 2);
                if depth == 0 {
                    return Some(at);
                }
            } else {
                at += rest.chars().next()?.len_utf8();
            }
        }
    }

    fn value(&mut self, depth: usize) -> Option<Node> {
        if depth > DEEPEST {
            return None;
        }
        let at = self.place;
        if self.next_is("(") {
            return Some(Node::new(at, self.bracketed(depth)?));
        }
        if self.next_is("[") {
            return Some(Node::new(at, Kind::List(self.items(']', depth)?)));
        }
        let length = self.atom_length().filter(|&length| length > 0)?;
        let text = self.take(length).to_owned();
        // A block may carry its name.
        let before = (self.rest, self.place);
        self.blank()?;
        if is_name(&text) && self.next_is("(") {
            return Some(Node { at, name: text, kind: self.bracketed(depth)? });
        }
        (self.rest, self.place) = before;
        Some(Node::new(at, Kind::Atom(text)))
    }

    /// What follows an opening round bracket.
    fn bracketed(&mut self, depth: usize) -> Option<Kind> {
        let before = (self.rest, self.place);
        self.blank()?;
        if self.next_is(")") {
            return Some(Kind::Block(Vec::new()));
        }
        let named = self.name().is_some() && {
            self.blank()?;
            self.rest.starts_with(':')
        };
        (self.rest, self.place) = before;
        if !named {
            return Some(Kind::Tuple(self.items(')', depth)?));
        }
        let mut entries = Vec::new();
        loop {
            self.blank()?;
            if self.next_is(")") {
                return Some(Kind::Block(entries));
            }
            let at = self.place;
            let name = self.name()?.to_owned();
            self.blank()?;
            self.next_is(":").then_some(())?;
            self.blank()?;
            let value = self.value(depth + 1)?;
            entries.push(Entry { name, at, value, shared: false });
            self.separator(')')?;
        }
    }

    fn items(&mut self, close: char, depth: usize) -> Option<Vec<Node>> {
        let mut items = Vec::new();
        loop {
            self.blank()?;
            if self.rest.starts_with(close) {
                self.take(1);
                return Some(items);
            }
            items.push(self.value(depth + 1)?);
            self.separator(close)?;
        }
    }

    /// A comma, or nothing before the closing bracket.
    fn separator(&mut self, close: char) -> Option<()> {
        self.blank()?;
        (self.next_is(",") || self.rest.starts_with(close)).then_some(())
    }

    fn name(&mut self) -> Option<&'a str> {
        let part = |c: char| !(c.is_alphanumeric() || c == '_');
        let length = self.rest.find(part).unwrap_or(self.rest.len());
        is_name(&self.rest[..length]).then(|| self.take(length))
    }

    fn atom_length(&self) -> Option<usize> {
        let rest = self.rest;
        if let Some(body) = rest.strip_prefix('"') {
            let mut escaped = false;
            let end = body.find(|c: char| {
                let ends = c == '"' && !escaped;
                escaped = c == '\\' && !escaped;
                ends
            });
            return end.map(|end| end + 2);
        }
        if let Some(raw) = rest.strip_prefix('r') {
            let hashes = raw.len() - raw.trim_start_matches('#').len();
            if let Some(body) = raw[hashes..].strip_prefix('"') {
                let close = format!("\"{}", "#".repeat(hashes));
                return body.find(&close).map(|end| 1 + hashes + 1 + end + close.len());
            }
        }
        let ends = |c: char| c.is_whitespace() || "()[]{},:;\"'/#".contains(c);
        Some(rest.find(ends).unwrap_or(rest.len()))
    }
}

fn is_name(text: &str) -> bool {
    text.starts_with(|c: char| c.is_alphabetic() || c == '_')
        && text.chars().all(|c| c.is_alphanumeric() || c == '_')
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn text_becomes_a_tree_with_places() {
        let text = "// a\n(\n  a: 1.5, b: [(x: Up), (x: Down,),], /* c /* d */ */\n  \
                    c: (1, -2e3), d: \"a \\\" ) b\", e: Named(f: r#\"x\"y\"#), g: ())";
        let tree = Node::parse(text).unwrap();
        assert_eq!(
            tree.text(),
            "(a: 1.5, b: [(x: Up), (x: Down)], c: (1, -2e3), d: \"a \\\" ) b\", \
             e: Named(f: r#\"x\"y\"#), g: ())"
        );
        assert_eq!(tree.find("a").0, Position { line: 3, column: 6 });
        assert_eq!(tree.find("b[1].x").0, Position { line: 3, column: 28 });
        assert_eq!(tree.find("c[1]").0, Position { line: 4, column: 10 });
        assert_eq!(tree.find("g.none").0, tree.find("g").0);
        assert_eq!(Node::parse(&tree.text()).unwrap().text(), tree.text());
    }

    #[test]
    fn what_is_no_tree_is_left_to_the_reader() {
        for text in ["", "(", "(a: )", "(a: 1 b: 2)", "(a: [1, 2)", "(a: \"x)", "() x", "/* a"] {
            assert_eq!(Node::parse(text), None, "{text}");
        }
        assert_eq!(Node::parse(&"(a: ".repeat(1000)), None);
        assert_eq!(Node::parse(&"[".repeat(100_000)), None);
    }
}
