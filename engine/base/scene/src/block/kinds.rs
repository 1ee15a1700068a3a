//! The kinds of values that fields hold: numbers, text, lists.

use core::ops::RangeInclusive;

use super::Value;
use crate::fault::FieldError;
use crate::text::Shape;

/// Whether a text can be read as a value of a type.
pub(crate) fn fits<T: serde::de::DeserializeOwned>(text: &str) -> bool {
    ron::from_str::<T>(text).is_ok()
}

fn span<T: PartialEq + core::fmt::Debug>(range: &RangeInclusive<T>) -> String {
    if range.start() == range.end() {
        format!("{:?}", range.start())
    } else {
        format!("{:?} to {:?}", range.start(), range.end())
    }
}

macro_rules! number {
    ($kind:ty) => {
        impl Value for $kind {
            type Range = RangeInclusive<$kind>;
            fn check(&self, path: &str, range: &Self::Range, found: &mut Vec<FieldError>) {
                // NaN is in no range.
                if !range.contains(self) {
                    found.push(FieldError::new(path, self, Self::allowed(range)));
                }
            }
            fn shape() -> Shape {
                Shape::Leaf { fits: fits::<$kind>, stand_in: "0" }
            }
            fn allowed(range: &Self::Range) -> String {
                span(range)
            }
            fn limits(range: &Self::Range) -> Option<(f64, f64)> {
                Some((f64::from(*range.start()), f64::from(*range.end())))
            }
        }
    };
}

number!(f64);
number!(u32);

impl Value for bool {
    type Range = ();
    fn check(&self, _: &str, (): &(), _: &mut Vec<FieldError>) {}
    fn allowed((): &()) -> String {
        "true or false".to_owned()
    }
    fn shape() -> Shape {
        Shape::Leaf { fits: fits::<Self>, stand_in: "false" }
    }
}

macro_rules! numbers {
    ($count:literal, $each:literal, $stand_in:literal) => {
        impl Value for [f64; $count] {
            type Range = RangeInclusive<f64>;
            fn check(&self, path: &str, range: &Self::Range, found: &mut Vec<FieldError>) {
                (0..$count).for_each(|k| self[k].check(&format!("{path}[{k}]"), range, found));
            }
            fn shape() -> Shape {
                Shape::Leaf { fits: fits::<Self>, stand_in: $stand_in }
            }
            fn allowed(range: &Self::Range) -> String {
                format!("{}, each {}", $each, span(range))
            }
            fn limits(range: &Self::Range) -> Option<(f64, f64)> {
                f64::limits(range)
            }
        }
    };
}

numbers!(2, "two numbers (right, down)", "(0, 0)");
numbers!(3, "three numbers (x, y, z)", "(0, 0, 0)");

/// Text: the range is on its length in characters; control characters are not
/// allowed.
impl Value for String {
    type Range = RangeInclusive<usize>;
    fn check(&self, path: &str, range: &Self::Range, found: &mut Vec<FieldError>) {
        if !range.contains(&self.chars().count()) || self.chars().any(char::is_control) {
            let shown: String = self.chars().take(40).collect();
            found.push(FieldError::new(path, format!("{shown:?}"), Self::allowed(range)));
        }
    }
    fn shape() -> Shape {
        Shape::Leaf { fits: fits::<Self>, stand_in: "\"\"" }
    }
    fn allowed(range: &Self::Range) -> String {
        format!("text of {} characters without control characters", span(range))
    }
}

/// A list of blocks: the range is on its length.
impl<T: Value<Range = ()>> Value for Vec<T> {
    type Range = RangeInclusive<usize>;
    fn check(&self, path: &str, range: &Self::Range, found: &mut Vec<FieldError>) {
        if !range.contains(&self.len()) {
            let allowed = Self::allowed(range);
            found.push(FieldError::new(path, format!("a list of {}", self.len()), allowed));
        }
        for (i, item) in self.iter().enumerate() {
            item.check(&format!("{path}[{i}]"), &(), found);
        }
    }
    fn shape() -> Shape {
        Shape::List(Box::new(T::shape()))
    }
    fn allowed(range: &Self::Range) -> String {
        format!("a list of {} blocks", span(range))
    }
}
