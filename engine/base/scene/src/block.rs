//! One macro declares a block of the scene file: its fields with type, default,
//! range and reason. From that come the struct, its strict reader, the range
//! checks and the field reference, so that they cannot disagree.

use core::ops::RangeInclusive;

use crate::error::FieldError;
use crate::shape::Shape;

/// One line of the field reference.
#[derive(Clone, Debug, PartialEq)]
pub struct FieldDoc {
    /// The field's name; its last part is the unit.
    pub name: &'static str,
    /// The default as RON, or "required".
    pub default: String,
    /// What may stand there.
    pub allowed: String,
    /// Least and greatest number, where it is one, two or three.
    pub limits: Option<(f64, f64)>,
    /// What it means and why the default is what it is.
    pub meaning: &'static str,
}

/// A value that a field can hold, with the ranges that can be put on it.
pub(crate) trait Value {
    type Range;
    /// Adds every fault to those found before.
    fn check(&self, path: &str, range: &Self::Range, found: &mut Vec<FieldError>);
    fn allowed(range: &Self::Range) -> String;
    /// What its text must look like.
    fn shape() -> Shape;
    fn limits(_: &Self::Range) -> Option<(f64, f64)> {
        None
    }
}

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

/// `parent.field`, or `field` at the top.
pub(crate) fn join(parent: &str, field: &str) -> String {
    if parent.is_empty() { field.to_owned() } else { format!("{parent}.{field}") }
}

/// Declares a block of the scene file. Each field reads
/// `name: Type = default or required, range, "meaning";`. A default may be made from
/// fields before it: `(preset.figures().resistance_ohm)`.
macro_rules! block {
    (
        $(#[doc = $about:literal])+
        $block:ident {
            $( $field:ident : $kind:ty = $default:tt , $range:expr , $meaning:literal ; )+
        }
    ) => {
        $(#[doc = $about])+
        #[derive(Clone, Debug, PartialEq, serde::Serialize)]
        pub struct $block {
            $( #[doc = $meaning] pub $field: $kind, )+
        }

        impl $block {
            /// What the block is, one paragraph.
            pub const ABOUT: &'static str = concat!($($about),+);

            const FIELD_NAMES: &'static [&'static str] = &[$(stringify!($field)),+];

            /// The field reference of this block.
            #[must_use]
            #[allow(unused_parens)] // a default may need its parentheses
            #[allow(unused_variables)] // not every default is named by a later one
            #[allow(clippy::vec_init_then_push)] // which is why this is no list of values
            pub fn fields() -> Vec<$crate::FieldDoc> {
                let mut fields = Vec::new();
                $(
                    block!(@bind $default, $field, $kind);
                    fields.push($crate::FieldDoc {
                        name: stringify!($field),
                        default: block!(@shown $default, $field),
                        allowed: <$kind as $crate::block::Value>::allowed(&$range),
                        limits: <$kind as $crate::block::Value>::limits(&$range),
                        meaning: $meaning,
                    });
                )+
                fields
            }
        }

        impl $crate::block::Value for $block {
            type Range = ();
            fn check(
                &self,
                path: &str,
                (): &(),
                found: &mut Vec<$crate::error::FieldError>,
            ) {
                $( $crate::block::Value::check(
                    &self.$field,
                    &$crate::block::join(path, stringify!($field)),
                    &$range,
                    found,
                ); )+
            }
            fn allowed((): &()) -> String {
                concat!("a block ", stringify!($block)).to_owned()
            }
            fn shape() -> $crate::shape::Shape {
                let fields = vec![$( $crate::shape::ShapeField {
                    name: stringify!($field),
                    required: block!(@required $default),
                    allowed: <$kind as $crate::block::Value>::allowed(&$range),
                    shape: <$kind as $crate::block::Value>::shape(),
                } ),+];
                $crate::shape::Shape::Block { name: stringify!($block), fields }
            }
        }

        #[allow(unused_parens)] // a default may need its parentheses
        impl<'de> serde::Deserialize<'de> for $block {
            fn deserialize<D: serde::Deserializer<'de>>(from: D) -> Result<Self, D::Error> {
                struct Fields;
                impl<'de> serde::de::Visitor<'de> for Fields {
                    type Value = $block;
                    fn expecting(&self, f: &mut core::fmt::Formatter<'_>) -> core::fmt::Result {
                        f.write_str(concat!("a block ", stringify!($block)))
                    }
                    fn visit_map<A: serde::de::MapAccess<'de>>(
                        self,
                        mut map: A,
                    ) -> Result<Self::Value, A::Error> {
                        use serde::de::Error;
                        $( let mut $field: Option<$kind> = None; )+
                        while let Some(key) = map.next_key::<String>()? {
                            match key.as_str() {
                                $( stringify!($field) => {
                                    if $field.replace(map.next_value()?).is_some() {
                                        return Err(A::Error::duplicate_field(stringify!($field)));
                                    }
                                } )+
                                other => return Err(A::Error::unknown_field(
                                    other,
                                    $block::FIELD_NAMES,
                                )),
                            }
                        }
                        $( let $field: $kind = match $field {
                            Some(value) => value,
                            None => block!(@default $default, $field, A::Error),
                        }; )+
                        Ok($block { $($field),+ })
                    }
                }
                from.deserialize_struct(stringify!($block), Self::FIELD_NAMES, Fields)
            }
        }
    };
    (@default required, $field:ident, $error:ty) => {
        return Err(<$error>::missing_field(stringify!($field)))
    };
    (@default $default:tt, $field:ident, $error:ty) => { $default };
    (@required required) => { true };
    (@required $default:tt) => { false };
    (@bind required, $field:ident, $kind:ty) => {};
    (@bind $default:tt, $field:ident, $kind:ty) => { let $field: $kind = $default; };
    (@shown required, $field:ident) => { "required".to_owned() };
    (@shown $default:tt, $field:ident) => { ron::to_string(&$field).unwrap_or_default() };
}

/// Blocks that stand whole at their defaults.
macro_rules! all_default {
    ($($block:ident),+) => {
        $( impl Default for $block {
            fn default() -> Self {
                ron::from_str("()").expect("every field has a default")
            }
        } )+
    };
}

/// Declares a field's choice among named alternatives.
macro_rules! choice {
    (
        $(#[doc = $about:literal])+
        $choice:ident { $( #[doc = $meaning:literal] $name:ident ),+ $(,)? }
    ) => {
        $(#[doc = $about])+
        #[derive(Clone, Copy, Debug, PartialEq, Eq, serde::Serialize, serde::Deserialize)]
        pub enum $choice { $( #[doc = $meaning] $name ),+ }

        impl $crate::block::Value for $choice {
            type Range = ();
            fn check(&self, _: &str, (): &(), _: &mut Vec<$crate::error::FieldError>) {}
            fn shape() -> $crate::shape::Shape {
                $crate::shape::Shape::Leaf {
                    fits: $crate::block::fits::<Self>,
                    stand_in: [$(stringify!($name)),+][0],
                }
            }
            fn allowed((): &()) -> String {
                [$(concat!(stringify!($name), " (", $meaning, ")")),+].join("; ").replace("( ", "(")
            }
        }
    };
}
