//! What fields may be, as a person writes it after their path: one value, a list of values,
//! or a range of numbers.
//!
//! A value is a number, `true`, `false`, a list in square brackets, the name of a choice, or
//! `x` and a number: so many times what stands there.

use std::collections::BTreeSet;

use serde_json::Value as Json;

/// A value as a person writes it.
pub(crate) fn value(text: &str) -> Json {
    let text = text.trim();
    if let Ok(value) = serde_json::from_str(text) {
        return value;
    }
    let number = text.parse::<f64>().ok().filter(|number| number.is_finite());
    number.map_or_else(|| Json::from(text), Json::from)
}

/// What a value makes of the one that stands there.
pub(crate) fn put(old: &Json, new: &Json) -> Json {
    let Json::Number(number) = old else { return new.clone() };
    let times = new.as_str().and_then(factor).zip(old.as_f64());
    let wanted = times.map(|(factor, old)| factor * old).or_else(|| new.as_f64());
    match wanted {
        // A factor too many: the field says what it may be.
        Some(wanted) if !wanted.is_finite() => new.clone(),
        // Whole numbers are fine where the field holds a fraction, and the other way round.
        Some(wanted) if number.is_f64() => Json::from(wanted),
        Some(wanted) if wanted == wanted.trunc() && wanted.abs() < 9e15 => {
            Json::from(wanted as i64)
        }
        Some(wanted) if times.is_some() => Json::from(wanted),
        _ => new.clone(),
    }
}

/// `x1.5` is 1.5 times what stands there.
fn factor(text: &str) -> Option<f64> {
    text.strip_prefix('x')?.parse().ok().filter(|factor: &f64| factor.is_finite())
}

/// The values that a field may take.
#[derive(Clone, Debug, PartialEq)]
pub enum Values {
    /// One of these.
    Listed(Vec<Json>),
    /// A number between two, both included.
    Between {
        /// The least.
        low: f64,
        /// The greatest.
        high: f64,
        /// Whether both are factors on what stands there.
        times: bool,
    },
}

impl Values {
    /// Reads `A,B,…` or `LOW..HIGH`; `None` of neither, and of a value twice.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        if let Some((low, high)) = text.split_once("..") {
            let times = low.trim().starts_with('x');
            let number = |text: &str| {
                let text = text.trim();
                let text = if times { text.strip_prefix('x')? } else { text };
                text.parse::<f64>().ok()
            };
            match (number(low), number(high)) {
                (Some(low), Some(high)) => {
                    let range = low.is_finite() && high.is_finite() && low <= high;
                    return range.then_some(Self::Between { low, high, times });
                }
                // Text with dots in it, as in the path of a file.
                (None, None) if !times => {}
                _ => return None,
            }
        }
        let values: Vec<Json> = split(text).into_iter().map(value).collect();
        let mut seen = BTreeSet::new();
        let twice = !values.iter().all(|value| seen.insert(value.to_string()));
        let empty = values.iter().any(|value| value.as_str().is_some_and(str::is_empty));
        (!twice && !empty).then_some(Self::Listed(values))
    }

    /// The value at a place from 0 to below 1: evenly between the ends, or each of a list
    /// with the same chance.
    #[must_use]
    pub fn at(&self, place: f64) -> Json {
        match self {
            Self::Listed(values) => {
                let index = (place * values.len() as f64) as usize;
                values.get(index.min(values.len() - 1)).cloned().unwrap_or_default()
            }
            Self::Between { low, high, times } => {
                // Never beyond the end, and no overflow on the way.
                let width = high - low;
                let number = if width.is_finite() {
                    (low + width * place).min(*high)
                } else {
                    low * (1.0 - place) + high * place
                };
                if *times { Json::from(format!("x{number}")) } else { Json::from(number) }
            }
        }
    }

    /// What must be allowed for all of them to be: the ends of a range, or the whole list.
    #[must_use]
    pub fn ends(&self) -> Vec<Json> {
        match self {
            Self::Listed(values) => values.clone(),
            Self::Between { .. } => vec![self.at(0.0), self.at(1.0)],
        }
    }
}

/// At the commas that are not inside brackets.
fn split(text: &str) -> Vec<&str> {
    let (mut parts, mut from, mut depth) = (Vec::new(), 0, 0_i32);
    for (at, character) in text.char_indices() {
        match character {
            '[' => depth += 1,
            ']' => depth -= 1,
            ',' if depth <= 0 => {
                parts.push(&text[from..at]);
                from = at + 1;
            }
            _ => {}
        }
    }
    parts.push(&text[from..]);
    parts
}

/// Fields that take one value together, and what they may be: `PATH=LOW..HIGH` or
/// `PATH=A,B,…`, the path as with [`crate::Scene::with`].
#[derive(Clone, Debug, PartialEq)]
pub struct Variation {
    /// The path.
    pub path: String,
    /// The values.
    pub values: Values,
}

impl Variation {
    /// How one is written.
    pub const FORM: &'static str = "FIELD=LOW..HIGH or FIELD=A,B,…";

    /// Reads one; `None` of text of another form, of a single value and of a value twice.
    #[must_use]
    pub fn parse(text: &str) -> Option<Self> {
        let (path, values) = text.split_once('=')?;
        let (path, values) = (path.trim().to_owned(), Values::parse(values)?);
        let single = matches!(&values, Values::Listed(list) if list.len() < 2);
        (!path.is_empty() && !single).then_some(Self { path, values })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_number_overflows_and_no_range_goes_beyond_its_end() {
        // The field says what it may be.
        assert_eq!(put(&Json::from(1e300), &Json::from("x1e308")), Json::from("x1e308"));
        let wide = Values::parse("-1e308..1e308").unwrap();
        assert_eq!([0.0, 0.5, 1.0].map(|at| wide.at(at)), [-1e308, 0.0, 1e308].map(Json::from));
        for (low, high) in [(0.1, 0.7), (0.3, 1.1), (5.3, 9.7)] {
            let range = Values::Between { low, high, times: false };
            assert!(range.at(1.0).as_f64().unwrap() <= high);
        }
    }
    use serde_json::json;

    #[test]
    fn ranges_and_lists_are_read() {
        let between = |low, high, times| Some(Values::Between { low, high, times });
        assert_eq!(Values::parse("100..400"), between(100.0, 400.0, false));
        assert_eq!(Values::parse(" -3 .. 1 "), between(-3.0, 1.0, false));
        assert_eq!(Values::parse("x0.5..x1.5"), between(0.5, 1.5, true));
        let listed = |values: Vec<Json>| Some(Values::Listed(values));
        assert_eq!(Values::parse("LedB1, LedB3"), listed(vec![json!("LedB1"), json!("LedB3")]));
        assert_eq!(Values::parse("1,2.5,true"), listed(vec![json!(1), json!(2.5), json!(true)]));
        let points = vec![json!([1, 2, 3]), json!([4, 5, 6])];
        assert_eq!(Values::parse("[1,2,3],[4,5,6]"), listed(points));
        assert_eq!(Values::parse("../a.csv,../b.csv").map(|v| v.ends().len()), Some(2));
        for wrong in ["4..1", "1..", "..1", "NaN..1", "0..inf", "x1..2", "1..x2", "a,a", "a,", ""] {
            assert_eq!(Values::parse(wrong), None, "{wrong}");
        }
    }

    #[test]
    fn variations_need_a_path_and_more_than_one_value() {
        for right in ["a.b=1..2", "a.*.b=1,2", "a.b+a.c=x1..x2"] {
            assert!(Variation::parse(right).is_some(), "{right}");
        }
        for wrong in ["a.b", "a.b=1", "=1..2", "a.b=", "a.b=1,1", "1..2"] {
            assert_eq!(Variation::parse(wrong), None, "{wrong}");
        }
    }

    /// Even parts of a list, even steps of a range.
    #[test]
    fn places_become_values() {
        let values = Values::parse("a,b,c").unwrap();
        let drawn: Vec<Json> =
            [0.0, 0.33, 0.34, 0.66, 0.67, 0.999_999].map(|p| values.at(p)).into();
        assert_eq!(json!(drawn), json!(["a", "a", "b", "b", "c", "c"]));
        assert_eq!(Values::parse("10..20").unwrap().at(0.25), json!(12.5));
        assert_eq!(Values::parse("x1..x2").unwrap().at(0.25), json!("x1.25"));
    }
}
