//! Expectations, which are collected and never end the script; settings, notes, files.

use dryturn_handoff::{Content, PixelMap};
use dryturn_record::Expectation;
use dryturn_record::ledger::{ExpectLine, Line};
use dryturn_units::stop;
use rhai::plugin::export_module;
use rhai::{Dynamic, NativeCallContext};

use super::{begin, session};
use crate::session::{Fallible, fault};
use crate::values::arguments::{number, ok, within};
use crate::values::handles::{CalibrationValue, ScanValue};
use crate::values::texts::text_of;

/// Memory of a saved scan's pixel: picture, label and depth.
const SAVED_BYTES: usize = 6;

/// A figure for people: three decimals at most.
fn figure(value: f64) -> String {
    let text = format!("{value:.3}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

fn expected(
    context: &NativeCallContext,
    held: bool,
    figures: String,
    message: &str,
) -> Fallible<()> {
    let s = session(context)?;
    s.count_text(message)?;
    let line = context.call_position().line();
    let message = message.to_owned();
    let mut record = s.record();
    let own = Expectation { message, held, figures, line };
    record.ledger.push(Line::Expect(ExpectLine::of(&own)));
    record.expectations.push(own);
    Ok(())
}

/// Of a value and a bound, each a number: what was wanted, and whether it holds.
fn bounded(
    context: &NativeCallContext,
    (value, bound): (&Dynamic, &Dynamic),
    (words, holds): (&str, fn(f64, f64) -> bool),
    message: &str,
) -> Fallible<()> {
    let (v, b) = (number(value)?, number(bound)?);
    let figures = format!("{}, wanted {words} {}", figure(v), figure(b));
    expected(context, holds(v, b), figures, message)
}

#[export_module]
pub(crate) mod verbs {
    use super::*;

    /// Notes whether the condition holds; the script goes on. The program ends with code 1 if any
    /// did not.
    ///
    /// * `condition` - true or false
    /// * `message` - text, what is expected
    ///
    /// ```rhai
    /// expect(pass.solved, "the cube ends up solved");
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn expect(
        context: NativeCallContext,
        condition: bool,
        message: &str,
    ) -> Fallible<()> {
        expected(&context, condition, condition.to_string(), message)
    }

    /// Holds if the value differs by at most the tolerance.
    ///
    /// * `value` - number
    /// * `wanted` - number, in the same unit
    /// * `tolerance` - number, in the same unit
    /// * `message` - text, what is expected
    ///
    /// ```rhai
    /// expect_near(reading.inferred, 6, 2, "about six facelets are hidden and inferred");
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn expect_near(
        context: NativeCallContext,
        value: Dynamic,
        wanted: Dynamic,
        tolerance: Dynamic,
        message: &str,
    ) -> Fallible<()> {
        let (v, w, t) = (number(&value)?, number(&wanted)?, number(&tolerance)?);
        let figures = format!("{}, wanted {} ± {}", figure(v), figure(w), figure(t));
        expected(&context, (v - w).abs() <= t, figures, message)
    }

    /// Holds if the value is not below the bound.
    ///
    /// * `value` - number
    /// * `bound` - number, in the same unit
    /// * `message` - text, what is expected
    ///
    /// ```rhai
    /// expect_at_least(run.safety_factor, 1.5, "no shaft comes near its strength");
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn expect_at_least(
        context: NativeCallContext,
        value: Dynamic,
        bound: Dynamic,
        message: &str,
    ) -> Fallible<()> {
        bounded(&context, (&value, &bound), ("at least", |v, bound| v >= bound), message)
    }

    /// Holds if the value is not above the bound.
    ///
    /// * `value` - number
    /// * `bound` - number, in the same unit
    /// * `message` - text, what is expected
    ///
    /// ```rhai
    /// expect_at_most(plan.beats, 25, "the plan is short");
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn expect_at_most(
        context: NativeCallContext,
        value: Dynamic,
        bound: Dynamic,
        message: &str,
    ) -> Fallible<()> {
        bounded(&context, (&value, &bound), ("at most", |v, bound| v <= bound), message)
    }

    /// What `--set NAME=VALUE` gives for this name, or the default.
    ///
    /// * `name` - text, the setting's name
    /// * `default` - number, text, true or false
    ///
    /// Gives a value of the default's kind.
    ///
    /// ```rhai
    /// let count = setting("cubes", 10);
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn setting(
        context: NativeCallContext,
        name: &str,
        default: Dynamic,
    ) -> Fallible<Dynamic> {
        let s = session(&context)?;
        let Some(text) = s.setting(name) else { return Ok(default) };
        let (value, wanted) = if default.is_int() {
            (text.parse().ok().map(Dynamic::from_int), "a whole number")
        } else if default.is_float() {
            let number = text.parse().ok().filter(|v: &f64| v.is_finite());
            (number.map(Dynamic::from_float), "a number")
        } else if default.is_bool() {
            (text.parse().ok().map(Dynamic::from_bool), "true or false")
        } else if default.is_string() {
            (Some(text.to_owned().into()), "text")
        } else {
            return fault(format!("the default of setting {name} must be a number, flag or text"));
        };
        match value {
            Some(value) => Ok(value),
            None => fault(format!("setting {name} is {text:?}: must be {wanted}")),
        }
    }

    /// Adds a line to the report. `print(value)` does too.
    ///
    /// * `value` - text, or any other value
    ///
    /// ```rhai
    /// note("plan: " + plan.notation);
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn note(context: NativeCallContext, value: Dynamic) -> Fallible<()> {
        session(&context)?.note(&text_of(&value)?)
    }

    /// The square root, for tolerances of counts.
    ///
    /// * `value` - number, 0 or more
    ///
    /// Gives a number.
    ///
    /// ```rhai
    /// let sigma = sqrt(turning.trials);
    /// ```
    // The root is exact on every machine, unlike the language's own set of maths.
    #[rhai_fn(return_raw)]
    pub(crate) fn sqrt(value: Dynamic) -> Fallible<f64> {
        match number(&value)? {
            root if root >= 0.0 => Ok(root.sqrt()),
            below => fault(format!("sqrt of {below}: it must not be below 0")),
        }
    }

    /// The number as text.
    ///
    /// * `value` - number
    /// * `decimals` - whole number of decimals, 0 to 9
    ///
    /// Gives a text.
    ///
    /// ```rhai
    /// note(rounded(run.time_ms, 1) + " ms");
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn rounded(value: Dynamic, decimals: i64) -> Fallible<String> {
        let decimals = within("the number of decimals", decimals, 0..=9)? as usize;
        Ok(format!("{:.decimals$}", number(&value)?))
    }

    /// Writes `name-CAMERA.png`, `name-CAMERA-labels.png` and `name-CAMERA-depth.png` into the
    /// output folder. Labels are grey values: 0 to 53 facelet, 54 body, 55 shaft, 56 bracket
    /// (motors, fixtures), 57 background. Depth is in tenths of a millimetre along the optical axis,
    /// 16 bits, 65535 for the background.
    ///
    /// * `scan` - the scan
    /// * `name` - text, how the files' names begin
    ///
    /// ```rhai
    /// scan.save_scan("frames/scan");
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn save_scan(
        context: NativeCallContext,
        scan: ScanValue,
        name: &str,
    ) -> Fallible<()> {
        let s = begin(&context, None)?;
        for (frame, labels) in scan.0.frames.iter().zip(&scan.0.labels) {
            drop(stop::room(SAVED_BYTES * labels.codes.len()));
            let base = format!("{name}-{}", frame.camera);
            s.save(&format!("{base}.png"), Content::Frame(frame.clone()))?;
            s.save(&format!("{base}-labels.png"), Content::Map(PixelMap::codes(labels)))?;
            s.save(&format!("{base}-depth.png"), Content::Map(PixelMap::depth(labels)))?;
        }
        Ok(())
    }

    /// Writes a calibration as RON, for `dryturn read --calibration`.
    ///
    /// * `calibration` - the calibration
    /// * `name` - text, the file's name
    ///
    /// ```rhai
    /// calibration.save_calibration("calibration.ron");
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn save_calibration(
        context: NativeCallContext,
        calibration: CalibrationValue,
        name: &str,
    ) -> Fallible<()> {
        let text = ok(ron::ser::to_string(&calibration.0.calibration))?;
        session(&context)?.save(name, Content::Text(text))
    }

    /// Writes a text file into the output folder.
    ///
    /// * `name` - text, the file's name
    /// * `text` - text, what it holds
    ///
    /// ```rhai
    /// save_text("plan.txt", plan.notation);
    /// ```
    #[rhai_fn(return_raw)]
    pub(crate) fn save_text(context: NativeCallContext, name: &str, text: &str) -> Fallible<()> {
        session(&context)?.save(name, Content::Text(text.to_owned()))
    }
}
