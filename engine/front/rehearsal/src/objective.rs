//! What plans are searched for: least machine time on a scene's drive.

use dryturn_driving::{BeatCosts, Timing};
use dryturn_planning::{Objective, Weights};
use dryturn_scene::Scene;

/// The objective of least machine time on a scene's drive: what half and quarter turns
/// take there, waits and overlap included. It takes some simulated rows of beats;
/// [`Rehearser::least_time`](crate::Rehearser::least_time) keeps it.
#[must_use]
pub fn least_time(scene: &Scene) -> Objective {
    objective(&Timing::of(scene))
}

/// The objective of least machine time under a timing.
#[must_use]
pub fn objective(timing: &Timing) -> Objective {
    by_beats(timing.beat_s())
}

/// The same by how long beats of quarter and of half turns take, s.
pub(crate) fn by_beats((quarter_s, half_s): (f64, f64)) -> Objective {
    Objective::LeastTime(Weights::to_search(half_s / quarter_s))
}

/// What beats cost in a row on a scene's drive; `None` where it does not get through one
/// even if nothing is off.
#[must_use]
pub fn beat_costs(scene: &Scene) -> Option<BeatCosts> {
    Timing::of(scene).costs()
}
