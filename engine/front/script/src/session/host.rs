//! The program around a script, as the script's run sees it.

use dryturn_guests::Invited;

use super::limits::Limits;

/// What a script run asks of the program around it.
pub trait Host: Send + Sync {
    /// Reads a text file; the path is as the script gives it.
    ///
    /// # Errors
    /// One line that names the file and what is wrong.
    fn read_text(&self, path: &str) -> Result<String, String>;

    /// Told how much of a long work is done: its name, done and all.
    fn progress(&self, what: &str, done: usize, all: usize);

    /// Whether the person who started the script wants it to stop. Asked at every operation
    /// of the language, and by stages every few milliseconds, from any thread.
    fn stopped(&self) -> bool {
        false
    }

    /// What the script may use up.
    fn limits(&self) -> Limits {
        Limits::default()
    }

    /// Bytes that the program has allocated and not given back; `None` where nobody counts
    /// them, and memory has no limit then. Asked as often as [`Host::stopped`].
    fn bytes_in_use(&self) -> Option<usize> {
        None
    }

    /// Who may play besides Dryturn. Guests are programs that run outside every limit of scripts.
    fn invited(&self) -> Invited {
        Invited::default()
    }

    /// Where a panic came from that has just been caught, `FILE:LINE`, if that is known.
    fn panicked_at(&self) -> Option<String> {
        None
    }
}
