//! The trials of a drill, one like the other.

use std::collections::BTreeMap;
use std::ops::ControlFlow;
use std::sync::Arc;
use std::time::Duration;

use dryturn_cube::Stickering;
use dryturn_guests::{Company, Invited, NotInvited, never_answered};
use dryturn_handoff::GuestRole;
use dryturn_reading::{CalibrationError, Patches};
use dryturn_rehearsal::{BuiltRig, Guests, Rehearser, Stages};
use dryturn_scene::Scene;
use thiserror::Error;

use super::{Drill, Trial};
use crate::work::{Watch, all_unless_in_vain};

/// What a drill is asked for.
pub struct DrillRequest<'a> {
    /// The scene that is read and driven in.
    pub scene: &'a Arc<Scene>,
    /// The scene whose light the reading is calibrated in, the same or another one.
    pub calibrated_in: &'a Arc<Scene>,
    /// Trials, numbered from 0.
    pub count: usize,
    /// Who may play besides Dryturn.
    pub invited: &'a Invited,
}

/// Why there is no drill.
#[derive(Debug, Error)]
pub enum DrillFault {
    /// A calibration failed; the first trial's in order of number.
    #[error("{0}: {1}")]
    Calibration(String, CalibrationError),
    /// The scene names a guest that may not play.
    #[error(transparent)]
    NotInvited(#[from] NotInvited),
}

/// One trial: by whoever plays, and beside them by the built-in stages.
struct Played {
    trial: Trial,
    guests: Guests,
    thought: BTreeMap<GuestRole, Duration>,
    built_in: Option<Trial>,
}

/// What all trials share.
struct Series<'a> {
    rehearser: &'a Rehearser,
    asked: &'a DrillRequest<'a>,
    patches: Arc<Patches>,
    calibration_patches: Arc<Patches>,
}

impl<'a> Series<'a> {
    fn new(rehearser: &'a Rehearser, asked: &'a DrillRequest<'a>) -> Self {
        let patches = Arc::new(Patches::of(asked.scene));
        let same_light = Arc::ptr_eq(asked.scene, asked.calibrated_in);
        let calibration_patches =
            if same_light { patches.clone() } else { Arc::new(Patches::of(asked.calibrated_in)) };
        Self { rehearser, asked, patches, calibration_patches }
    }

    /// The rig of a trial, and the same in the light of the calibration where that is another.
    fn rigs(&self, number: u64) -> (BuiltRig, Option<BuiltRig>) {
        let built =
            |scene, patches| BuiltRig::with_patches(scene, patches, self.rehearser.seed(), number);
        let same_light = Arc::ptr_eq(self.asked.scene, self.asked.calibrated_in);
        let before =
            (!same_light).then(|| built(self.asked.calibrated_in, &self.calibration_patches));
        (built(self.asked.scene, &self.patches), before)
    }

    fn played(&self, number: u64) -> Result<Played, DrillFault> {
        let (rig, before) = self.rigs(number);
        let calibrating = before.as_ref().unwrap_or(&rig);
        let mut company = Company::start(self.asked.invited, self.asked.scene)?;
        let calibration = match &mut company.reader {
            None => calibrating.calibrate(),
            Some(reader) => calibrating.calibrate_and_teach(reader),
        };
        let calibration = calibration.map_err(|error| self.failed(error))?;
        let truth = self.rehearser.random_cube(number);
        // Labels take time, and nobody asks for them.
        let scan = rig.scan_unlabelled(&Stickering::from(&truth));
        let pass = |scan, mut stages: Stages<'_>| {
            let passed = self.rehearser.rehearse_scan(&rig, &truth, scan, &mut stages);
            passed.map_err(|error| self.failed(error.into()))
        };
        let beside = || pass(scan.clone(), Stages::ours(&calibration)).map(Trial::from);
        let built_in = company.anybody().then(beside).transpose()?;
        let stages = company.stages(Some(&calibration)).expect("there is a calibration");
        let mut played = pass(scan, stages)?;
        let guests = std::mem::take(&mut played.guests);
        let mut trial = Trial::from(played);
        let thought = company.thought();
        trial.unruly = company.goodbye(trial.fault.as_ref());
        Ok(Played { trial, guests, thought, built_in })
    }

    fn failed(&self, error: CalibrationError) -> DrillFault {
        DrillFault::Calibration(self.asked.calibrated_in.source_name().to_owned(), error)
    }
}

impl Drill {
    /// Rehearses trials 0 to `count` − 1, each with its own rig, stickers, scramble and noise, on
    /// all threads of the current pool. Where guests play, each trial has a company of its own,
    /// and the built-in stages take the same trials; those after the first few are left out where in
    /// none of these a guest answered in time. `progress` is told the number of trials done,
    /// and may break off: the result is then `None`.
    ///
    /// # Errors
    /// A guest that may not play, before anything is rehearsed; a calibration that fails, the
    /// first trial's in order of number.
    pub fn of(
        rehearser: &Rehearser,
        asked: &DrillRequest<'_>,
        progress: &(dyn Fn(usize) -> ControlFlow<()> + Sync),
    ) -> Result<Option<Self>, DrillFault> {
        asked.invited.check(asked.scene)?;
        let series = Series::new(rehearser, asked);
        let watch = Watch::new(progress);
        let trial = |number: usize| -> Result<Option<Played>, DrillFault> {
            if watch.stopped() {
                return Ok(None);
            }
            let played = series.played(number as u64)?;
            watch.step();
            Ok(Some(played))
        };
        let trials = all_unless_in_vain(asked.count, asked.invited, trial, |played: &Played| {
            played.trial.fault.as_ref().is_some_and(never_answered)
        })?;
        Ok(trials.map(|trials| Self::added_up(asked, trials)))
    }

    fn added_up(asked: &DrillRequest<'_>, trials: Vec<Played>) -> Self {
        let guests = trials.first().map(|played| played.guests.clone()).unwrap_or_default();
        let (mut played, mut built_in) = (Vec::with_capacity(trials.len()), Vec::new());
        let mut thought = BTreeMap::new();
        for Played { trial, thought: own, built_in: beside, .. } in trials {
            played.push(trial);
            own.into_iter().for_each(|(role, own)| *thought.entry(role).or_default() += own);
            built_in.extend(beside);
        }
        let drill = |trials, (guests, thought), built_in| Self {
            scene: asked.scene.clone(),
            calibrated_in: asked.calibrated_in.clone(),
            trials,
            guests,
            thought,
            built_in,
        };
        let beside =
            (!built_in.is_empty()).then(|| Arc::new(drill(built_in, Default::default(), None)));
        drill(played, (guests, thought), beside)
    }
}
