//! Reading files from disk, within bounds.

use std::fs::File;
use std::io::{self, BufReader, Read as _};
use std::path::Path;

/// Largest scene, script, state or calibration.
const MAX_TEXT_BYTES: u64 = 1 << 20;

/// A file of at most `limit` bytes.
///
/// # Errors
/// One line that names the file: it is missing, no file, or too large.
pub fn bytes(path: &Path, limit: u64) -> Result<Vec<u8>, String> {
    let shown = path.display();
    let fault = |error: io::Error| format!("{shown}: {error}");
    // Before opening: a pipe would wait for a writer for ever.
    let found = std::fs::metadata(path).map_err(fault)?;
    if !found.is_file() {
        let what = if found.is_dir() { "a folder" } else { "a device or pipe" };
        return Err(format!("{shown}: is {what}, not a file"));
    }
    let mut bytes = Vec::new();
    let file = File::open(path).map_err(fault)?;
    BufReader::new(file).take(limit + 1).read_to_end(&mut bytes).map_err(fault)?;
    if bytes.len() as u64 > limit {
        return Err(format!("{shown}: larger than {limit} bytes, the most allowed"));
    }
    Ok(bytes)
}

/// A text file, UTF-8 with or without byte order mark, at most 1 MiB.
///
/// # Errors
/// One line that names the file and what is wrong.
pub fn text(path: &Path) -> Result<String, String> {
    let text = String::from_utf8(bytes(path, MAX_TEXT_BYTES)?).map_err(|error| {
        let at = error.utf8_error().valid_up_to();
        format!("{}: not UTF-8 text (byte {at})", path.display())
    })?;
    Ok(text.strip_prefix('\u{feff}').map_or(text.clone(), str::to_owned))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_byte_order_mark_is_no_text() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.ron");
        std::fs::write(&path, "\u{feff}(version: 1)").unwrap();
        assert_eq!(text(&path).unwrap(), "(version: 1)");
    }

    #[test]
    fn what_is_no_text_is_said_in_one_line() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("a.ron");
        for (content, said) in
            [(vec![b'a', 0xff], "byte 1"), (vec![b' '; (1 << 20) + 1], "larger than 1048576")]
        {
            std::fs::write(&path, content).unwrap();
            let error = text(&path).unwrap_err();
            assert!(error.contains(said) && error.contains("a.ron"), "{error}");
        }
        assert!(text(folder.path()).unwrap_err().contains("is a folder"));
        assert!(text(&folder.path().join("none")).unwrap_err().contains("none"));
    }
}
