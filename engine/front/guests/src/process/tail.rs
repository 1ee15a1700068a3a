//! The last lines of a guest's standard error.

use crate::visible::visible_bytes;

/// Most bytes, and most lines, that are kept and shown.
const MOST_BYTES: usize = 2000;
const MOST_LINES: usize = 10;

/// What came last.
#[derive(Debug, Default)]
pub(super) struct Tail(Vec<u8>);

impl Tail {
    pub(super) fn put(&mut self, bytes: &[u8]) {
        let bytes = &bytes[bytes.len().saturating_sub(MOST_BYTES)..];
        let over = (self.0.len() + bytes.len()).saturating_sub(MOST_BYTES);
        self.0.drain(..over.min(self.0.len()));
        self.0.extend_from_slice(bytes);
    }

    /// The lines, oldest first, without empty ones.
    pub(super) fn lines(&self) -> Vec<String> {
        let lines = self.0.split(|&byte| byte == b'\n').map(<[u8]>::trim_ascii_end);
        let mut lines: Vec<String> = lines
            .filter(|line| !line.is_empty())
            .map(|line| visible_bytes(line, MOST_BYTES))
            .collect();
        lines.drain(..lines.len().saturating_sub(MOST_LINES));
        // Escapes take more room than what they stand for.
        let mut room = MOST_BYTES;
        let mut fits = lines.len();
        for line in lines.iter().rev() {
            let Some(left) = room.checked_sub(line.len()) else { break };
            room = left;
            fits -= 1;
        }
        lines.split_off(fits)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_last_lines_are_kept_and_fit() {
        let mut tail = Tail::default();
        (0..100).for_each(|i| tail.put(format!("line {i}\r\n").as_bytes()));
        let lines = tail.lines();
        assert_eq!((lines.len(), &*lines[0], &*lines[9]), (10, "line 90", "line 99"));
        tail.put(&[b'x'; 100_000]);
        assert_eq!(tail.0.len(), MOST_BYTES);
        tail.put(b"\n\x1b[2Jlast");
        assert_eq!(tail.lines(), [r"\u{1b}[2Jlast"], "what does not fit whole is left out");
    }
}
