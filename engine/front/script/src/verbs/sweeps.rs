//! Drills of the axes over a setting.

use std::sync::Arc;

use dryturn_record::{Exhibit, Sweep};
use rhai::plugin::export_module;
use rhai::{Array, Dynamic, NativeCallContext};

use super::session;
use crate::session::{Fallible, fault};
use crate::values::arguments::number;
use crate::values::handles::TurningValue;
use crate::values::texts::text_of;

/// Most points of a sweep.
const MAX_POINTS: usize = 100;

#[export_module]
pub(crate) mod verbs {
    use super::*;

    /// Shows drills over a setting in the report: the share of all that failed with its interval,
    /// split by kind, and the median time.
    ///
    /// * `title` - text, the section's title
    /// * `setting` - text, what is varied, with its unit
    /// * `points` - list of 1 to 100 points `[value, drill_axes(…)]`; a value is a number or text
    ///
    /// ```rhai
    /// show_sweep("one cube", "bus voltage, V", [[36, turning]]);
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn show_sweep(
        context: NativeCallContext,
        title: &str,
        setting: &str,
        points: Array,
    ) -> Fallible<()> {
        let s = session(&context)?;
        if points.is_empty() || points.len() > MAX_POINTS {
            let count = points.len();
            return fault(format!("a sweep of {count} points: must be 1 to {MAX_POINTS}"));
        }
        let point = |point: Dynamic| -> Fallible<_> {
            let pair =
                point.try_cast::<Array>().and_then(|pair| <[Dynamic; 2]>::try_from(pair).ok());
            let drill =
                pair.and_then(|[value, drill]| Some((value, drill.try_cast::<TurningValue>()?)));
            match drill {
                Some((value, drill)) => Ok((value, drill.0)),
                None => fault("a point of a sweep is a list [value, drill_axes(…)]"),
            }
        };
        let points = points.into_iter().map(point).collect::<Fallible<Vec<_>>>()?;
        let named = points.iter().any(|(value, _)| value.is_string());
        let names = points.iter().filter(|_| named).map(|(value, _)| text_of(value));
        let names: Vec<String> = names.collect::<Fallible<_>>()?;
        let value = |(place, (value, drill)): (usize, (Dynamic, _))| -> Fallible<_> {
            Ok((if named { place as f64 } else { number(&value)? }, drill))
        };
        let mut points = points.into_iter().enumerate().map(value).collect::<Fallible<Vec<_>>>()?;
        points.sort_by(|one, other| one.0.total_cmp(&other.0));
        for name in &names {
            s.count_text(name)?;
        }
        s.count_text(title)?;
        s.count_text(setting)?;
        let (title, setting) = (title.to_owned(), setting.to_owned());
        // The sweep shows its drills; they need no sections of their own.
        s.hide(|exhibit| match exhibit {
            Exhibit::Turning(drill) => points.iter().any(|(_, point)| Arc::ptr_eq(point, drill)),
            _ => false,
        });
        s.show(Exhibit::Sweep(Arc::new(Sweep { title, setting, points, names })));
        Ok(())
    }
}
