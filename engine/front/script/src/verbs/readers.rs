//! Calibrations, and comparing ways to read.

use std::collections::BTreeMap;
use std::sync::Arc;

use dryturn_handoff::{Content, GuestRole};
use dryturn_record::ledger::{Line, ReadersLine};
use dryturn_record::{ClassesDocument, Exhibit};
use dryturn_scene::file::Method;
use dryturn_statistics::{Z_95, wilson};
use dryturn_studies::{GuestReads, ReaderTable, ReaderTally, ReadersRequest, Way};
use rhai::plugin::export_module;
use rhai::{Array, Dynamic, Map, NativeCallContext};

use super::{begin, begin_on, guests, session};
use crate::session::{Fallible, Session, fault};
use crate::values::answers::{float_or_unit, int};
use crate::values::arguments::{face, left_out_way, list, method, within};
use crate::values::handles::{CalibrationValue, ReadersValue, RigValue, SceneValue};

/// Most scans of one comparison.
const MAX_COMPARED: i64 = 10_000;

fn tally_of<'a>(table: &'a ReaderTable, name: &str) -> Fallible<&'a ReaderTally> {
    // A word that is no way to read is told so.
    let guests = name == "Guest";
    let wanted = if guests { None } else { Some(method(name)?) };
    let asked = |tally: &&ReaderTally| match &tally.way {
        Way::Ours(method) => Some(*method) == wanted,
        Way::Guest(_) => guests,
    };
    match table.readers.iter().find(asked) {
        Some(tally) => Ok(tally),
        None => fault(format!("{name} was not compared")),
    }
}

/// The figures of a tally.
fn tally_map(tally: &ReaderTally) -> Map {
    let (wilson_upper, exact_upper) = tally.wrong_at_most();
    let (claims, claims_right) = tally.claiming(0.99);
    let int = |value: usize| Dynamic::from_int(value as i64);
    [
        ("right", int(tally.counts.right)),
        ("wrong", int(tally.counts.wrong)),
        ("refused", int(tally.counts.refused)),
        ("facelets", int(tally.counts.facelets)),
        ("facelets_right", int(tally.counts.facelets_right)),
        ("wrong_high", Dynamic::from_float(wilson_upper)),
        ("wrong_upper", Dynamic::from_float(exact_upper)),
        ("brier", float_or_unit(tally.brier())),
        ("claims_99", int(claims)),
        ("claims_99_right", int(claims_right)),
    ]
    .into_iter()
    .map(|(key, value)| (key.into(), value))
    .collect()
}

/// Tells how a guest fared that read.
fn fared(s: &Session, guest: &GuestReads, left_out: usize) -> Fallible<()> {
    s.seated(&BTreeMap::from([(GuestRole::Reader, guest.thought)]));
    if let Some(first) = &guest.first_fault {
        s.note(&guests::failed(&format!("{} scans; in the first", guest.faults), first))?;
    }
    if left_out > 0 {
        s.note(&format!("No answer came in time: the other {left_out} scans are not read."))?;
    }
    let unruly = guest.unruly.iter().take(guests::MAX_TOLD);
    unruly.into_iter().try_for_each(|fault| s.note(&format!("After the scans: {fault}.")))
}

#[export_module]
pub(crate) mod verbs {
    use super::*;

    /// Scans random cubes in a scene, five on each rig with errors of its own, and reads every scan
    /// in each way that `reader.method` knows, with one calibration made in another light. A guest
    /// that reads is started anew for each rig, taught with the same pictures, and reads the same
    /// scans.
    ///
    /// * `name` - text, what the comparison is called
    /// * `light` - the scene in whose light the calibration is made
    /// * `scene` - the scene in which cubes are scanned
    /// * `scans` - whole number of scans, 1 to 10,000
    ///
    /// Gives the comparison.
    ///
    /// ```rhai
    /// let readers = compare_readers("morning to evening", foyer, evening, 2);
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn compare_readers(
        context: NativeCallContext,
        name: &str,
        light: SceneValue,
        scene: SceneValue,
        scans: i64,
    ) -> Fallible<ReadersValue> {
        let s = begin(&context, None)?;
        let scans = within("the number of scans", scans, 1..=MAX_COMPARED)? as usize;
        let progress = s.watched("readers", scans);
        let invited = &s.host.invited();
        let (calibrated_in, read_in) = (&light.0, &scene.0);
        let methods = &Method::ALL;
        let asked = ReadersRequest { name, calibrated_in, read_in, methods, scans, invited };
        let table = match ReaderTable::of(&s.rehearser, &asked, &progress) {
            Ok(Some(table)) => table,
            Ok(None) => return fault("stopped"),
            Err(error) => return fault(format!("{}: {error}", light.0.source_name())),
        };
        if let Some(guest) = &table.guest {
            fared(&s, guest, scans - table.scans)?;
        }
        s.log(Line::Readers(ReadersLine::of(&table)));
        Ok(ReadersValue(Arc::new(table)))
    }

    /// Figures of one way to read.
    ///
    /// * `comparison` - the comparison
    /// * `method` - text, the way: one of those that `reader.method` of a scene takes, or `"Guest"`
    ///
    /// Gives a map: `right`, `wrong`, `refused` (cubes), `facelets`, `facelets_right` (seen ones),
    /// `wrong_high` (upper end of Wilson's two-sided 95 % interval of the share of wrong cubes among
    /// those read), `wrong_upper` (exact one-sided 95 % bound), `brier`, `claims_99` (readings that
    /// claim at least 0.99), `claims_99_right`.
    ///
    /// ```rhai
    /// let wrong = readers.tally("Likely").wrong;
    /// let wrong_in_all = tally([readers, readers], "Likely").wrong;
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn tally(comparison: ReadersValue, method: &str) -> Fallible<Map> {
        Ok(tally_map(tally_of(&comparison.0, method)?))
    }

    /// As above with several comparisons, which are summed up.
    ///
    /// * `comparisons` - list of 1 to 100 comparisons
    /// * `method` - text, the way
    ///
    /// Gives a map as above.
    #[rhai_fn(name = "tally", return_raw)]
    pub(crate) fn tally_of_all(comparisons: Array, method: &str) -> Fallible<Map> {
        let tables: Vec<ReadersValue> = list(comparisons, "comparisons of readers")?;
        let tallies = tables
            .iter()
            .map(|t| tally_of(&t.0, method))
            .collect::<Fallible<Vec<&ReaderTally>>>()?;
        Ok(ReaderTally::sum(tallies.into_iter()).map(|sum| tally_map(&sum)).unwrap_or_default())
    }

    /// Shows a list of comparisons in the report: table, reliability of the probabilities,
    /// confidence, confusions.
    ///
    /// * `title` - text, the section's title
    /// * `comparisons` - list of 1 to 100 comparisons
    ///
    /// ```rhai
    /// show_readers("ways to read", [readers]);
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn show_readers(
        context: NativeCallContext,
        title: &str,
        comparisons: Array,
    ) -> Fallible<()> {
        let s = session(&context)?;
        let tables: Vec<ReadersValue> = list(comparisons, "comparisons of readers")?;
        s.count_text(title)?;
        let tables = tables.into_iter().map(|table| table.0).collect();
        s.show(Exhibit::Readers(Arc::new((title.to_owned(), tables))));
        Ok(())
    }

    /// How many of the sightings that cross-validation left out a way took for another colour.
    ///
    /// * `calibration` - the calibration
    /// * `method` - text, a way to read that looks at each facelet by itself, such as `"Lab"`
    ///
    /// Gives a whole number.
    ///
    /// ```rhai
    /// let wrong = calibration.wrong_left_out("Lab");
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn wrong_left_out(calibration: CalibrationValue, method: &str) -> Fallible<i64> {
        Ok(int(calibration.0.cross_validation().wrong[left_out_way(method)?]))
    }

    /// Wilson's 95 % interval of the share that a way took for another colour.
    ///
    /// * `calibration` - the calibration
    /// * `method` - text, a way to read that looks at each facelet by itself, such as `"Lab"`
    ///
    /// Gives a list `[low, high]`, 0 to 1.
    ///
    /// ```rhai
    /// let high = calibration.left_out_interval("Lab")[1];
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn left_out_interval(
        calibration: CalibrationValue,
        method: &str,
    ) -> Fallible<Array> {
        let checked = calibration.0.cross_validation();
        let (low, high) = wilson(checked.wrong[left_out_way(method)?], checked.sightings, Z_95);
        Ok(vec![low.into(), high.into()])
    }

    /// How many of the sightings that cross-validation left out had the colour of one of two faces
    /// and were taken for the other's.
    ///
    /// * `calibration` - the calibration
    /// * `method` - text, `"Nearest"` or `"Gaussian"`
    /// * `one` - text, the letter of a face
    /// * `other` - text, the letter of another face
    ///
    /// Gives a whole number.
    ///
    /// ```rhai
    /// let red_and_orange = calibration.confused_left_out("Nearest", "R", "L");
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn confused_left_out(
        calibration: CalibrationValue,
        method: &str,
        one: &str,
        other: &str,
    ) -> Fallible<i64> {
        let checked = calibration.0.cross_validation();
        let table = match super::method(method)? {
            Method::Nearest => &checked.nearest_confusion,
            Method::Gaussian => &checked.confusion,
            _ => return fault(format!("{method:?} keeps no pairs: must be Nearest or Gaussian")),
        };
        let (a, b) = (face(one)?.index(), face(other)?.index());
        if a == b {
            return fault(format!("{one:?} twice: must be two faces"));
        }
        Ok((table[a][b] + table[b][a]) as i64)
    }

    /// Writes `name.json` and `name.h`: six classes, the same at all places, for other programs; the
    /// header is constants for C99.
    ///
    /// * `rig` - the rig that was calibrated
    /// * `calibration` - the calibration
    /// * `name` - text, what the files are called without their endings
    ///
    /// ```rhai
    /// save_classes(rig, calibration, "classes");
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn save_classes(
        context: NativeCallContext,
        rig: RigValue,
        calibration: CalibrationValue,
        name: &str,
    ) -> Fallible<()> {
        let s = begin_on(&context, &rig)?;
        let classes = calibration.0.pooled_classes(rig.0.patches());
        let text = ClassesDocument::of(&classes).text();
        s.save(&format!("{name}.json"), Content::Text(text))?;
        s.save(&format!("{name}.h"), Content::Text(classes.c_header()))
    }

    /// How many sightings cross-validation left out in turn.
    #[rhai_fn(get = "left_out", pure)]
    pub(crate) fn left_out(calibration: &mut CalibrationValue) -> i64 {
        int(calibration.0.cross_validation().sightings)
    }

    /// Share of the covariance that all colours have in common in each colour's, as cross-validation
    /// chose it.
    #[rhai_fn(get = "shrinkage", pure)]
    pub(crate) fn shrinkage(calibration: &mut CalibrationValue) -> f64 {
        calibration.0.shrinkage_share()
    }
}
