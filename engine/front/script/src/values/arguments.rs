//! What scripts give to verbs, as what it stands for; and what is wrong with it.

use core::ops::RangeInclusive;

use dryturn_cube::{Face, Facelet};
use dryturn_handoff::Plan;
use dryturn_reading::LEFT_OUT_WAYS;
use dryturn_scene::Scene;
use dryturn_scene::file::Method;
use rhai::{Array, Dynamic, Map};

use crate::session::{Fallible, fault};
use crate::values::handles::PlanValue;

/// Most nodes of one plan's search.
pub(crate) const MAX_NODES: i64 = 1_000_000_000;
/// Most scans that are read together, or calibrated on.
const MAX_TOGETHER: usize = 100;
/// Most plans that are made at once, or turned by one drill.
pub(crate) const MAX_PLANS: usize = 1000;

pub(crate) fn ok<T, E: ToString>(result: Result<T, E>) -> Fallible<T> {
    result.or_else(fault)
}

pub(crate) fn within(what: &str, value: i64, range: RangeInclusive<i64>) -> Fallible<u64> {
    if range.contains(&value) {
        return Ok(value as u64);
    }
    fault(format!("{what} is {value}: must be {} to {}", range.start(), range.end()))
}

pub(crate) fn trial_number(value: i64) -> Fallible<u64> {
    within("the trial's number", value, 0..=i64::MAX)
}

pub(crate) fn number(value: &Dynamic) -> Fallible<f64> {
    if value.is_unit() {
        return fault("a number is needed here, and this value is empty: ()");
    }
    let float = value.as_float().ok().or_else(|| value.as_int().ok().map(|i| i as f64));
    match float {
        Some(number) => Ok(number),
        None => {
            fault(format!("a number is needed here, not a value of type {}", value.type_name()))
        }
    }
}

/// The quantile's share that a script gives.
pub(crate) fn share(value: &Dynamic) -> Fallible<f64> {
    let share = number(value)?;
    if (0.0..=1.0).contains(&share) {
        return Ok(share);
    }
    fault(format!("the quantile's share is {share}: must be 0 to 1"))
}

/// A number field of an options map, if it is there.
pub(crate) fn option(
    options: &Map,
    key: &str,
    range: RangeInclusive<f64>,
) -> Fallible<Option<f64>> {
    let Some(value) = options.get(key) else { return Ok(None) };
    let value = number(value)?;
    if range.contains(&value) {
        return Ok(Some(value));
    }
    fault(format!("{key} is {value}: must be {} to {}", range.start(), range.end()))
}

/// The items of a list that must all be of one kind.
pub(crate) fn list<T: Clone + Send + Sync + 'static>(items: Array, what: &str) -> Fallible<Vec<T>> {
    if items.is_empty() || items.len() > MAX_TOGETHER {
        let count = items.len();
        return fault(format!("a list of {count}: must be 1 to {MAX_TOGETHER} {what}"));
    }
    let own = |item: Dynamic| item.try_cast::<T>();
    match items.into_iter().map(own).collect() {
        Some(found) => Ok(found),
        None => fault(format!("this list must hold {what} only")),
    }
}

pub(crate) fn plans_of(items: Array) -> Fallible<Vec<Plan>> {
    if items.is_empty() || items.len() > MAX_PLANS {
        let count = items.len();
        return fault(format!("a list of {count} plans: must be 1 to {MAX_PLANS}"));
    }
    let own = |item: Dynamic| item.try_cast::<PlanValue>().map(|plan| (*plan.0).clone());
    match items.into_iter().map(own).collect() {
        Some(plans) => Ok(plans),
        None => fault("this list must hold plans only"),
    }
}

pub(crate) fn face(letter: &str) -> Fallible<Face> {
    let mut letters = letter.chars();
    match (letters.next().and_then(Face::from_letter), letters.next()) {
        (Some(face), None) => Ok(face),
        _ => fault(format!("{letter:?} is no face: must be U, R, F, D, L or B")),
    }
}

pub(crate) fn facelet(name: &str) -> Fallible<Facelet> {
    match Facelet::from_name(name) {
        Some(facelet) => Ok(facelet),
        None => fault(format!("{name:?} is no facelet: facelets are called URF, UF, U and so on")),
    }
}

/// The face whose colour has this name in the scene (`red`), or the face itself (`R`).
pub(crate) fn face_of_colour(scene: &Scene, name: &str) -> Fallible<Face> {
    let colours = &scene.file().cube.colours;
    let called = |face: &Face| {
        format!("{:?}", colours.of(*face)).eq_ignore_ascii_case(name) || face.to_string() == name
    };
    match Face::ALL.into_iter().find(called) {
        Some(face) => Ok(face),
        None => fault(format!(
            "{name:?} is no colour of this cube: white, yellow, orange, red, green, blue, or a \
             face letter"
        )),
    }
}

/// The way to read of this name.
pub(crate) fn method(name: &str) -> Fallible<Method> {
    let named = |method: &Method| format!("{method:?}") == name;
    match Method::ALL.into_iter().find(named) {
        Some(method) => Ok(method),
        None => {
            let all: Vec<String> = Method::ALL.iter().map(|m| format!("{m:?}")).collect();
            fault(format!("{name:?} is no way to read: must be {}", all.join(", ")))
        }
    }
}

/// The place among the ways that cross-validation compares of the one of this name.
pub(crate) fn left_out_way(name: &str) -> Fallible<usize> {
    let wanted = method(name)?;
    match LEFT_OUT_WAYS.iter().position(|way| *way == wanted) {
        Some(way) => Ok(way),
        None => fault(format!("{name} is not cross-validated: it looks at whole cubes")),
    }
}
