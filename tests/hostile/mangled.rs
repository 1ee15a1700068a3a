//! Shipped scripts with bytes and words changed at random.

use dryturn_units::noise::{Noise, Seed};

use crate::help;

/// What words are replaced with.
const WORDS: [&str; 24] = [
    "0",
    "-1",
    "1e308",
    "9223372036854775807",
    "()",
    "[]",
    "#{}",
    "\"\"",
    "loop",
    "|x| x",
    "+",
    "(",
    ")",
    "{",
    "}",
    ";",
    "*",
    "scan",
    "plan",
    "drill_rehearsals",
    "survey",
    "tune",
    "NaN",
    "..",
];

fn pick(noise: &mut Noise, below: usize) -> usize {
    ((noise.uniform() * below as f64) as usize).min(below.saturating_sub(1))
}

/// Script number `number` of a seed, with what it is called.
pub(super) fn script(seed: u64, number: u64) -> (String, Vec<u8>) {
    let mut noise = Seed::new(seed).stream("mangled", number, 0);
    let files = help::files("scripts", "rhai");
    let file = &files[pick(&mut noise, files.len())];
    let mut bytes = std::fs::read(file).unwrap();
    let words = number.is_multiple_of(2);
    for _ in 0..=pick(&mut noise, 4) {
        if words {
            one_word(&mut bytes, &mut noise);
        } else {
            let at = pick(&mut noise, bytes.len());
            match pick(&mut noise, 3) {
                0 => bytes[at] = (noise.uniform() * 256.0) as u8,
                1 => drop(bytes.remove(at)),
                _ => bytes.insert(at, b"(){}[];,.|\"#*/0-9"[pick(&mut noise, 17)]),
            }
        }
    }
    let name = file.file_stem().unwrap().to_string_lossy();
    (format!("{name}, seed {seed}, number {number}"), bytes)
}

/// Replaces, doubles or leaves out a word.
fn one_word(bytes: &mut Vec<u8>, noise: &mut Noise) {
    let word = |b: u8| b.is_ascii_alphanumeric() || b == b'_';
    let starts: Vec<usize> =
        (1..bytes.len()).filter(|&i| word(bytes[i]) && !word(bytes[i - 1])).collect();
    if starts.is_empty() {
        return;
    }
    let from = starts[pick(noise, starts.len())];
    let to = (from..bytes.len()).find(|&i| !word(bytes[i])).unwrap_or(bytes.len());
    let own = bytes[from..to].to_vec();
    let with = match pick(noise, 4) {
        0 => Vec::new(),
        1 => [&own[..], b" ", &own[..]].concat(),
        _ => WORDS[pick(noise, WORDS.len())].as_bytes().to_vec(),
    };
    bytes.splice(from..to, with);
}
