//! Bytes changed at random: what a stranger's file may be, from files that are in order.

use std::collections::BTreeSet;
use std::ops::Range;

use dryturn_units::noise::Noise;

use super::words::{NUMBER_TEXTS, OPENED, TOKENS};

/// Changes of one file: so many at the most, and each goes on to another so often.
const MOST_CHANGES: usize = 24;
const GOES_ON_SHARE: f64 = 0.6;
/// Longest word that is taken from a file, and most of them.
const LONGEST_WORD: usize = 40;
const MOST_WORDS: usize = 4000;

/// A whole number below another, 0 where there is none.
fn pick(noise: &mut Noise, below: usize) -> usize {
    ((noise.uniform() * below as f64) as usize).min(below.saturating_sub(1))
}

fn one<'a, T>(noise: &mut Noise, list: &'a [T]) -> &'a T {
    &list[pick(noise, list.len())]
}

/// Up to two to this power, small ones as often as large ones.
fn size(noise: &mut Noise, power: usize) -> usize {
    let most = 1 << pick(noise, power + 1);
    1 + pick(noise, most)
}

/// A piece of bytes: short ones as often as long ones.
fn piece(noise: &mut Noise, bytes: &[u8]) -> Range<usize> {
    let from = pick(noise, bytes.len());
    from..(from + size(noise, 13)).min(bytes.len())
}

fn in_word(byte: u8) -> bool {
    byte.is_ascii_alphanumeric() || byte == b'_'
}

/// The first word from a place on, or from the start.
fn word_at(bytes: &[u8], from: usize) -> Option<Range<usize>> {
    let starts = |&k: &usize| in_word(bytes[k]) && (k == 0 || !in_word(bytes[k - 1]));
    let start = (from..bytes.len()).chain(0..from).find(starts)?;
    let end = (start..bytes.len()).find(|&k| !in_word(bytes[k])).unwrap_or(bytes.len());
    Some(start..end)
}

/// The same of a number, with its sign.
fn number_at(bytes: &[u8], from: usize) -> Option<Range<usize>> {
    let own = |byte: u8| byte.is_ascii_digit() || b"+-.eE_".contains(&byte);
    let starts = |&k: &usize| {
        let apart = k == 0 || !(in_word(bytes[k - 1]) || bytes[k - 1] == b'.');
        bytes[k].is_ascii_digit() && apart
    };
    let start = (from..bytes.len()).chain(0..from).find(starts)?;
    let signed = start > 0 && b"+-".contains(&bytes[start - 1]);
    let end = (start..bytes.len()).find(|&k| !own(bytes[k])).unwrap_or(bytes.len());
    Some(start - usize::from(signed)..end)
}

/// The line at a place, with its end.
fn line_at(bytes: &[u8], at: usize) -> Range<usize> {
    let from = bytes[..at].iter().rposition(|byte| *byte == b'\n').map_or(0, |k| k + 1);
    let to = bytes[at..].iter().position(|byte| *byte == b'\n');
    from..to.map_or(bytes.len(), |k| at + k + 1)
}

/// Two lines, each in the place of the other.
fn swap_lines(bytes: &mut Vec<u8>, at: usize, other: usize) {
    let (first, second) = (line_at(bytes, at.min(other)), line_at(bytes, at.max(other)));
    if first.end > second.start {
        return;
    }
    let parts = [&bytes[second.clone()], &bytes[first.end..second.start], &bytes[first.clone()]];
    let swapped = parts.concat();
    drop(bytes.splice(first.start..second.end, swapped));
}

fn number(noise: &mut Noise) -> Vec<u8> {
    let text = match pick(noise, 6) {
        0 => (noise.bits() as i64).to_string(),
        1 => format!("{:e}", f64::from_bits(noise.bits())),
        2 => "7".repeat(1 + pick(noise, 400)),
        3 => format!("{:.3}", noise.between(-200.0, 200.0)),
        _ => (*one(noise, &NUMBER_TEXTS)).to_owned(),
    };
    text.into_bytes()
}

/// Brackets inside one another, closed or not.
fn nested(noise: &mut Noise) -> Vec<u8> {
    let (open, close) = one(noise, OPENED);
    let depth = size(noise, 14);
    let closed = if noise.uniform() < 0.5 { depth } else { 0 };
    (open.repeat(depth) + close.repeat(closed).as_str()).into_bytes()
}

/// A number of one, two, four or eight bytes that is near an end of its range, or small.
fn binary(noise: &mut Noise) -> Vec<u8> {
    let count = 1 << pick(noise, 4);
    let value: u64 = match pick(noise, 5) {
        0 => 0,
        1 => u64::MAX,
        2 => u64::MAX >> 1,
        3 => pick(noise, 70_000) as u64,
        _ => 1 << pick(noise, 64),
    };
    let mut bytes = value.to_le_bytes()[..count].to_vec();
    if noise.uniform() < 0.5 {
        bytes.reverse();
    }
    bytes
}

/// Changes files of one kind.
pub(super) struct Mutator {
    seeds: Vec<Vec<u8>>,
    /// Names of fields, choices and the like, as the files have them.
    words: Vec<Vec<u8>>,
    most_bytes: usize,
}

impl Mutator {
    /// From these files; what comes of them has at most so many bytes.
    pub(super) fn of(seeds: Vec<Vec<u8>>, most_bytes: usize) -> Self {
        assert!(!seeds.is_empty());
        let words = seeds.iter().flat_map(|seed| seed.split(|byte| !in_word(*byte)));
        let words = words.filter(|word| (2..=LONGEST_WORD).contains(&word.len()));
        let words: BTreeSet<Vec<u8>> = words.map(<[u8]>::to_vec).collect();
        Self { seeds, words: words.into_iter().take(MOST_WORDS).collect(), most_bytes }
    }

    pub(super) fn seeds(&self) -> &[Vec<u8>] {
        &self.seeds
    }

    /// A file with some changes.
    pub(super) fn mutant(&self, noise: &mut Noise) -> Vec<u8> {
        let mut bytes = one(noise, &self.seeds).clone();
        bytes.truncate(self.most_bytes);
        for _ in 0..MOST_CHANGES {
            self.change(&mut bytes, noise);
            bytes.truncate(self.most_bytes);
            if noise.uniform() > GOES_ON_SHARE {
                break;
            }
        }
        bytes
    }

    fn token(&self, noise: &mut Noise) -> Vec<u8> {
        match pick(noise, 6) {
            0 => number(noise),
            1 | 2 if !self.words.is_empty() => one(noise, &self.words).clone(),
            _ => one(noise, &TOKENS).to_vec(),
        }
    }

    fn change(&self, bytes: &mut Vec<u8>, noise: &mut Noise) {
        let at = pick(noise, bytes.len() + 1);
        let kind = pick(noise, 18);
        let (from, to, with) = match kind {
            0 | 1 => {
                let bits = if kind == 0 { 1 << pick(noise, 8) } else { noise.bits() as u8 };
                bytes.iter_mut().skip(at).take(1).for_each(|byte| *byte ^= bits);
                return;
            }
            2 => {
                let Range { start, end } = piece(noise, bytes);
                (start, end, Vec::new())
            }
            3 => (at, bytes.len(), Vec::new()),
            4 => (at, at, bytes[piece(noise, bytes)].to_vec()),
            5 => {
                let copied = &bytes[piece(noise, bytes)];
                let most = self.most_bytes / copied.len().max(1) + 1;
                (at, at, copied.repeat(size(noise, 14).min(most)))
            }
            6 => {
                let other = one(noise, &self.seeds);
                (at, bytes.len(), other[pick(noise, other.len())..].to_vec())
            }
            7 => {
                let other = one(noise, &self.seeds);
                (at, at, other[piece(noise, other)].to_vec())
            }
            8 | 9 => (at, at, self.token(noise)),
            10 | 11 => {
                let Some(Range { start, end }) = word_at(bytes, at) else { return };
                (start, end, self.token(noise))
            }
            12 | 13 => {
                let Some(Range { start, end }) = number_at(bytes, at) else { return };
                (start, end, number(noise))
            }
            14 => {
                let other = pick(noise, bytes.len() + 1);
                return swap_lines(bytes, at, other);
            }
            15 => {
                let line = line_at(bytes, at);
                let times = if noise.uniform() < 0.5 { 0 } else { 2 };
                (line.start, line.end, bytes[line].repeat(times))
            }
            16 => (at, at, nested(noise)),
            _ => {
                let value = binary(noise);
                (at, (at + value.len()).min(bytes.len()), value)
            }
        };
        drop(bytes.splice(from..to, with));
    }
}

#[test]
fn words_numbers_and_lines_are_found() {
    let text = b"(flux_lm: -4.5e3, a: 7)\nsecond\n";
    assert_eq!(&text[word_at(text, 16).unwrap()], b"a");
    assert_eq!(&text[word_at(text, text.len()).unwrap()], b"flux_lm");
    assert_eq!(&text[number_at(text, 0).unwrap()], b"-4.5e3");
    assert_eq!(&text[number_at(text, 12).unwrap()], b"7");
    assert_eq!(&text[line_at(text, 25)], b"second\n");
    assert_eq!((word_at(b"", 0), number_at(b"a b", 1), line_at(b"", 0)), (None, None, 0..0));
    let mut lines = b"a\nb\nc\n".to_vec();
    swap_lines(&mut lines, 0, 4);
    assert_eq!(lines, b"c\nb\na\n");
}

/// The same name gives the same bytes, and none has too many.
#[test]
fn mutants_are_drawn_by_their_names() {
    use dryturn_units::noise::Seed;

    let seeds = vec![b"(a: 1, b: [2, 3])\n".to_vec(), b"x,y\n1,2\n3,4\n".to_vec()];
    let mutator = Mutator::of(seeds, 500);
    let of = |number| mutator.mutant(&mut Seed::new(1).stream("mutants", number, 0));
    let all: Vec<Vec<u8>> = (0..1000).map(of).collect();
    assert!(all.iter().collect::<BTreeSet<_>>().len() > 500);
    assert!(all.iter().all(|bytes| bytes.len() <= 500));
    assert_eq!((0..1000).map(of).collect::<Vec<_>>(), all);
}
