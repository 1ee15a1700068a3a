//! What a commit is about to do, on the disk before it does it: the next run finishes it.

use serde_json::{Value as Json, json};

use dryturn_record::digest;

const TITLE: &str = "files that dryturn is putting in place, version 1";

/// A file that is to be moved, paths relative to the output folder.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Move {
    /// SHA-256 of its bytes.
    pub(crate) hash: String,
    pub(crate) from: String,
    pub(crate) to: String,
}

/// A commit. First all of an earlier run's files that are replaced or cleared go away, then all
/// new ones move in: at no moment is there a file of the one beside a file of the other.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(crate) struct Journal {
    pub(crate) away: Vec<Move>,
    pub(crate) new: Vec<Move>,
    /// The record of unfinished work that this finishes.
    pub(crate) record: Option<String>,
}

impl Journal {
    /// One line of JSON, and its digest in a second.
    pub(crate) fn text(&self) -> String {
        let list = |moves: &[Move]| -> Vec<Json> {
            moves.iter().map(|m| json!([m.hash, m.from, m.to])).collect()
        };
        let line = json!({
            "title": TITLE, "away": list(&self.away), "new": list(&self.new),
            "record": self.record,
        })
        .to_string();
        let hash = digest(line.as_bytes());
        format!("{line}\n{hash}\n")
    }

    /// `None` where it is not whole.
    pub(crate) fn parse(text: &[u8]) -> Option<Self> {
        let text = core::str::from_utf8(text).ok()?;
        let (line, hash) = text.strip_suffix('\n')?.split_once('\n')?;
        if digest(line.as_bytes()) != hash {
            return None;
        }
        let json: Json = serde_json::from_str(line).ok()?;
        if json["title"] != TITLE {
            return None;
        }
        let one = |entry: &Json| {
            let [hash, from, to] = entry.as_array()?.as_slice() else { return None };
            let word = |word: &Json| word.as_str().map(str::to_owned);
            Some(Move { hash: word(hash)?, from: word(from)?, to: word(to)? })
        };
        let list = |key: &str| json[key].as_array()?.iter().map(one).collect::<Option<Vec<_>>>();
        let record = json["record"].as_str().map(str::to_owned);
        Some(Self { away: list("away")?, new: list("new")?, record })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_a_whole_one_counts() {
        let moved = |name: &str| Move {
            hash: digest(name.as_bytes()),
            from: format!(".hidden/{name}"),
            to: name.to_owned(),
        };
        let journal = Journal {
            away: vec![moved("old name.txt")],
            new: vec![moved("a/b\n\"c"), moved("d")],
            record: Some(".record".to_owned()),
        };
        let text = journal.text();
        assert_eq!(Journal::parse(text.as_bytes()), Some(journal));
        for end in 0..text.len() {
            assert_eq!(Journal::parse(&text.as_bytes()[..end]), None, "{end}");
        }
        for at in 0..text.len() {
            let mut bytes = text.clone().into_bytes();
            bytes[at] ^= 1;
            assert_eq!(Journal::parse(&bytes), None, "{at}");
        }
    }
}
