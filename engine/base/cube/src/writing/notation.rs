//! WCA notation in and out: face turns as in the WCA Regulations, article 12
//! (12a1: a face letter is a quarter turn clockwise, `'` anticlockwise, `2` a half turn).
//!
//! The rig turns faces only, so wide turns, slices and whole-cube rotations of
//! that article are refused by name.

use thiserror::Error;

use crate::{Amount, Face, Turn};

/// Longest sequence that is read.
pub const MAX_TURNS: usize = 1000;

/// What is wrong in a sequence of turns.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum NotationError {
    /// Not a turn.
    #[error(
        "turn {position} is '{token}': a turn is one of U R F D L B, alone or followed by ' or 2"
    )]
    NotATurn {
        /// Counted from 1.
        position: usize,
        /// What stands there, shortened to 20 characters.
        token: String,
    },
    /// A turn of WCA notation that no face shaft can make.
    #[error(
        "turn {position} is '{token}', a {what}: a six-shaft rig turns faces only, U R F D L B"
    )]
    NotAFaceTurn {
        /// Counted from 1.
        position: usize,
        /// What stands there.
        token: String,
        /// What it is.
        what: &'static str,
    },
    /// Too long.
    #[error("{count} turns: at most {MAX_TURNS} are read")]
    TooMany {
        /// How many there are.
        count: usize,
    },
}

/// Reads a sequence such as `R U2 F'`; turns are separated by white space. The
/// typographic apostrophe is taken for `'`. An empty text is an empty sequence.
///
/// # Errors
/// The first token that is no face turn, with its position.
pub fn parse(text: &str) -> Result<Vec<Turn>, NotationError> {
    let count = text.split_whitespace().count();
    if count > MAX_TURNS {
        return Err(NotationError::TooMany { count });
    }
    text.split_whitespace().enumerate().map(|(i, token)| parse_turn(i + 1, token)).collect()
}

fn parse_turn(position: usize, token: &str) -> Result<Turn, NotationError> {
    let shortened: String = token.chars().take(20).collect();
    let mut letters = token.chars();
    let face = letters.next().and_then(Face::from_letter);
    let amount = match letters.as_str() {
        "" => Some(Amount::Clockwise),
        "2" => Some(Amount::Half),
        "'" | "\u{2019}" => Some(Amount::Counter),
        _ => None,
    };
    if let (Some(face), Some(amount)) = (face, amount) {
        return Ok(Turn { face, amount });
    }
    let what = match token.chars().next() {
        Some('x' | 'y' | 'z') => Some("whole-cube rotation"),
        Some('M' | 'E' | 'S') => Some("slice turn"),
        Some('u' | 'r' | 'f' | 'd' | 'l' | 'b') => Some("wide turn"),
        _ if token.contains('w') => Some("wide turn"),
        _ => None,
    };
    Err(match what {
        Some(what) => NotationError::NotAFaceTurn { position, token: shortened, what },
        None => NotationError::NotATurn { position, token: shortened },
    })
}

/// Writes turns in WCA notation, separated by one space.
#[must_use]
pub fn format(turns: &[Turn]) -> String {
    turns.iter().map(Turn::to_string).collect::<Vec<_>>().join(" ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn errors_name_the_place_and_what_is_allowed() {
        assert_eq!(
            parse("R U3").unwrap_err().to_string(),
            "turn 2 is 'U3': a turn is one of U R F D L B, alone or followed by ' or 2"
        );
        assert!(parse("R x").unwrap_err().to_string().contains("whole-cube rotation"));
        assert!(parse("Rw").unwrap_err().to_string().contains("wide turn"));
        assert!(parse(&"U ".repeat(1001)).unwrap_err().to_string().starts_with("1001 turns"));
        assert_eq!(parse("  ").unwrap(), []);
    }
}
