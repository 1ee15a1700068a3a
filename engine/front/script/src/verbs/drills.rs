//! Drills: many passes.

use dryturn_record::Exhibit;
use dryturn_record::ledger::{DrillLine, Line, TrialLine};
use dryturn_rehearsal::Verdict;
use dryturn_statistics::share_in_words;
use dryturn_studies::{Drill, DrillRequest};
use rhai::plugin::export_module;
use rhai::{Dynamic, NativeCallContext};

use super::{begin, guests};
use crate::session::{Fallible, Session, fault};
use crate::values::answers::{float_or_unit, int};
use crate::values::arguments::{face_of_colour, ok, share, within};
use crate::values::handles::{DrillValue, SceneValue};

/// Most trials of one drill.
const MAX_TRIALS: i64 = 10_000;

fn drilled(
    s: &Session,
    scene: &SceneValue,
    count: i64,
    calibrated_in: &SceneValue,
) -> Fallible<DrillValue> {
    let count = within("the number of trials", count, 1..=MAX_TRIALS)? as usize;
    let progress = s.watched("drill", count);
    let invited = &s.host.invited();
    let asked = DrillRequest { scene: &scene.0, calibrated_in: &calibrated_in.0, count, invited };
    let Some(drill) = ok(Drill::of(&s.rehearser, &asked, &progress))? else {
        return fault("stopped");
    };
    s.seated(&drill.thought);
    let faults: Vec<_> =
        drill.trials.iter().filter_map(|t| Some((t.number, t.fault.as_ref()?))).collect();
    if let [(number, first), ..] = &faults[..] {
        let of = format!("trial {number}, the first of {}", faults.len());
        s.note(&guests::failed(&of, first))?;
    }
    let left_out = count - drill.trials.len();
    if left_out > 0 {
        s.note(&format!(
            "No guest's answer came in time: the other {left_out} trials are not played."
        ))?;
    }
    let unruly = drill.trials.iter().flat_map(|trial| trial.unruly.iter().zip([trial.number]));
    for (fault, number) in unruly.take(guests::MAX_TOLD) {
        s.note(&format!("After trial {number}: {fault}."))?;
    }
    let drill = s.made(drill);
    for trial in &drill.trials {
        s.log(Line::Trial(Box::new(TrialLine::of(trial))));
    }
    s.log(Line::DrillRehearsals(Box::new(DrillLine::of(&drill))));
    s.budget.keeps();
    s.show(Exhibit::Drill(drill.clone()));
    Ok(DrillValue(drill))
}

/// The drill's figures in a few lines of text.
fn figures(drill: &Drill) -> String {
    let share = |what: &str, count: usize| share_in_words(what, count, drill.trials.len(), 1);
    let mut lines = Vec::new();
    if let Some(played) = drill.guests.in_words() {
        lines.push(played);
    }
    let time = |share: f64| {
        drill.time_ms(share).map_or_else(|| "none".to_owned(), |ms| format!("{ms:.0} ms"))
    };
    lines.extend([
        share("read right", drill.right_reads()),
        share("solved", drill.ended(Verdict::Solved)),
        share("jammed", drill.ended(Verdict::Jammed)),
        share("stopped", drill.ended(Verdict::Stopped)),
        share("unreadable", drill.ended(Verdict::Unreadable)),
    ]);
    // What a guest can do, and Dryturn's own stages hardly ever.
    let rare = [
        ("misread", Verdict::Misread),
        ("lost", Verdict::Lost),
        ("a guest could not go on in", Verdict::Guest),
    ];
    let rare = rare.into_iter().filter(|(_, verdict)| drill.ended(*verdict) > 0);
    lines.extend(rare.map(|(what, verdict)| share(what, drill.ended(verdict))));
    lines.push(format!(
        "execution time of completed runs: 5 % {}, median {}, 95 % {}, longest {}",
        time(0.05),
        time(0.5),
        time(0.95),
        time(1.0)
    ));
    if let Some(luck) = drill.same_luck() {
        lines.push(luck.in_words());
    }
    lines.join("\n")
}

#[export_module]
pub(crate) mod verbs {
    use super::*;

    /// Rehearses trials 0 to count − 1, each with its own rig, stickers, scramble and noise,
    /// calibrated in its own light. The report shows it. Guests play here as in `rehearse`, started
    /// anew for each trial; Dryturn's own stages then take the same trials, with the same luck.
    ///
    /// * `scene` - what is drawn
    /// * `count` - whole number of trials, 1 to 10,000
    ///
    /// Gives the drill.
    ///
    /// ```rhai
    /// let drill = drill_rehearsals(foyer, 2);
    /// let stale = drill_rehearsals(evening, 2, foyer);
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn drill_rehearsals(
        context: NativeCallContext,
        scene: SceneValue,
        count: i64,
    ) -> Fallible<DrillValue> {
        drilled(&*begin(&context, None)?, &scene, count, &scene)
    }

    /// As above, calibrated in the light of another scene instead.
    ///
    /// * `scene` - what is drawn
    /// * `count` - whole number of trials, 1 to 10,000
    /// * `light` - the scene in whose light the calibrations are made
    ///
    /// Gives the drill.
    #[rhai_fn(name = "drill_rehearsals", return_raw)]
    pub(crate) fn drill_in_light(
        context: NativeCallContext,
        scene: SceneValue,
        count: i64,
        light: SceneValue,
    ) -> Fallible<DrillValue> {
        drilled(&*begin(&context, None)?, &scene, count, &light)
    }

    /// Quantile of the completed runs' times.
    ///
    /// * `drill` - the drill
    /// * `share` - number, 0 (the shortest) to 1 (the longest)
    ///
    /// Gives a time in ms; `()` where none was completed.
    ///
    /// ```rhai
    /// let nearly_all = drill.time_ms(0.95);
    /// ```
    #[rhai_fn(pure, return_raw)]
    pub(crate) fn time_ms(drill: &mut DrillValue, share: Dynamic) -> Fallible<Dynamic> {
        Ok(float_or_unit(drill.0.time_ms(super::share(&share)?)))
    }

    /// In how many cubes a facelet of one colour was read as the other.
    ///
    /// * `drill` - the drill
    /// * `one` - text, a colour by name, `"red"`, or the letter of its face
    /// * `other` - text, another colour
    ///
    /// Gives a whole number of cubes.
    ///
    /// ```rhai
    /// let confused = drill.cubes_confusing("red", "orange");
    /// ```
    #[rhai_fn(pure, return_raw)]
    pub(crate) fn cubes_confusing(drill: &mut DrillValue, one: &str, other: &str) -> Fallible<i64> {
        let scene = &drill.0.scene;
        let (one, other) = (face_of_colour(scene, one)?, face_of_colour(scene, other)?);
        Ok(int(drill.0.cubes_confusing(one, other)))
    }

    /// How many trials.
    #[rhai_fn(get = "trials", pure)]
    pub(crate) fn trials(drill: &mut DrillValue) -> i64 {
        int(drill.0.trials.len())
    }

    /// In how many the true cube was read.
    #[rhai_fn(get = "read_right", pure)]
    pub(crate) fn read_right(drill: &mut DrillValue) -> i64 {
        int(drill.0.right_reads())
    }

    /// How many ended with a solved cube.
    #[rhai_fn(get = "solved", pure)]
    pub(crate) fn solved(drill: &mut DrillValue) -> i64 {
        int(drill.0.ended(Verdict::Solved))
    }

    /// How many were refused by the reader.
    #[rhai_fn(get = "unreadable", pure)]
    pub(crate) fn unreadable(drill: &mut DrillValue) -> i64 {
        int(drill.0.ended(Verdict::Unreadable))
    }

    /// How many jammed.
    #[rhai_fn(get = "jammed", pure)]
    pub(crate) fn jammed(drill: &mut DrillValue) -> i64 {
        int(drill.0.ended(Verdict::Jammed))
    }

    /// How many something else than a jam ended.
    #[rhai_fn(get = "stopped", pure)]
    pub(crate) fn stopped(drill: &mut DrillValue) -> i64 {
        int(drill.0.ended(Verdict::Stopped))
    }

    /// In how many a wrong cube was read and turned to the end.
    #[rhai_fn(get = "misread", pure)]
    pub(crate) fn misread(drill: &mut DrillValue) -> i64 {
        int(drill.0.ended(Verdict::Misread))
    }

    /// How many ended elsewhere without a jam.
    #[rhai_fn(get = "lost", pure)]
    pub(crate) fn lost(drill: &mut DrillValue) -> i64 {
        int(drill.0.ended(Verdict::Lost))
    }

    /// In how many a guest could not go on.
    #[rhai_fn(get = "guest_failed", pure)]
    pub(crate) fn guest_failed(drill: &mut DrillValue) -> i64 {
        int(drill.0.ended(Verdict::Guest))
    }

    /// The same trials by Dryturn's own stages alone, with the same luck, a drill; `()` where no
    /// guest played.
    #[rhai_fn(get = "built_in", pure)]
    pub(crate) fn built_in(drill: &mut DrillValue) -> Dynamic {
        let beside = drill.0.built_in.clone();
        beside.map_or(Dynamic::UNIT, |drill| Dynamic::from(DrillValue(drill)))
    }

    /// How many facelets came out wrong in all trials together.
    #[rhai_fn(get = "wrong_facelets", pure)]
    pub(crate) fn wrong_facelets(drill: &mut DrillValue) -> i64 {
        int(drill.0.trials.iter().map(|trial| trial.score.mistakes.len()).sum())
    }

    /// How many plans were made.
    #[rhai_fn(get = "plans", pure)]
    pub(crate) fn plans(drill: &mut DrillValue) -> i64 {
        int(drill.0.count(|t| t.plan_solves_reading.is_some()))
    }

    /// How many of the plans solve the state that was read.
    #[rhai_fn(get = "plans_that_solve", pure)]
    pub(crate) fn plans_that_solve(drill: &mut DrillValue) -> i64 {
        int(drill.0.count(|t| t.plan_solves_reading == Some(true)))
    }

    /// The figures as text.
    #[rhai_fn(get = "summary", pure)]
    pub(crate) fn summary(drill: &mut DrillValue) -> String {
        figures(&drill.0)
    }
}
