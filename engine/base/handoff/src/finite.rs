//! Numbers that JSON cannot hold, infinite ones and none: there they are null. Which of them a null
//! is read as is each field's choice: the one that its stage may have given it.

use schemars::{Schema, SchemaGenerator};
use serde::de::DeserializeOwned;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

/// A number, or a list of numbers.
pub(crate) trait Numbers: Sized {
    /// The same, with `None` where a number is not finite.
    type Form: Serialize + DeserializeOwned;

    fn form(&self) -> Self::Form;

    fn of(form: Self::Form, null: f64) -> Self;
}

impl Numbers for f64 {
    type Form = Option<f64>;

    fn form(&self) -> Self::Form {
        self.is_finite().then_some(*self)
    }

    fn of(form: Self::Form, null: f64) -> Self {
        form.unwrap_or(null)
    }
}

impl Numbers for f32 {
    type Form = Option<f32>;

    fn form(&self) -> Self::Form {
        self.is_finite().then_some(*self)
    }

    fn of(form: Self::Form, null: f64) -> Self {
        form.unwrap_or(null as f32)
    }
}

impl<const N: usize> Numbers for [f64; N]
where
    [Option<f64>; N]: Serialize + DeserializeOwned,
{
    type Form = [Option<f64>; N];

    fn form(&self) -> Self::Form {
        self.map(|number| number.form())
    }

    fn of(form: Self::Form, null: f64) -> Self {
        form.map(|number| f64::of(number, null))
    }
}

impl<T: Numbers> Numbers for Vec<T> {
    type Form = Vec<T::Form>;

    fn form(&self) -> Self::Form {
        self.iter().map(T::form).collect()
    }

    fn of(form: Self::Form, null: f64) -> Self {
        form.into_iter().map(|own| T::of(own, null)).collect()
    }
}

impl<T: Numbers> Numbers for Option<T> {
    type Form = Option<T::Form>;

    fn form(&self) -> Self::Form {
        self.as_ref().map(T::form)
    }

    fn of(form: Self::Form, null: f64) -> Self {
        form.map(|own| T::of(own, null))
    }
}

pub(crate) fn serialize<T: Numbers, S: Serializer>(of: &T, to: S) -> Result<S::Ok, S::Error> {
    of.form().serialize(to)
}

fn read<'de, T: Numbers, D: Deserializer<'de>>(from: D, null: f64) -> Result<T, D::Error> {
    let form = <T::Form as Deserialize<'de>>::deserialize(from)?;
    Ok(T::of(form, null))
}

/// Null is infinity.
pub(crate) mod infinite {
    use serde::Deserializer;

    use super::Numbers;
    pub(crate) use super::serialize;

    pub(crate) fn deserialize<'de, T: Numbers, D: Deserializer<'de>>(
        from: D,
    ) -> Result<T, D::Error> {
        super::read(from, f64::INFINITY)
    }
}

/// Null is minus infinity.
pub(crate) mod minus_infinite {
    use serde::Deserializer;

    use super::Numbers;
    pub(crate) use super::serialize;

    pub(crate) fn deserialize<'de, T: Numbers, D: Deserializer<'de>>(
        from: D,
    ) -> Result<T, D::Error> {
        super::read(from, f64::NEG_INFINITY)
    }
}

/// Null is no number.
pub(crate) mod no_number {
    use serde::Deserializer;

    use super::Numbers;
    pub(crate) use super::serialize;

    pub(crate) fn deserialize<'de, T: Numbers, D: Deserializer<'de>>(
        from: D,
    ) -> Result<T, D::Error> {
        super::read(from, f64::NAN)
    }
}

/// A number or null; unlike that of an `Option` it is no schema of a key that may be left out.
pub(crate) fn or_null(generator: &mut SchemaGenerator) -> Schema {
    generator.subschema_for::<Option<f64>>()
}
