//! Reading scans, and what can be asked of rigs, readings and scores.

use std::sync::Arc;

use dryturn_cube::net;
use dryturn_handoff::{Frame, Outcome, Source};
use dryturn_record::ledger::{Line, ReadLine, ScoreLine, centres_of};
use dryturn_rehearsal::Score;
use dryturn_units::stop;
use rhai::plugin::export_module;
use rhai::{Array, Dynamic, NativeCallContext};

use super::{begin_on, session};
use crate::session::{Fallible, Session, fault};
use crate::values::answers::{int, shown};
use crate::values::arguments::{facelet, list, ok, within};
use crate::values::handles::{
    CalibrationValue, CubeValue, ReadingValue, RigValue, ScanValue, ScoreValue,
};

fn read_frames(
    s: &Session,
    rig: &RigValue,
    calibration: &CalibrationValue,
    frames: &[Frame],
) -> Fallible<ReadingValue> {
    let reading = ok(s.rehearser.read(&rig.0, &calibration.0, frames))?;
    s.log(Line::Read(Box::new(ReadLine::of(&reading))));
    Ok(ReadingValue(Arc::new(reading)))
}

#[export_module]
pub(crate) mod verbs {
    use super::*;

    /// Reads a scan with the rig's drawing. It sees pixels only.
    ///
    /// * `rig` - the rig that scanned
    /// * `calibration` - what colours look like
    /// * `scan` - the pictures
    ///
    /// Gives the reading.
    ///
    /// ```rhai
    /// let reading = read(rig, calibration, scan);
    /// let surer = read(rig, calibration, [scan, rig.scan(cube)]);
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn read(
        context: NativeCallContext,
        rig: RigValue,
        calibration: CalibrationValue,
        scan: ScanValue,
    ) -> Fallible<ReadingValue> {
        read_frames(&*begin_on(&context, &rig)?, &rig, &calibration, &scan.0.frames)
    }

    /// As above with several scans of one cube, which are read together.
    ///
    /// * `rig` - the rig that scanned
    /// * `calibration` - what colours look like
    /// * `scans` - list of 1 to 100 scans
    ///
    /// Gives the reading.
    #[rhai_fn(name = "read", return_raw)]
    pub(crate) fn read_together(
        context: NativeCallContext,
        rig: RigValue,
        calibration: CalibrationValue,
        scans: Array,
    ) -> Fallible<ReadingValue> {
        let s = begin_on(&context, &rig)?;
        let scans: Vec<ScanValue> = list(scans, "scans")?;
        let all = || scans.iter().flat_map(|scan| &scan.0.frames);
        drop(stop::room(all().map(|frame| frame.pixels.len()).sum()));
        let frames: Vec<Frame> = all().cloned().collect();
        read_frames(&s, &rig, &calibration, &frames)
    }

    /// Compares a reading with the true cube.
    ///
    /// * `reading` - what was read
    /// * `cube` - the true cube
    ///
    /// Gives the score.
    ///
    /// ```rhai
    /// let right = score(reading, cube).right;
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn score(
        context: NativeCallContext,
        reading: ReadingValue,
        cube: CubeValue,
    ) -> Fallible<ScoreValue> {
        let score = Score::of(&reading.0, &cube.0);
        session(&context)?.log(Line::Score(ScoreLine::of(&score, &cube.0)));
        Ok(ScoreValue(Arc::new(score)))
    }

    /// Where a camera was found.
    ///
    /// * `reading` - the reading
    /// * `camera` - whole number of the camera, from 0
    ///
    /// Gives a map of `shift_mm` and `turn_deg` from the drawing, right, down and forward in its
    /// own axes, and `light_ratio`, by what its light has changed since the calibration.
    ///
    /// ```rhai
    /// let brighter = found(reading, 0).light_ratio;
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn found(reading: ReadingValue, camera: i64) -> Fallible<Dynamic> {
        let count = reading.0.cameras.len() as i64;
        let camera = within("the camera's number", camera, 0..=count - 1)? as usize;
        Ok(shown(&reading.0.cameras[camera]))
    }

    /// The colour that was read at a facelet.
    ///
    /// * `reading` - the reading
    /// * `facelet` - text: `"URF"`, `"UF"`, `"U"` and so on
    ///
    /// Gives the face's letter as text; `()` where nothing is known.
    ///
    /// ```rhai
    /// let letter = reading.colour("URF");
    /// ```
    #[rhai_fn(pure, return_raw)]
    pub(crate) fn colour(reading: &mut ReadingValue, facelet: &str) -> Fallible<Dynamic> {
        let colour = reading.0.colour(super::facelet(facelet)?);
        Ok(colour.map_or(Dynamic::UNIT, |face| face.to_string().into()))
    }

    /// List of the facelets that no camera sees.
    #[rhai_fn(get = "hidden", pure)]
    pub(crate) fn rig_hidden(rig: &mut RigValue) -> Array {
        rig.0.patches().hidden().into_iter().map(|f| f.name().into()).collect()
    }

    /// The trial whose errors the rig was built with.
    #[rhai_fn(get = "trial", pure)]
    pub(crate) fn rig_trial(rig: &mut RigValue) -> i64 {
        rig.0.trial() as i64
    }

    /// Whether the pictures make a cube.
    #[rhai_fn(get = "readable", pure)]
    pub(crate) fn readable(reading: &mut ReadingValue) -> bool {
        reading.0.state().is_some()
    }

    /// Why the pictures make no cube, in words; `()` where they make one.
    #[rhai_fn(get = "because", pure)]
    pub(crate) fn because(reading: &mut ReadingValue) -> Dynamic {
        match &reading.0.outcome {
            Outcome::Read(_) => Dynamic::UNIT,
            Outcome::Unreadable { because, .. } => because.clone().into(),
        }
    }

    /// Why the pictures make no cube, as a name to branch on: `too_bright`, `too_dark`, `glare`, `strange`,
    /// `unsolvable`, `no_cube`, `centres_hidden`, `uncertain`, `illegal`, `several` or `hidden`;
    /// `()` where they make one.
    #[rhai_fn(get = "refusal", pure)]
    pub(crate) fn refusal(reading: &mut ReadingValue) -> Dynamic {
        shown(&reading.0.refusal())
    }

    /// The cube that was read; an error where none was.
    ///
    /// ```rhai
    /// if reading.readable {
    ///     note(reading.cube.net);
    /// }
    /// ```
    #[rhai_fn(get = "cube", pure, return_raw)]
    pub(crate) fn reading_cube(reading: &mut ReadingValue) -> Fallible<CubeValue> {
        match &reading.0.outcome {
            Outcome::Read(state) => Ok(CubeValue(*state)),
            Outcome::Unreadable { because, .. } => {
                fault(format!("this reading has no cube: unreadable, because {because}"))
            }
        }
    }

    /// The net that was read, `?` where nothing is known.
    #[rhai_fn(get = "net", pure)]
    pub(crate) fn reading_net(reading: &mut ReadingValue) -> String {
        net::draw(|f| reading.0.colour(f).map_or('?', |face| face.letter()))
    }

    /// How many hidden facelets were inferred.
    #[rhai_fn(get = "inferred", pure)]
    pub(crate) fn inferred(reading: &mut ReadingValue) -> i64 {
        int(reading.0.facelets.iter().filter(|f| f.source == Source::Inferred).count())
    }

    /// How probable the most probable cube is, 0 to 1; `()` from readers that look at each facelet
    /// by itself, and where the pictures fit no cube.
    #[rhai_fn(get = "probability", pure)]
    pub(crate) fn probability(reading: &mut ReadingValue) -> Dynamic {
        reading.0.probability.map_or(Dynamic::UNIT, Into::into)
    }

    /// Logarithm of how many times more probable the most probable cube is than the next; `()`
    /// from readers that look at each facelet by itself.
    #[rhai_fn(get = "odds", pure)]
    pub(crate) fn odds(reading: &mut ReadingValue) -> Dynamic {
        reading.0.runner_up.map_or(Dynamic::UNIT, |next| Dynamic::from_float(next.log_odds))
    }

    /// Whether it rests on what cube colours usually look like, not on the calibration.
    #[rhai_fn(get = "without_calibration", pure)]
    pub(crate) fn without_calibration(reading: &mut ReadingValue) -> bool {
        reading.0.without_calibration
    }

    /// How many elementary steps it took to make a cube of the samples; the clock charges them.
    #[rhai_fn(get = "steps", pure)]
    pub(crate) fn steps(reading: &mut ReadingValue) -> i64 {
        reading.0.steps as i64
    }

    /// Map: for each of the rig's faces the face whose colour its centre shows, `#{U: "U", …}` as
    /// drawn.
    #[rhai_fn(get = "centres", pure)]
    pub(crate) fn centres(reading: &mut ReadingValue) -> Dynamic {
        shown(&centres_of(&reading.0))
    }

    /// Whether the true cube was read.
    #[rhai_fn(get = "right", pure)]
    pub(crate) fn right(score: &mut ScoreValue) -> bool {
        score.0.right()
    }

    /// How many facelets, seen or inferred, came out wrong.
    #[rhai_fn(get = "mistakes", pure)]
    pub(crate) fn mistakes(score: &mut ScoreValue) -> i64 {
        int(score.0.mistakes.len())
    }
}
