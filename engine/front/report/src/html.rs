//! Text into HTML.

use core::fmt;

/// Shows a value with the characters that HTML gives a meaning replaced.
pub(crate) struct Escaped<T>(pub(crate) T);

impl<T: fmt::Display> fmt::Display for Escaped<T> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for c in self.0.to_string().chars() {
            match c {
                '&' => f.write_str("&amp;")?,
                '<' => f.write_str("&lt;")?,
                '>' => f.write_str("&gt;")?,
                '"' => f.write_str("&quot;")?,
                '\'' => f.write_str("&#39;")?,
                other => write!(f, "{other}")?,
            }
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn markup_becomes_text() {
        let shown = Escaped("<img src=x onerror='a(\"b\")'>&").to_string();
        assert_eq!(shown, "&lt;img src=x onerror=&#39;a(&quot;b&quot;)&#39;&gt;&amp;");
    }
}
