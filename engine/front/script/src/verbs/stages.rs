//! The stages of a pass, one at a time: building, calibrating, scanning.

use std::sync::Arc;

use dryturn_cube::{CubeState, Face, Stickering};
use dryturn_handoff::Scan;
use dryturn_reading::Calibration;
use dryturn_record::ledger::{CalibrateLine, Line, ScanLine};
use dryturn_rehearsal::BuiltRig;
use dryturn_scene::{Course, Posture};
use dryturn_studies::sets::SampleRecord;
use rhai::plugin::export_module;
use rhai::{Array, Dynamic, NativeCallContext};

use super::{begin, begin_on};
use crate::session::{Fallible, Session, fault};
use crate::values::answers::shown;
use crate::values::arguments::{face, facelet, list, number, ok, trial_number};
use crate::values::handles::{
    CalibrationValue, CubeValue, RigValue, ScanValue, SceneValue, scan_bytes,
};
use crate::values::learnt::{Learnt, Lesson};

/// What a calibration holds.
const CALIBRATION_BYTES: usize = 1 << 20;
/// Fastest that a face turns, degrees a second.
const MAX_SPEED_DEG_PER_S: f64 = 20_000.0;

fn limited(what: &str, value: &Dynamic, most: f64) -> Fallible<f64> {
    let value = number(value)?;
    if value.abs() <= most {
        return Ok(value);
    }
    fault(format!("{what} is {value}: must be −{most} to {most}"))
}

pub(super) fn built(s: &Session, scene: &SceneValue, trial: i64) -> Fallible<RigValue> {
    Ok(RigValue(s.made(s.rehearser.build(&scene.0, trial_number(trial)?))))
}

pub(super) fn calibrated(s: &Session, rig: &RigValue) -> Fallible<CalibrationValue> {
    let in_scene = |error| format!("{}: {error}", rig.0.scene().source_name());
    let calibration = ok(rig.0.calibrate().map_err(in_scene))?;
    Ok(learnt(s, rig, calibration, Lesson::of(&rig.0, None)))
}

/// A calibration from a lesson.
fn learnt(
    s: &Session,
    rig: &RigValue,
    calibration: Calibration,
    lesson: Lesson,
) -> CalibrationValue {
    s.log(Line::Calibrate(CalibrateLine::of(&calibration, rig.0.trial(), lesson.scans())));
    CalibrationValue(s.made_on(&rig.0, Learnt { calibration, lesson }, CALIBRATION_BYTES))
}

fn scanned(
    s: &Session,
    rig: &RigValue,
    take: impl FnOnce(&BuiltRig) -> Scan,
) -> Fallible<ScanValue> {
    s.count_scan()?;
    let scan = take(&rig.0);
    let own = scan_bytes(&scan);
    let scan = s.made_on(&rig.0, scan, own);
    s.log(Line::Scan(ScanLine::of(&scan, rig.0.trial())));
    Ok(ScanValue(scan))
}

fn scanned_while(
    s: &Session,
    rig: &RigValue,
    cube: &CubeValue,
    (face, course): (Face, Course),
) -> Fallible<ScanValue> {
    let posture = Posture::of(face, course);
    scanned(s, rig, |rig| rig.scan_turned(&Stickering::from(&cube.0), &posture))
}

#[export_module]
pub(crate) mod verbs {
    use super::*;

    /// Builds a rig from the drawing, with the errors of trial 0.
    ///
    /// * `scene` - what is drawn
    ///
    /// Gives the rig.
    ///
    /// ```rhai
    /// let rig = build(foyer);
    /// let another = build(foyer, 7);
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn build(context: NativeCallContext, scene: SceneValue) -> Fallible<RigValue> {
        built(&*begin(&context, None)?, &scene, 0)
    }

    /// As above with the errors of another trial.
    ///
    /// * `scene` - what is drawn
    /// * `trial` - whole number from 0
    ///
    /// Gives the rig.
    #[rhai_fn(name = "build", return_raw)]
    pub(crate) fn build_trial(
        context: NativeCallContext,
        scene: SceneValue,
        trial: i64,
    ) -> Fallible<RigValue> {
        built(&*begin(&context, u64::try_from(trial).ok())?, &scene, trial)
    }

    /// The same rig, errors and stickers included, under another scene.
    ///
    /// * `rig` - the rig as it is; it stays as it is
    /// * `scene` - the other scene
    ///
    /// Gives the rig there.
    ///
    /// ```rhai
    /// let at_night = rig.moved_to(evening);
    /// ```
    pub(crate) fn moved_to(rig: RigValue, scene: SceneValue) -> RigValue {
        RigValue(Arc::new(rig.0.moved_to(&scene.0)))
    }

    /// Scans a solved cube, mounted six ways, in the rig's light and learns what each colour looks
    /// like at each facelet.
    ///
    /// * `rig` - the rig that scans
    ///
    /// Gives the calibration.
    ///
    /// ```rhai
    /// let calibration = calibrate(rig);
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn calibrate(
        context: NativeCallContext,
        rig: RigValue,
    ) -> Fallible<CalibrationValue> {
        calibrated(&*begin_on(&context, &rig)?, &rig)
    }

    /// As above with scans of known cubes instead.
    ///
    /// * `rig` - the rig that scans
    /// * `cubes` - list of 1 to 100 cubes
    ///
    /// Gives the calibration.
    #[rhai_fn(name = "calibrate", return_raw)]
    pub(crate) fn calibrate_known(
        context: NativeCallContext,
        rig: RigValue,
        cubes: Array,
    ) -> Fallible<CalibrationValue> {
        let s = begin_on(&context, &rig)?;
        let cubes: Vec<CubeValue> = list(cubes, "cubes")?;
        let cubes: Vec<CubeState> = cubes.into_iter().map(|cube| cube.0).collect();
        cubes.iter().try_for_each(|_| s.count_scan())?;
        let scans = rig.0.scan_known(&cubes);
        let found = Calibration::learn(rig.0.patches(), &scans, false);
        let in_scene = |error| format!("{}: {error}", rig.0.scene().source_name());
        let lesson = Lesson::of(&rig.0, Some(cubes));
        Ok(learnt(&s, &rig, ok(found.map_err(in_scene))?, lesson))
    }

    /// The pictures of each camera, one or two as it is set, with labels; each scan of a rig has
    /// its own noise. A script takes at most 1,000 scans by itself.
    ///
    /// * `rig` - the rig that scans
    /// * `cube` - the cube in it
    ///
    /// Gives the scan.
    ///
    /// ```rhai
    /// let scan = scan(rig, cube);
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn scan(
        context: NativeCallContext,
        rig: RigValue,
        cube: CubeValue,
    ) -> Fallible<ScanValue> {
        let s = begin_on(&context, &rig)?;
        scanned(&s, &rig, |rig| rig.scan(&Stickering::from(&cube.0)))
    }

    /// A scan while a face stands turned by an angle.
    ///
    /// * `rig` - the rig that scans
    /// * `cube` - the cube in it
    /// * `face` - text, the letter of the face: U, R, F, D, L or B
    /// * `angle` - number, degrees clockwise, −360 to 360
    ///
    /// Gives the scan.
    ///
    /// ```rhai
    /// let ajar = scan_turned(rig, cube, "U", 20);
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn scan_turned(
        context: NativeCallContext,
        rig: RigValue,
        cube: CubeValue,
        face: &str,
        angle: Dynamic,
    ) -> Fallible<ScanValue> {
        let s = begin_on(&context, &rig)?;
        let angle_deg = limited("the angle", &angle, 360.0)?;
        scanned_while(&s, &rig, &cube, (super::face(face)?, Course::at(angle_deg)))
    }

    /// A scan while a face turns: blurred, and skewed by a rolling shutter.
    ///
    /// * `rig` - the rig that scans
    /// * `cube` - the cube in it
    /// * `face` - text, the letter of the face: U, R, F, D, L or B
    /// * `angle` - number, degrees clockwise at the start of the exposure, −360 to 360
    /// * `speed` - number, degrees a second, −20,000 to 20,000
    ///
    /// Gives the scan.
    ///
    /// ```rhai
    /// let blurred = scan_turning(rig, cube, "R", 10, 3000);
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn scan_turning(
        context: NativeCallContext,
        rig: RigValue,
        cube: CubeValue,
        face: &str,
        angle: Dynamic,
        speed: Dynamic,
    ) -> Fallible<ScanValue> {
        let s = begin_on(&context, &rig)?;
        let from_deg = limited("the angle", &angle, 360.0)?;
        let speed = limited("the speed", &speed, MAX_SPEED_DEG_PER_S)?;
        scanned_while(&s, &rig, &cube, (super::face(face)?, Course::turning(from_deg, speed)))
    }

    /// What a scan's labels say of a facelet in a camera.
    ///
    /// * `scan` - the scan
    /// * `camera` - text, the camera's name in the scene
    /// * `facelet` - text: `"URF"`, `"UF"`, `"U"` and so on
    ///
    /// Gives a map of `visible_px`, `visible_share`, `glare_share`, `clipped_share`, `colour`
    /// (face letter), `linear` and `encoded` (means, red green blue); `()` where the facelet faces
    /// away.
    ///
    /// ```rhai
    /// let pixels = seen(scan, "high", "URF").visible_px;
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn seen(scan: ScanValue, camera: &str, facelet: &str) -> Fallible<Dynamic> {
        let facelet = super::facelet(facelet)?;
        let Some(number) = scan.0.frames.iter().position(|frame| frame.camera == camera) else {
            let names: Vec<&str> = scan.0.frames.iter().map(|f| f.camera.as_str()).collect();
            return fault(format!("{camera:?} is no camera of this scan: {}", names.join(", ")));
        };
        let Some(labels) = scan.0.labels.get(number) else {
            return fault("this scan has no labels");
        };
        let label = labels.facelets.iter().find(|label| label.facelet == facelet);
        Ok(label.map_or(Dynamic::UNIT, |label| shown(&SampleRecord::of(label, label.colour))))
    }
}
