//! Figures that a person may give, and that follow from others where they are left out.

use core::fmt;
use core::ops::RangeInclusive;

use serde::de::{Error, Visitor};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

use super::{Value, fits};
use crate::fault::FieldError;
use crate::text::Shape;

/// A figure as given; `None` where it follows from other fields. In a scene file it reads
/// as a plain number, or `None`. What is left out stays left out when the scene is written,
/// so that it goes on following when those others are changed.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Given(pub Option<f64>);

impl Given {
    /// Left out.
    pub const LEFT_OUT: Self = Self(None);

    /// The figure, or what it follows to be.
    #[must_use]
    pub fn or_else(self, derived: impl FnOnce() -> f64) -> f64 {
        self.0.unwrap_or_else(derived)
    }
}

impl From<f64> for Given {
    fn from(value: f64) -> Self {
        Self(Some(value))
    }
}

impl Value for Given {
    type Range = RangeInclusive<f64>;
    fn check(&self, path: &str, range: &Self::Range, found: &mut Vec<FieldError>) {
        // NaN is in no range.
        if let Some(value) = self.0.filter(|value| !range.contains(value)) {
            found.push(FieldError::new(path, value, Self::allowed(range)));
        }
    }
    fn shape() -> Shape {
        Shape::Leaf { fits: fits::<Self>, stand_in: "None" }
    }
    fn allowed(range: &Self::Range) -> String {
        format!("{}, or None", f64::allowed(range))
    }
    fn limits(range: &Self::Range) -> Option<(f64, f64)> {
        f64::limits(range)
    }
}

impl Serialize for Given {
    fn serialize<S: Serializer>(&self, to: S) -> Result<S::Ok, S::Error> {
        match self.0 {
            Some(value) => to.serialize_f64(value),
            None => to.serialize_none(),
        }
    }
}

impl<'de> Deserialize<'de> for Given {
    fn deserialize<D: Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
        struct Figure;
        impl<'de> Visitor<'de> for Figure {
            type Value = Given;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a number, or None")
            }
            fn visit_f64<E: Error>(self, value: f64) -> Result<Given, E> {
                Ok(Given(Some(value)))
            }
            fn visit_i64<E: Error>(self, value: i64) -> Result<Given, E> {
                Ok(Given(Some(value as f64)))
            }
            fn visit_u64<E: Error>(self, value: u64) -> Result<Given, E> {
                Ok(Given(Some(value as f64)))
            }
            fn visit_none<E: Error>(self) -> Result<Given, E> {
                Ok(Given::LEFT_OUT)
            }
            /// JSON's null.
            fn visit_unit<E: Error>(self) -> Result<Given, E> {
                Ok(Given::LEFT_OUT)
            }
            fn visit_some<D: Deserializer<'de>>(self, from: D) -> Result<Given, D::Error> {
                from.deserialize_any(self)
            }
            /// As a person writes it on the command line.
            fn visit_str<E: Error>(self, text: &str) -> Result<Given, E> {
                if text == "None" { Ok(Given::LEFT_OUT) } else { Err(E::custom(Wrong(text))) }
            }
        }
        from.deserialize_any(Figure)
    }
}

struct Wrong<'a>(&'a str);

impl fmt::Display for Wrong<'_> {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{:?} is neither a number nor None", self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_stay_as_they_are_and_none_stays_none() {
        for (text, value) in [
            ("0.156", Some(0.156)),
            ("1", Some(1.0)),
            ("-2", Some(-2.0)),
            ("1.4e-5", Some(1.4e-5)),
            ("Some(0.3)", Some(0.3)),
            ("None", None),
        ] {
            let read: Given = ron::from_str(text).unwrap_or_else(|e| panic!("{text}: {e}"));
            assert_eq!(read, Given(value), "{text}");
            assert_eq!(ron::from_str::<Given>(&ron::to_string(&read).unwrap()).unwrap(), read);
            let json = serde_json::to_value(read).unwrap();
            assert_eq!(serde_json::from_value::<Given>(json).unwrap(), read);
        }
        assert_eq!(serde_json::from_str::<Given>("\"None\"").unwrap(), Given::LEFT_OUT);
        for wrong in ["\"much\"", "true", "[1]"] {
            assert!(serde_json::from_str::<Given>(wrong).is_err(), "{wrong}");
        }
    }
}
