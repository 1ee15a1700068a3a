//! Many rehearsals with fresh seeds, and what they add up to.

use std::ops::ControlFlow;
use std::sync::Arc;

use dryturn_cube::{CubeState, Face, Stickering};
use dryturn_handoff::{GuestFault, Jam, Outcome, Stop};
use dryturn_reading::{CalibrationError, Patches};
use dryturn_rehearsal::{BuiltRig, Mistake, Pass, Rehearser, Score, Stages, Verdict};
use dryturn_scene::Scene;
use dryturn_statistics::quantile;
use dryturn_units::stop::carried;
use rayon::prelude::*;

use crate::failures::{FailureKind, Failures};
use crate::work::Watch;

/// What is kept of one trial.
#[derive(Clone, Debug)]
pub struct Trial {
    /// Its number, which names its draws.
    pub number: u64,
    /// The true state.
    pub truth: CubeState,
    /// The reading against the truth.
    pub score: Score,
    /// Why nothing could be read.
    pub because: Option<String>,
    /// Whether the plan solves the state that was read; `None` without a plan.
    pub plan_solves_reading: Option<bool>,
    /// Turns and beats of the plan.
    pub plan_size: Option<(usize, usize)>,
    /// Execution time, s; to the jam or stop where it did not complete.
    pub total_s: Option<f64>,
    /// The jam.
    pub jam: Option<Jam>,
    /// What else broke it off.
    pub stop: Option<Stop>,
    /// How it ended.
    pub verdict: Verdict,
    /// The guest that could not go on, and why.
    pub fault: Option<GuestFault>,
}

impl From<Pass> for Trial {
    fn from(pass: Pass) -> Self {
        let because = match &pass.reading.outcome {
            Outcome::Unreadable { because, .. } => Some(because.clone()),
            Outcome::Read(_) => None,
        };
        Self {
            number: pass.trial,
            truth: pass.truth,
            because,
            plan_solves_reading: pass.plan_solves_reading(),
            plan_size: pass.plan.as_ref().map(|plan| (plan.turns().len(), plan.beats.len())),
            total_s: pass.run.as_ref().map(|run| run.total_s),
            jam: pass.run.as_ref().and_then(|run| run.jam().cloned()),
            stop: pass.run.as_ref().and_then(|run| run.stop().copied()),
            verdict: pass.verdict,
            fault: pass.fault,
            score: pass.score,
        }
    }
}

/// Many trials of one scene.
#[derive(Clone, Debug)]
pub struct Drill {
    /// The scene that was read and driven in.
    pub scene: Arc<Scene>,
    /// The scene whose light the reading was calibrated in.
    pub calibrated_in: Arc<Scene>,
    /// In order of their numbers.
    pub trials: Vec<Trial>,
}

impl Drill {
    /// Trials whose true state was read.
    #[must_use]
    pub fn right_reads(&self) -> usize {
        self.count(|trial| trial.score.right())
    }

    /// Trials that satisfy a condition.
    pub fn count(&self, condition: impl Fn(&Trial) -> bool) -> usize {
        self.trials.iter().filter(|trial| condition(trial)).count()
    }

    /// Trials that ended so.
    #[must_use]
    pub fn ended(&self, verdict: Verdict) -> usize {
        self.count(|trial| trial.verdict == verdict)
    }

    /// Runs that were broken off, by kind; trials without a run count as if they were not.
    #[must_use]
    pub fn failures(&self) -> Failures {
        let kind = |trial: &Trial| FailureKind::of(trial.jam.as_ref(), trial.stop.as_ref());
        self.trials.iter().map(kind).collect()
    }

    /// Execution times of the trials that were completed, s, sorted.
    #[must_use]
    pub fn completed_times_s(&self) -> Vec<f64> {
        let completed =
            self.trials.iter().filter(|trial| trial.jam.is_none() && trial.stop.is_none());
        let mut times: Vec<f64> = completed.filter_map(|trial| trial.total_s).collect();
        times.sort_by(f64::total_cmp);
        times
    }

    /// Quantile of the completed trials' times, ms.
    #[must_use]
    pub fn time_ms(&self, share: f64) -> Option<f64> {
        quantile(&self.completed_times_s(), share).map(|s| s * 1e3)
    }

    /// How often each colour (row, true) was read as each other (column), over
    /// all facelets of all trials; the diagonal is zero.
    #[must_use]
    pub fn confusion(&self) -> [[usize; 6]; 6] {
        let mut table = [[0; 6]; 6];
        for Mistake { read, truth, .. } in self.trials.iter().flat_map(|t| &t.score.mistakes) {
            table[truth.index()][read.index()] += 1;
        }
        table
    }

    /// Trials in which a facelet was taken for the other of two colours.
    #[must_use]
    pub fn cubes_confusing(&self, one: Face, other: Face) -> usize {
        self.count(|trial| trial.score.confused(one, other))
    }
}

impl Drill {
    /// Rehearses `count` trials, each with its own rig, stickers, scramble and
    /// noise, on all threads of the current pool. `calibrated_in` gives the light
    /// of the calibration. `progress` is told the number of trials done, and may
    /// break off: the result is then `None`.
    ///
    /// # Errors
    /// When a calibration fails; the first trial's in order of number.
    pub fn of(
        rehearser: &Rehearser,
        scene: &Arc<Scene>,
        calibrated_in: &Arc<Scene>,
        count: usize,
        progress: &(dyn Fn(usize) -> ControlFlow<()> + Sync),
    ) -> Result<Option<Self>, CalibrationError> {
        let patches = Arc::new(Patches::of(scene));
        let same_light = Arc::ptr_eq(scene, calibrated_in);
        let calibration_patches =
            if same_light { patches.clone() } else { Arc::new(Patches::of(calibrated_in)) };
        let watch = Watch::new(progress);
        let trial = |number: u64| {
            if watch.stopped() {
                return Ok(None);
            }
            let rig = BuiltRig::with_patches(scene, &patches, rehearser.seed(), number);
            let calibration = if same_light {
                rig.calibrate()?
            } else {
                BuiltRig::with_patches(
                    calibrated_in,
                    &calibration_patches,
                    rehearser.seed(),
                    number,
                )
                .calibrate()?
            };
            let truth = rehearser.random_cube(number);
            let scan = rig.scan_unlabelled(&Stickering::from(&truth));
            let mut stages = Stages::ours(&calibration);
            let pass = rehearser.rehearse_scan(&rig, &truth, scan, &mut stages)?;
            watch.step();
            Ok(Some(Trial::from(pass)))
        };
        let trials: Vec<Result<Option<Trial>, CalibrationError>> =
            (0..count as u64).into_par_iter().map(carried(trial)).collect();
        let trials: Option<Vec<Trial>> = trials.into_iter().collect::<Result<_, _>>()?;
        let (scene, calibrated_in) = (scene.clone(), calibrated_in.clone());
        Ok(trials.map(|trials| Self { scene, calibrated_in, trials }))
    }
}
