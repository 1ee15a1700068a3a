//! What the log of a run tells: what explains that it differs from the simulated run.

use std::sync::Arc;

use dryturn_record::ledger::{
    BeatOffRecord, CauseRecord, JointRecord, Line, OutcomeWord, OverlayLine, ToldRecord,
};
use dryturn_record::{Exhibit, ShownOverlay};
use dryturn_studies::motor;
use dryturn_studies::overlay::Overlay;
use dryturn_studies::overlay_words;
use rhai::plugin::export_module;
use rhai::{Dynamic, NativeCallContext};

use super::begin;
use crate::session::Fallible;
use crate::values::answers::shown;
use crate::values::arguments::ok;
use crate::values::handles::{OverlayValue, PlanValue, RunLogValue, SceneValue};

#[export_module]
pub(crate) mod verbs {
    use super::*;

    /// Lays the log of a run over the simulated run of the same plan on the scene's rig without
    /// errors, and fits the figures that might explain the difference: each by itself, and all sets
    /// of two and three jointly. The report shows it.
    ///
    /// * `scene` - the scene as drawn
    /// * `plan` - the plan that was turned
    /// * `log` - the log of the run
    ///
    /// Gives the overlay.
    ///
    /// ```rhai
    /// let overlay = overlay(foyer, plan, recording);
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn overlay(
        context: NativeCallContext,
        scene: SceneValue,
        plan: PlanValue,
        log: RunLogValue,
    ) -> Fallible<OverlayValue> {
        let s = begin(&context, None)?;
        let log = ok(motor::run_log(&log.0.csv(), &plan.0))?;
        let overlay = s.made(ok(Overlay::of(&scene.0, &plan.0, &Arc::new(log)))?);
        s.log(Line::Overlay(Box::new(OverlayLine::of(&overlay))));
        let title = scene.0.file().name.clone();
        let shown = ShownOverlay { title, overlay: overlay.clone() };
        s.show(Exhibit::Overlay(Arc::new(shown)));
        Ok(OverlayValue(overlay))
    }

    /// How far times of turns and hand-overs are off, root mean square, ms.
    #[rhai_fn(get = "rms_ms", pure)]
    pub(crate) fn rms_ms(overlay: &mut OverlayValue) -> f64 {
        overlay.0.rms_ms
    }

    /// Whether the log ends before the plan.
    #[rhai_fn(get = "ends_early", pure)]
    pub(crate) fn ends_early(overlay: &mut OverlayValue) -> bool {
        overlay.0.ends_early
    }

    /// Whether some single figure explains at least half of the difference.
    #[rhai_fn(get = "explained", pure)]
    pub(crate) fn explained(overlay: &mut OverlayValue) -> bool {
        overlay.0.explained()
    }

    /// List of `beat` (from 1), `turns`, `late_ms`, `longer_ms`, `rms_deg`, each against the
    /// simulated run.
    #[rhai_fn(get = "beats_off", pure)]
    pub(crate) fn beats_off(overlay: &mut OverlayValue) -> Dynamic {
        shown(&BeatOffRecord::all(&overlay.0.beats))
    }

    /// List of `field`, `what`, `drawn`, `value` (where it explains most), `explained_share`,
    /// `rms_ms` (left), `as_good` (cannot be told from the best); the best first, with those that
    /// cannot be told from it, in no order; empty where log and drawing agree. A figure that comes
    /// first here is no cause for certain: see `overlay.outcome`.
    #[rhai_fn(get = "causes", pure)]
    pub(crate) fn causes(overlay: &mut OverlayValue) -> Dynamic {
        shown(&CauseRecord::all(&overlay.0))
    }

    /// `as_drawn` (rigs of this drawing differ as much by themselves), `certain` (one set of one to
    /// three figures explains the log, every other is rejected at 99.9 %), `several`, `unexplained`,
    /// or `not_fitted` where too few simulated rigs get through the plan.
    #[rhai_fn(get = "outcome", pure)]
    pub(crate) fn outcome(overlay: &mut OverlayValue) -> Dynamic {
        shown(&OutcomeWord::of(&overlay.0))
    }

    /// List of the sets of one to three figures that explain the log equally well, the likeliest
    /// first: `figures` (list of `field`, `what`, `drawn`, `value`, `interval_95`, `determined`),
    /// `chi_square_above` (that of all figures together), `correlations` (rows). A set is left out
    /// where the log rejects it at 99 %, or shows one of its figures to be as drawn within a tenth
    /// (times and angles: 0.3 ms, 0.3°).
    #[rhai_fn(get = "told", pure)]
    pub(crate) fn told(overlay: &mut OverlayValue) -> Dynamic {
        shown(&ToldRecord::all(&overlay.0))
    }

    /// All figures fitted together, each taken for as drawn within 30 % or 2 ms beforehand:
    /// `figures` as in `overlay.told`, `correlations` (rows), `tied` (pairs of `fields` whose `correlation` is
    /// above 0.9 in magnitude), `problem` (the fit near its solution, whitened: `at`, `left`,
    /// `columns`, `prior`), `chi_square_drawn`, `chi_square`, `measures`,
    /// `combinations_determined`.
    #[rhai_fn(get = "joint", pure)]
    pub(crate) fn joint(overlay: &mut OverlayValue) -> Dynamic {
        shown(&JointRecord::of(&overlay.0))
    }

    /// The figures as text.
    #[rhai_fn(get = "summary", pure)]
    pub(crate) fn overlay_summary(overlay: &mut OverlayValue) -> String {
        overlay_words(&overlay.0).join("\n")
    }
}
