//! What starts a guest, and how long it may take.

use std::time::Duration;

use dryturn_scene::file::Guest;
use thiserror::Error;

/// A command in words.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct GuestCommand {
    words: Vec<String>,
}

/// Why a text is no command.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum CommandError {
    /// There is no word in it.
    #[error("a guest's command must be at least one word, as in python3 my_reader.py")]
    Empty,
    /// A quotation mark without its other one.
    #[error("{text:?}: a quotation mark or backslash has nothing that ends it")]
    Quotes {
        /// The text.
        text: String,
    },
}

impl GuestCommand {
    /// A program with its arguments; no shell reads them.
    ///
    /// # Errors
    /// There is no program.
    pub fn of_words(words: Vec<String>) -> Result<Self, CommandError> {
        match words.first() {
            Some(program) if !program.is_empty() => Ok(Self { words }),
            _ => Err(CommandError::Empty),
        }
    }

    /// A line, split into words at white space as a POSIX shell splits it, quotation marks and
    /// backslashes included; nothing else of a shell is done.
    ///
    /// # Errors
    /// Quotation marks that do not match, or no word.
    pub fn parse(text: &str) -> Result<Self, CommandError> {
        let quotes = || CommandError::Quotes { text: text.to_owned() };
        Self::of_words(shlex::split(text).ok_or_else(quotes)?)
    }

    /// The guest of a scene; `None` where the part is Dryturn's own.
    #[must_use]
    pub fn of_scene(guest: &Guest) -> Option<Self> {
        Self::of_words(guest.command.0.clone()).ok()
    }

    /// The program, then its arguments.
    #[must_use]
    pub fn words(&self) -> &[String] {
        &self.words
    }

    /// The program.
    #[must_use]
    pub fn program(&self) -> &str {
        // There is at least one word.
        self.words.first().map_or("", String::as_str)
    }
}

/// How long a guest may take, in real time.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Limits {
    /// To start and to answer `hello`.
    pub start: Duration,
    /// To answer a question, and to end after `goodbye`.
    pub answer: Duration,
}

impl Limits {
    /// Those of a scene.
    #[must_use]
    pub fn of_scene(guest: &Guest) -> Self {
        let of = |ms: u32| Duration::from_millis(u64::from(ms));
        Self { start: of(guest.start_limit_ms), answer: of(guest.limit_ms) }
    }
}

/// A scene's, where it says nothing.
impl Default for Limits {
    fn default() -> Self {
        Self::of_scene(&Guest::default())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_split_into_words_and_no_shell_reads_them() {
        let words = |text| GuestCommand::parse(text).map(|command| command.words);
        assert_eq!(words("python3 'my reader.py' -v").unwrap(), ["python3", "my reader.py", "-v"]);
        assert_eq!(words("echo $HOME; a|b").unwrap(), ["echo", "$HOME;", "a|b"]);
        assert_eq!(words("  "), Err(CommandError::Empty));
        assert_eq!(words("''"), Err(CommandError::Empty));
        assert!(words("a 'b").unwrap_err().to_string().contains("quotation mark"));
    }
}
