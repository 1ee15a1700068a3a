//! What is told of a drill: as text, as a document, as a page; and what speaks against it.

use std::sync::Arc;

use dryturn_record::documents::{DrillAxesDocument, DrillOfOne, Drilled as Came};
use dryturn_record::ledger::TurningLine;
use dryturn_record::{Exhibit, Sweep};
use dryturn_scene::Scene;
use serde_json::Value as Json;

use super::compared::{Compared, Comparison};
use super::{DrillAxesArgs, Drilled};
use crate::commands::given;
use crate::shared::Shared;

/// Why a drill ends with code 1, a sentence without its full stop for each: nothing
/// completes, or more fails than is allowed.
pub(super) fn objections(
    args: &DrillAxesArgs,
    compare: Option<&Comparison>,
    drills: &[Drilled],
) -> Vec<String> {
    let objection = |(value, drill): &Drilled| {
        let failures = drill.failures();
        let at = match (compare, value) {
            (Some(comparison), Some(value)) => format!("at {} = {value} ", comparison.field),
            _ => String::new(),
        };
        if failures.count() == failures.trials() {
            return Some(format!("{at}nothing completes: {}", failures.words()));
        }
        let most = args.fail_above.filter(|most| failures.share() > *most)?;
        Some(format!("{at}more than a share of {most} fails: {}", failures.words()))
    };
    drills.iter().filter_map(objection).collect()
}

/// What was asked for, for a person.
pub(super) fn what(args: &DrillAxesArgs, scene: &Scene, plans: usize, shared: &Shared) -> String {
    let settings: Vec<String> =
        args.settings.iter().map(|(field, value)| format!("{field} = {value}")).collect();
    let with =
        if settings.is_empty() { String::new() } else { format!(", with {}", settings.join(", ")) };
    let (name, trials, seed) = (&scene.file().name, args.trials, shared.seed.value());
    format!("{name}{with}. {trials} trials on {plans} plans in turn, seed {seed}.")
}

pub(super) fn document(
    args: &DrillAxesArgs,
    compare: Option<&Comparison>,
    drills: &[Drilled],
    (objections, shared): (Vec<String>, &Shared),
) -> DrillAxesDocument {
    let one = |(value, drill): &Drilled| {
        DrillOfOne::of(value.as_ref().map_or(Json::Null, Compared::json), drill)
    };
    let drilled = match (compare, drills) {
        (None, [(_, drill)]) => Came::One(Box::new(TurningLine::of(drill))),
        (comparison, drills) => Came::Several {
            compare: comparison.map_or_else(String::new, |own| own.field.clone()),
            drills: drills.iter().map(one).collect(),
        },
    };
    DrillAxesDocument {
        file: args.scene.display().to_string(),
        seed: shared.seed.value(),
        settings: given(&args.settings),
        exit_code: u8::from(!objections.is_empty()),
        objections,
        drilled,
    }
}

pub(super) fn exhibits(compare: Option<&Comparison>, drills: &[Drilled]) -> Vec<Exhibit> {
    let mut exhibits = Vec::new();
    if let Some(Comparison { field, values }) = compare {
        let named = values.iter().any(|value| value.number.is_none());
        let names = values.iter().filter(|_| named).map(Compared::to_string).collect();
        let value = |place: usize| values[place].number.filter(|_| !named);
        let points = drills.iter().enumerate();
        let points =
            points.map(|(place, (_, drill))| (value(place).unwrap_or(place as f64), drill.clone()));
        let (title, setting, points) = (field.clone(), field.clone(), points.collect());
        exhibits.push(Exhibit::Sweep(Arc::new(Sweep { title, setting, points, names })));
    }
    exhibits.extend(drills.iter().map(|(_, drill)| Exhibit::Turning(drill.clone())));
    exhibits
}

/// The figures for a person.
pub(super) fn text(compare: Option<&Comparison>, drills: &[Drilled]) -> String {
    let field = compare.map(|comparison| comparison.field.as_str());
    let block = |(value, drill): &Drilled| match (field, value) {
        (Some(field), Some(value)) => format!("{field} = {value}\n{}", drill.summary()),
        _ => drill.summary(),
    };
    drills.iter().map(block).collect::<Vec<_>>().join("\n\n")
}
