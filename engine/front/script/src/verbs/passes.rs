//! Whole passes.

use std::sync::Arc;

use dryturn_guests::Company;
use dryturn_reading::Calibration;
use dryturn_record::Exhibit;
use dryturn_record::ledger::{
    ClockMs, ExecuteLine, JudgeLine, Line, PlanLine, ReadLine, ScanLine, ScoreLine,
};
use dryturn_rehearsal::{Pass, Verdict};
use dryturn_units::stop;
use rhai::plugin::export_module;
use rhai::{Dynamic, NativeCallContext};

use super::{begin, begin_on, guests, stages};
use crate::session::{Fallible, Session};
use crate::values::answers::{float_or_unit, int, shown};
use crate::values::handles::{
    CalibrationValue, CubeValue, Executed, PassValue, PlanValue, ReadingValue, RigValue, RunValue,
    ScanValue, SceneValue, scan_bytes,
};
use crate::values::learnt::Lesson;

/// What a pass holds besides its scan: a run's trace above all.
const PASS_BYTES: usize = 2 << 20;

fn rehearsed(
    s: &Session,
    rig: &RigValue,
    company: Company,
    learnt: (Option<&Calibration>, &Lesson),
    cube: &CubeValue,
) -> Fallible<PassValue> {
    s.count_scan()?;
    let pass = guests::played(s, rig, company, learnt, cube)?;
    let own = scan_bytes(&pass.scan) + PASS_BYTES;
    let pass = s.made_on(&rig.0, pass, own);
    logged(s, &pass);
    s.show(Exhibit::Pass(pass.clone()));
    Ok(PassValue(pass))
}

/// One ledger line for each stage of a pass.
fn logged(s: &Session, pass: &Pass) {
    s.log(Line::Scan(ScanLine::of(&pass.scan, pass.trial)));
    let reader = pass.guests.reader.as_deref();
    s.log(Line::Read(Box::new(ReadLine::of(&pass.reading).read_by(reader))));
    s.log(Line::Score(ScoreLine::of(&pass.score, &pass.truth)));
    if let (Some(plan), Some(state)) = (&pass.plan, pass.reading.state()) {
        let planner = pass.guests.planner.as_deref();
        s.log(Line::Plan(PlanLine::of(plan, state).planned_by(planner)));
    }
    if let Some(line) = ExecuteLine::of_pass(pass) {
        s.log(Line::Execute(Box::new(line)));
    }
    s.log(Line::Judge(JudgeLine::of(pass)));
}

fn whole(s: &Session, scene: &SceneValue, trial: i64) -> Fallible<PassValue> {
    let rig = stages::built(s, scene, trial)?;
    let company = guests::company(s, &scene.0)?;
    let cube = CubeValue(s.rehearser.random_cube(rig.0.trial()));
    if company.reader.is_some() {
        return rehearsed(s, &rig, company, (None, &Lesson::of(&rig.0, None)), &cube);
    }
    let calibration = stages::calibrated(s, &rig)?;
    let learnt = (Some(&calibration.0.calibration), &calibration.0.lesson);
    rehearsed(s, &rig, company, learnt, &cube)
}

#[export_module]
pub(crate) mod verbs {
    use super::*;

    /// Builds, calibrates, scrambles, scans, reads, plans, executes and judges trial 0. The report
    /// shows it. Guests play here and in `drill_rehearsals`, in no other verb: those of the scene,
    /// where the program was called with --allow-guests, and those of --guest. They are started
    /// anew for each pass.
    ///
    /// * `scene` - what is drawn
    ///
    /// Gives the pass.
    ///
    /// ```rhai
    /// let pass = rehearse(foyer);
    /// let another = rehearse(foyer, 7);
    /// let own = rehearse(rig, calibration, cube_after("R U F"));
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn rehearse(context: NativeCallContext, scene: SceneValue) -> Fallible<PassValue> {
        whole(&*begin(&context, None)?, &scene, 0)
    }

    /// As above with another trial.
    ///
    /// * `scene` - what is drawn
    /// * `trial` - whole number from 0
    ///
    /// Gives the pass.
    #[rhai_fn(name = "rehearse", return_raw)]
    pub(crate) fn rehearse_trial(
        context: NativeCallContext,
        scene: SceneValue,
        trial: i64,
    ) -> Fallible<PassValue> {
        whole(&*begin(&context, u64::try_from(trial).ok())?, &scene, trial)
    }

    /// As above with what you have: scans, reads, plans, executes and judges.
    ///
    /// * `rig` - the rig
    /// * `calibration` - what colours look like
    /// * `cube` - the cube in it
    ///
    /// Gives the pass.
    #[rhai_fn(name = "rehearse", return_raw)]
    pub(crate) fn rehearse_own(
        context: NativeCallContext,
        rig: RigValue,
        calibration: CalibrationValue,
        cube: CubeValue,
    ) -> Fallible<PassValue> {
        let s = begin_on(&context, &rig)?;
        let company = guests::company(&s, rig.0.scene())?;
        let learnt = (Some(&calibration.0.calibration), &calibration.0.lesson);
        rehearsed(&s, &rig, company, learnt, &cube)
    }

    /// `solved`, `unreadable`, `jammed`, `stopped` (something else than a jam), `misread`, `lost`
    /// or `guest` (a guest could not go on).
    #[rhai_fn(get = "verdict", pure)]
    pub(crate) fn verdict(pass: &mut PassValue) -> String {
        pass.0.verdict.word().to_owned()
    }

    /// The guest that could not go on: map of `role`, `guest`, `question`, `kind`, `wrong` and
    /// `stderr`, its last lines; `()` where none failed.
    #[rhai_fn(get = "guest_fault", pure)]
    pub(crate) fn guest_fault(pass: &mut PassValue) -> Dynamic {
        pass.0.fault.as_ref().map_or(Dynamic::UNIT, shown)
    }

    /// Whether the cube ended up solved.
    #[rhai_fn(get = "solved", pure)]
    pub(crate) fn solved(pass: &mut PassValue) -> bool {
        pass.0.verdict == Verdict::Solved
    }

    /// Whether the true cube was read.
    #[rhai_fn(get = "read_right", pure)]
    pub(crate) fn read_right(pass: &mut PassValue) -> bool {
        pass.0.score.right()
    }

    /// How many facelets, seen or inferred, came out wrong.
    #[rhai_fn(get = "mistakes", pure)]
    pub(crate) fn mistakes(pass: &mut PassValue) -> i64 {
        int(pass.0.score.mistakes.len())
    }

    /// Execution time, ms; `()` where nothing was executed.
    #[rhai_fn(get = "time_ms", pure)]
    pub(crate) fn time_ms(pass: &mut PassValue) -> Dynamic {
        float_or_unit(pass.0.run.as_ref().map(|run| run.total_s * 1e3))
    }

    /// From the start button to the last stop, ms: map of `exposure`, `read_out`, `transfer`,
    /// `reading`, `search`, `execution`, `total`; `()` where nothing was executed.
    #[rhai_fn(get = "start_to_stop", pure)]
    pub(crate) fn start_to_stop(pass: &mut PassValue) -> Dynamic {
        let budget = pass.0.start_to_stop();
        budget.map_or(Dynamic::UNIT, |budget| shown(&ClockMs::of(&budget)))
    }

    /// The scan.
    #[rhai_fn(get = "scan", pure)]
    pub(crate) fn scan(pass: &mut PassValue) -> ScanValue {
        drop(stop::room(scan_bytes(&pass.0.scan)));
        ScanValue(Arc::new(pass.0.scan.clone()))
    }

    /// The reading.
    #[rhai_fn(get = "reading", pure)]
    pub(crate) fn reading(pass: &mut PassValue) -> ReadingValue {
        ReadingValue(Arc::new(pass.0.reading.clone()))
    }

    /// The true cube.
    #[rhai_fn(get = "cube", pure)]
    pub(crate) fn cube(pass: &mut PassValue) -> CubeValue {
        CubeValue(pass.0.truth)
    }

    /// The plan; `()` where nothing was read.
    #[rhai_fn(get = "plan", pure)]
    pub(crate) fn plan(pass: &mut PassValue) -> Dynamic {
        let plan = pass.0.plan.clone();
        plan.map_or(Dynamic::UNIT, |plan| Dynamic::from(PlanValue(Arc::new(plan))))
    }

    /// The run; `()` where nothing was read.
    #[rhai_fn(get = "run", pure)]
    pub(crate) fn run(pass: &mut PassValue) -> Dynamic {
        let (Some(plan), Some(run)) = (&pass.0.plan, &pass.0.run) else { return Dynamic::UNIT };
        let (plan, run) = (Arc::new(plan.clone()), Arc::new(run.clone()));
        Dynamic::from(RunValue(Arc::new(Executed { scene: pass.0.scene.clone(), plan, run })))
    }
}
