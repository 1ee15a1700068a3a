//! What a guest wrote, fit to be shown: short, and nothing in it that a terminal would obey.

/// A text of at most `most` characters; control characters and what cannot be seen are written
/// as escapes.
pub(crate) fn visible(text: &str, most: usize) -> String {
    let mut out = String::new();
    for (count, character) in text.chars().enumerate() {
        if count == most {
            out.push('…');
            break;
        }
        match character {
            '"' | '\'' | '\\' => out.push(character),
            _ => out.extend(character.escape_debug()),
        }
    }
    out
}

/// The same of bytes that should be UTF-8.
pub(crate) fn visible_bytes(bytes: &[u8], most: usize) -> String {
    // A character takes at most four bytes.
    visible(&String::from_utf8_lossy(&bytes[..bytes.len().min(4 * most + 4)]), most)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_terminal_would_obey_is_escaped() {
        assert_eq!(visible("\u{1b}[31mred\r\n", 40), r"\u{1b}[31mred\r\n");
        assert_eq!(visible("it's “fine” \\ é", 40), "it's “fine” \\ é");
        assert_eq!(visible("\u{202e}abc", 3), r"\u{202e}ab…");
        assert_eq!(visible_bytes(b"\xff\xfeab", 40), "\u{fffd}\u{fffd}ab");
    }
}
