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

/// A number with so many decimals; a dash where it is none. No minus before nothing.
pub(crate) fn figure(value: f64, decimals: usize) -> String {
    if !value.is_finite() {
        return "–".to_owned();
    }
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.bytes().all(|b| matches!(b, b'0' | b'.')) => rest.to_owned(),
        Some(rest) => format!("−{rest}"),
        None => text,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_are_numbers_or_a_dash() {
        assert_eq!(figure(1.005, 1), "1.0");
        assert_eq!(figure(-2.25, 2), "−2.25");
        assert_eq!(figure(-0.001, 2), "0.00");
        assert_eq!(figure(f64::NAN, 2), "–");
        assert_eq!(figure(f64::NEG_INFINITY, 2), "–");
    }

    #[test]
    fn markup_becomes_text() {
        let shown = Escaped("<img src=x onerror='a(\"b\")'>&").to_string();
        assert_eq!(shown, "&lt;img src=x onerror=&#39;a(&quot;b&quot;)&#39;&gt;&amp;");
    }
}
