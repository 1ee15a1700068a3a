//! The verb reference, and the test that keeps it complete.

mod driving;
mod ledger;
mod logs;
mod plans;
mod strangers;
mod tuning;

use core::fmt::Write as _;

/// What is called, and what it does.
type Verbs = &'static [(&'static str, &'static str)];
/// Heading, then verbs.
type Chapter = (&'static str, Verbs);

const CHAPTERS: &[Chapter] = &[
    (
        "Scenes",
        &[
            ("scene(path)", "Loads a scene file; the path is relative to the script's own folder."),
            (
                "changed(scene, path, value)",
                "The scene with one value changed, for instance `changed(foyer, \"lamps.window.flux_lm\", 0)`, `changed(foyer, \"shafts.*.width_mm\", 5)` (of all six), `changed(foyer, \"lamps.*.flux_lm\", \"x0.5\")` (half of what each has). [How fields are named](../scenes/README.md#how-fields-are-named) is the same everywhere.",
            ),
            (
                "resized(scene, width, height)",
                "The scene with so many pixels on the same sensors: fewer are larger, hold more and have less noise.",
            ),
            ("scene.name", "The scene's name."),
        ],
    ),
    (
        "Cubes",
        &[
            ("solved()", "The solved cube."),
            (
                "random_cube(trial)",
                "The random state of trial number `trial`, uniform over all states; it follows from the seed.",
            ),
            (
                "cube_after(turns)",
                "The solved cube after turns in WCA notation: `cube_after(\"R U2 F'\")`.",
            ),
            (
                "cube_of(faces)",
                "The cube with six named faces of three rows: `U=UUU/UUU/UUU R=…`; refuses what is no legal cube.",
            ),
            ("turned(cube, turns)", "The cube after more turns."),
            ("cube.net", "The unfolded net, nine lines of letters."),
            ("cube.faces", "Six named faces of three rows, in one line."),
            ("cube.is_solved", "Whether it is solved. Cubes can be compared with `==` and `!=`."),
        ],
    ),
    (
        "Stages",
        &[
            (
                "build(scene)",
                "Builds a rig from the drawing, with the errors of trial 0. `build(scene, trial)` takes another trial's.",
            ),
            (
                "moved_to(rig, scene)",
                "The same rig, errors and stickers included, under another scene.",
            ),
            (
                "calibrate(rig)",
                "Scans a solved cube, mounted six ways, in the rig's light and learns what each colour looks like at each facelet. `calibrate(rig, cubes)` scans a list of known cubes instead.",
            ),
            (
                "scan(rig, cube)",
                "The pictures of each camera, one or two as it is set, with labels; each scan of a rig has its own noise.",
            ),
            (
                "scan_turned(rig, cube, face, angle)",
                "The same while a face stands turned by an angle, degrees clockwise.",
            ),
            (
                "scan_turning(rig, cube, face, angle, speed)",
                "The same while a face turns, from an angle at the start of the exposure, at a speed in degrees a second: blurred, and skewed by a rolling shutter.",
            ),
            (
                "seen(scan, camera, facelet)",
                "What the labels say: `seen(s, \"high\", \"URF\").visible_px`, likewise `visible_share`, `glare_share`, `clipped_share`, `colour` (face letter), `linear` and `encoded` (means, red green blue); `()` where the facelet faces away.",
            ),
            (
                "read(rig, calibration, scan)",
                "Reads a scan with the rig's drawing. It sees pixels only. A list of scans of one cube is read together.",
            ),
            ("score(reading, cube)", "Compares a reading with the true cube."),
            (
                "plan(cube)",
                "Fewest turns that solve the cube. `plan(cube, nodes)` sets the search budget; `plan(rig, cube)` and `plan(rig, cube, nodes)` plan for least machine time on the rig's drive, as `rehearse` does.",
            ),
            (
                "textbook_plan(cube)",
                "The first plan of a plain search by way of a subgroup (common practice, no source), to compare with.",
            ),
            ("rig.hidden", "List of the facelets that no camera sees."),
            ("rig.trial", "The trial whose errors the rig was built with."),
            ("reading.readable", "Whether the pictures make a cube."),
            ("reading.because", "Why they do not, in words; `()` where they do."),
            (
                "reading.refusal",
                "The same as a name to branch on: `too_bright`, `too_dark`, `glare`, `strange`, `unsolvable`, `no_cube`, `centres_hidden`, `uncertain`, `illegal`, `several` or `hidden`; `()` where they do.",
            ),
            ("reading.cube", "The cube that was read; an error where none was."),
            ("reading.net", "The net that was read, `?` where nothing is known."),
            ("reading.inferred", "How many hidden facelets were inferred."),
            (
                "reading.probability",
                "How probable the most probable cube is, 0 to 1; `()` from readers that look at each facelet by itself, and where the pictures fit no cube.",
            ),
            (
                "reading.odds",
                "Logarithm of how many times more probable the most probable cube is than the next; `()` from readers that look at each facelet by itself.",
            ),
            (
                "reading.without_calibration",
                "Whether it rests on what cube colours usually look like, not on the calibration.",
            ),
            (
                "reading.steps",
                "How many elementary steps it took to make a cube of the samples; the clock charges them.",
            ),
            (
                "reading.centres",
                "Map: for each of the rig's faces the face whose colour its centre shows, `#{U: \"U\", …}` as drawn.",
            ),
            (
                "found(reading, camera)",
                "Where camera number `camera`, from 0, was found: `shift_mm` and `turn_deg` from the drawing, right, down and forward in its own axes, and `light_ratio`, by what its light has changed since the calibration.",
            ),
            (
                "colour(reading, facelet)",
                "Face letter of the colour read at a facelet such as `\"URF\"`.",
            ),
            ("score.right", "Whether the true cube was read."),
            ("score.mistakes", "How many facelets, seen or inferred, came out wrong."),
            ("plan.notation", "The turns in WCA notation."),
            ("plan.turns", "How many turns."),
            ("plan.beats", "How many beats: one turn, or two of opposite faces together."),
        ],
    ),
    ("Axes", driving::AXES),
    ("Drills of the axes", driving::DRILLS),
    ("Tuning", tuning::TUNING),
    ("Plans for a tuned rig", plans::PLANS),
    ("Logs of axes", logs::LOGS),
    (
        "Layouts and pictures",
        &[
            (
                "survey(scene)",
                "What each camera sees of each facelet by the drawing, and how clearly. `survey(scene, rigs)` builds so many rigs with the scene's mount errors too. The report shows it.",
            ),
            ("survey.evidence", "How many of 54 facelets some camera sees well enough."),
            ("survey.without_evidence", "List of those that none does, centres left out."),
            ("survey.findings", "List of what to look at first, as text."),
            (
                "margin(survey, colour, colour)",
                "How far apart two colours are, by name: `survey.margin(\"red\", \"orange\")`. `known` is for who knows the place, `unknown` for who takes the nearest colour by summed RGB difference wherever it is; each holds `worst_sigmas` with its facelet `worst`, `median_sigmas` over the facelets, in standard deviations, and `mistaken_share`, the share of sightings of the two that are taken for each other. `()` where too little is seen.",
            ),
            (
                "expected_wrong(survey, method)",
                "Share of the sightings that a calibration on six mountings will take for another colour when it leaves them out in turn, by the drawing: to be compared with `wrong_left_out`. `()` where too little is seen.",
            ),
            (
                "survey.most_mistaken",
                "The two colours, by name, that the nearest colour mistakes for each other most often; empty where too little is seen.",
            ),
            (
                "surveyed(survey, camera, facelet)",
                "One facelet in one camera: `evidence`, `visible_px`, `sure_px`, `visible_share`, `hidden_by`, `viewing_deg`, `lux`, `glare_share`, `glare_lamp`, `clipped_white_share`, `white_share`, `blur_px`, `noise_share`, `closest`, `closest_sigmas` (for who knows the place); `()` where it faces away.",
            ),
            (
                "labelled_set(scene, scans, name)",
                "Writes pictures with per-pixel index and depth, COCO lists, samples and manifest below `name/`, up to 150 scans. `labelled_set(scene, scans, options, name)` takes `#{ vary: [\"lamps.*.flux_lm=x0.5..x1.5\", \"lamps.upper.spectrum=LedB1,LedB3\"], turned_share: 0.2, validation_share: 0.2, scrambles: 10 }`. `dryturn frames` makes larger sets.",
            ),
            (
                "contact_sheet(scans, title)",
                "Shows the pictures of a list of scans in the report, small.",
            ),
        ],
    ),
    (
        "Calibrations and readers",
        &[
            (
                "compare_readers(name, light, scene, scans)",
                "Scans random cubes in `scene`, five on each rig with errors of its own, and reads every scan in each way that `reader.method` knows, with one calibration made in the light of scene `light`.",
            ),
            (
                "tally(comparison, method)",
                "Figures of one way, for instance `tally(c, \"Likely\").wrong`: `right`, `wrong`, `refused` (cubes), `facelets`, `facelets_right` (seen ones), `wrong_high` (upper end of Wilson's two-sided 95 % interval of the share of wrong cubes among those read), `wrong_upper` (exact one-sided 95 % bound), `brier`, `claims_99` (readings that claim at least 0.99), `claims_99_right`. With a list of comparisons it sums them up.",
            ),
            (
                "show_readers(title, comparisons)",
                "Shows a list of comparisons in the report: table, reliability of the probabilities, confidence, confusions.",
            ),
            ("calibration.left_out", "How many sightings cross-validation left out in turn."),
            (
                "wrong_left_out(calibration, method)",
                "How many of them a way, such as `\"Lab\"`, took for another colour.",
            ),
            (
                "left_out_interval(calibration, method)",
                "Wilson's 95 % interval of the share that it took for another: `[low, high]`.",
            ),
            (
                "confused_left_out(calibration, method, face, face)",
                "How many of them had the colour of one of two faces and were taken for the other's, by `\"Nearest\"` or `\"Gaussian\"`: `confused_left_out(c, \"Nearest\", \"R\", \"L\")`.",
            ),
            (
                "calibration.shrinkage",
                "Share of the covariance that all colours have in common in each colour's, as cross-validation chose it.",
            ),
            (
                "save_classes(rig, calibration, name)",
                "Writes `name.json` and `name.h`: six classes, the same at all places, for other programs; the header is constants for C99.",
            ),
        ],
    ),
    (
        "Whole passes",
        &[
            (
                "rehearse(scene)",
                "Builds, calibrates, scrambles, scans, reads, plans, executes and judges trial 0. `rehearse(scene, trial)` takes another; `rehearse(rig, calibration, cube)` takes what you have. The report shows it.",
            ),
            (
                "pass.verdict",
                "`solved`, `unreadable`, `jammed`, `stopped` (something else than a jam), `misread` or `lost`.",
            ),
            ("pass.solved", "Whether the cube ended up solved."),
            ("pass.read_right", "Whether the true cube was read."),
            ("pass.mistakes", "How many facelets, seen or inferred, came out wrong."),
            ("pass.time_ms", "Execution time; `()` where nothing was executed."),
            (
                "pass.start_to_stop",
                "From the start button to the last stop, ms: `exposure`, `read_out`, `transfer`, `reading`, `search`, `execution`, `total`; `()` where nothing was executed.",
            ),
            (
                "pass.scan",
                "The scan. Likewise `pass.reading`, `pass.cube` (the true one), and `pass.plan` and `pass.run`, which are `()` where nothing was read.",
            ),
        ],
    ),
    (
        "Drills",
        &[
            (
                "drill(scene, count)",
                "Rehearses trials 0 to count − 1, each with its own rig, stickers, scramble and noise, calibrated in its own light. `drill(scene, count, light)` calibrates in the light of scene `light` instead.",
            ),
            ("drill.trials", "How many."),
            (
                "drill.read_right",
                "In how many the true cube was read. Likewise `drill.solved`, `drill.jammed`, `drill.stopped`, `drill.unreadable`, `drill.misread` (a wrong cube, turned to the end), `drill.lost` (ended elsewhere without a jam).",
            ),
            ("drill.wrong_facelets", "How many facelets came out wrong in all trials together."),
            (
                "drill.plans",
                "How many plans were made; `drill.plans_that_solve` of them solve the state that was read.",
            ),
            ("time_ms(drill, share)", "Quantile of the completed runs' times: `time_ms(d, 0.95)`."),
            (
                "cubes_confusing(drill, colour, colour)",
                "In how many cubes a facelet of one colour was read as the other: `cubes_confusing(d, \"red\", \"orange\")`.",
            ),
            ("drill.summary", "The figures as text."),
        ],
    ),
    (
        "Expectations and output",
        &[
            (
                "expect(condition, message)",
                "Notes whether the condition holds; the script goes on. The program ends with code 1 if any did not.",
            ),
            (
                "expect_near(value, wanted, tolerance, message)",
                "Holds if the value differs by at most the tolerance.",
            ),
            (
                "expect_at_least(value, bound, message)",
                "Holds if the value is not below the bound.",
            ),
            ("expect_at_most(value, bound, message)", "Holds if the value is not above the bound."),
            (
                "setting(name, default)",
                "What `--set NAME=VALUE` gives for this name, of the default's kind, or the default.",
            ),
            ("note(value)", "Adds a line to the report. `print(value)` does too."),
            ("sqrt(value)", "The square root, for tolerances of counts."),
            ("rounded(value, decimals)", "The number as text with 0 to 9 decimals."),
            (
                "save_scan(scan, name)",
                "Writes `name-CAMERA.png`, `name-CAMERA-labels.png` and `name-CAMERA-depth.png` into the output folder. Labels are grey values: 0 to 53 facelet, 54 body, 55 shaft, 56 bracket (motors, fixtures), 57 background. Depth is in tenths of a millimetre along the optical axis, 16 bits, 65535 for the background.",
            ),
            (
                "save_calibration(calibration, name)",
                "Writes a calibration as RON, for `dryturn read --calibration`.",
            ),
            ("save_text(name, text)", "Writes a text file into the output folder."),
        ],
    ),
];

/// `scripts/README.md`: verbs, limits and the ledger, as Markdown. A test keeps
/// the file equal to this text.
#[must_use]
pub fn verb_reference() -> String {
    let mut text = String::from(INTRODUCTION);
    for (heading, verbs) in CHAPTERS {
        // Writing to a String cannot fail.
        let _ = write!(text, "\n## {heading}\n\n| verb | what it does |\n| --- | --- |\n");
        for (call, meaning) in *verbs {
            let _ = writeln!(text, "| `{call}` | {meaning} |");
        }
    }
    text.push_str(ledger::LEDGER);
    text.push_str(strangers::STRANGERS);
    text
}

const INTRODUCTION: &str = "\
# Scripts

A script drives rehearsals: `dryturn rehearse scripts/NAME.rhai`. The language is
Rhai (variables, loops, functions, closures); the verbs below are ours. A verb
can be called as `verb(a, b)` or as `a.verb(b)`. Everything random follows from
`--seed`, so the same script and seed give the same bytes.

A script has no clock, reads no files but scenes and their tables, and writes only below the
output folder, when it has ended without an error. [What a stranger's script or scene can and
cannot do](#what-a-strangers-script-or-scene-can-and-cannot-do) is below, with all limits.

This page is written by the program; a test keeps it equal to the verbs that
exist (`UPDATE_GOLDENS=1 cargo test` rewrites it).
";

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;
    use std::sync::Arc;

    use dryturn_units::noise::Seed;

    use super::*;
    use crate::session::{Host, Session, Settings};

    struct Nothing;
    impl Host for Nothing {
        fn read_text(&self, path: &str) -> Result<String, String> {
            Err(path.to_owned())
        }
        fn progress(&self, _: &str, _: usize, _: usize) {}
    }

    /// Every verb that the engine has is described, and every verb that is
    /// described exists.
    #[test]
    fn reference_lists_exactly_the_verbs() {
        let session = Arc::new(Session::new(Seed::new(0), Settings::new(), Arc::new(Nothing)));
        let engine = crate::run::engine(&session);
        let ours = |signature: &str| {
            let name = signature.split('(').next().unwrap_or_default();
            (!matches!(
                name,
                "==" | "!="
                    | "sleep"
                    | "replace"
                    | "to_string"
                    | "print"
                    | "debug"
                    | "to_debug"
                    | "to_json"
                    | "contains"
                    | "get len"
                    | "get$len"
            ))
            .then(|| name.replace("get ", ".").replace("get$", "."))
        };
        let registered: BTreeSet<String> =
            engine.gen_fn_signatures(false).iter().filter_map(|s| ours(s)).collect();
        let text = verb_reference();
        let described = |name: &str| match name.strip_prefix('.') {
            Some(property) => text.contains(&format!(".{property}`")),
            None => text.contains(&format!("`{name}(")),
        };
        let missing: Vec<&String> = registered.iter().filter(|name| !described(name)).collect();
        assert!(missing.is_empty(), "not described: {missing:?}");
        for (call, _) in CHAPTERS.iter().flat_map(|(_, verbs)| *verbs) {
            let name = match call.split_once('(') {
                Some((name, _)) => name.to_owned(),
                None => format!(".{}", call.rsplit('.').next().unwrap_or_default()),
            };
            assert!(registered.contains(&name), "described but not registered: {call}");
        }
    }
}
