//! Values of a field that are compared: one drill each.

use std::fmt;

use dryturn_scene::Values;
use serde_json::Value as Json;

use crate::shared::setting;

/// Most values that are compared.
const MAX_VALUES: usize = 50;

/// A field, or several that take one value together, and the values to compare: numbers
/// ascending, others as given.
#[derive(Clone)]
pub(super) struct Comparison {
    pub(super) field: String,
    pub(super) values: Vec<Compared>,
}

/// One of the values.
#[derive(Clone)]
pub(crate) struct Compared {
    pub(super) value: Json,
    pub(super) number: Option<f64>,
}

impl Compared {
    /// As in the document: numbers as numbers with a fraction.
    pub(super) fn json(&self) -> Json {
        self.number.map_or_else(|| self.value.clone(), Json::from)
    }
}

impl fmt::Display for Compared {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match (self.number, &self.value) {
            (Some(number), _) => write!(f, "{number}"),
            (None, Json::String(text)) => f.write_str(text),
            (None, value) => write!(f, "{value}"),
        }
    }
}

impl Comparison {
    /// Who sits at the drive: Dryturn's own, then guests.
    pub(super) fn of_players() -> Self {
        let of = |name: &str| Compared { value: Json::from(name), number: None };
        Self { field: "who plays".to_owned(), values: vec![of("Dryturn"), of("guests")] }
    }
}

pub(super) fn comparison(text: &str) -> Result<Comparison, String> {
    let (field, list) = setting(text).map_err(|_| "must be FIELD=V1,V2,…".to_owned())?;
    let wrong = format!("must be at most {MAX_VALUES} values, each once, with commas between");
    let Some(Values::Listed(values)) = Values::parse(&list) else { return Err(wrong) };
    let compared = |value: Json| Compared { number: value.as_f64(), value };
    let mut values: Vec<Compared> = values.into_iter().map(compared).collect();
    if values.iter().all(|value| value.number.is_some()) {
        values.sort_by(|a, b| a.number.unwrap_or(0.0).total_cmp(&b.number.unwrap_or(0.0)));
    }
    if values.len() > MAX_VALUES || values.windows(2).any(|w| w[0].json() == w[1].json()) {
        return Err(wrong);
    }
    Ok(Comparison { field, values })
}
