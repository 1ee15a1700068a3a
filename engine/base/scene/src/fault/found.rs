//! Faults of fields as they are found, one after the other.

use super::{Fault, Position, SceneError};

/// `parent.field`, or `field` at the top.
pub(crate) fn join(parent: &str, field: &str) -> String {
    if parent.is_empty() { field.to_owned() } else { format!("{parent}.{field}") }
}

/// A fault of a field, before the file's name is known.
#[derive(Clone, Debug, PartialEq)]
pub(crate) struct FieldError {
    pub(crate) place: Option<Position>,
    pub(crate) field: String,
    pub(crate) value: String,
    pub(crate) allowed: String,
}

impl FieldError {
    pub(crate) fn new(
        field: impl Into<String>,
        value: impl ToString,
        allowed: impl Into<String>,
    ) -> Self {
        Self { place: None, field: field.into(), value: value.to_string(), allowed: allowed.into() }
    }

    /// The same at a place of the file.
    pub(crate) fn at(self, place: Position) -> Self {
        Self { place: Some(place), ..self }
    }

    fn in_source(self, source_name: &str) -> Fault {
        let Self { place, field, value, allowed } = self;
        Fault::Value { source_name: source_name.to_owned(), place, field, value, allowed }
    }
}

/// Most faults that are told; a text of nothing but faults has tens of thousands.
const MOST_TOLD: usize = 100;
/// Most that are kept until all are known, and most stand-ins.
const MOST_KEPT: usize = 2000;

/// What has been found wrong with a scene so far.
#[derive(Debug, Default)]
pub(crate) struct Faults {
    found: Vec<FieldError>,
    /// Fields that hold a stand-in: what follows from their values says nothing.
    stand_ins: Vec<String>,
    /// How many more there were, at least.
    more: usize,
    /// Whether there were more stand-ins.
    more_stand_ins: bool,
}

/// Whether a field is another one or a part of it.
fn within(inner: &str, outer: &str) -> bool {
    let rest = inner.strip_prefix(outer);
    rest.is_some_and(|rest| rest.is_empty() || rest.starts_with(['.', '[']))
}

impl Faults {
    pub(crate) fn count(&self) -> usize {
        self.found.len() + self.more
    }

    pub(crate) fn push(&mut self, error: FieldError) {
        if self.found.len() < MOST_KEPT {
            self.found.push(error);
        } else {
            self.more += 1;
        }
    }

    /// Notes that a field holds a stand-in.
    pub(crate) fn stand_in(&mut self, field: &str) {
        // Beyond that many nothing of the scene is taken for sound.
        if self.stand_ins.len() < MOST_KEPT {
            self.stand_ins.push(field.to_owned());
        } else {
            self.more_stand_ins = true;
        }
    }

    /// Adds faults of values, but for those of stand-ins.
    pub(crate) fn extend(&mut self, errors: Vec<FieldError>) {
        for error in errors {
            if self.found.len() >= MOST_KEPT {
                self.more += 1;
            } else if !self.stand_ins.iter().any(|field| within(&error.field, field)) {
                self.found.push(error);
            }
        }
    }

    /// Whether nothing is wrong with any of these fields, with parts of them, or with what
    /// they are part of: what follows from their values only makes sense then.
    pub(crate) fn sound(&self, fields: &[&str]) -> bool {
        let touches =
            |wrong: &str| fields.iter().any(|field| within(wrong, field) || within(field, wrong));
        self.more == 0
            && !self.more_stand_ins
            && !self.found.iter().any(|error| touches(&error.field))
            && !self.stand_ins.iter().any(|field| touches(field))
    }

    /// The whole list, where there is anything in it; `place_of` knows where a field stands, and
    /// its name where that is another one in the file, and `is_scene` says whether the text is one
    /// at all.
    pub(crate) fn into_error(
        self,
        place_of: impl Fn(&str) -> Option<(Position, Option<String>)>,
        is_scene: bool,
        source_name: &str,
    ) -> Option<SceneError> {
        let mut found = self.found;
        for error in &mut found {
            if error.place.is_none()
                && let Some((place, name)) = place_of(&error.field)
            {
                error.place = Some(place);
                error.field = name.unwrap_or_else(|| error.field.clone());
            }
        }
        // What stands in no file comes last, as it was found.
        found.sort_by_key(|error| (error.place.is_none(), error.place));
        // What six shafts share is wrong once.
        let mut faults: Vec<Fault> = Vec::new();
        for error in found {
            let fault = error.in_source(source_name);
            if !faults.contains(&fault) {
                faults.push(fault);
            }
        }
        let more = self.more + faults.len().saturating_sub(MOST_TOLD);
        faults.truncate(MOST_TOLD);
        if more > 0 {
            faults.push(Fault::More { source_name: source_name.to_owned(), more });
        }
        (!faults.is_empty()).then_some(SceneError { faults, is_scene })
    }
}
