//! The macros that declare blocks, and choices among named alternatives.

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
                found: &mut Vec<$crate::fault::FieldError>,
            ) {
                $( $crate::block::Value::check(
                    &self.$field,
                    &$crate::fault::join(path, stringify!($field)),
                    &$range,
                    found,
                ); )+
            }
            fn allowed((): &()) -> String {
                concat!("a block ", stringify!($block)).to_owned()
            }
            fn shape() -> $crate::text::Shape {
                let fields = vec![$( $crate::text::ShapeField {
                    name: stringify!($field),
                    required: block!(@required $default),
                    allowed: <$kind as $crate::block::Value>::allowed(&$range),
                    shape: <$kind as $crate::block::Value>::shape(),
                } ),+];
                $crate::text::Shape::Block { name: stringify!($block), fields }
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
            fn check(&self, _: &str, (): &(), _: &mut Vec<$crate::fault::FieldError>) {}
            fn shape() -> $crate::text::Shape {
                $crate::text::Shape::Leaf {
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
