//! The verbs about the axes.

use super::Verbs;

pub(super) const AXES: Verbs = &[
    (
        "costs(scene)",
        "What beats cost in a row on the scene's drive if nothing is off, from start to start: `quarter_ms`, `half_ms`, `pair_ms` (opposite quarter turns together), `between_ms` (from a stop to the next start, negative where beats overlap), `half_per_quarter`; `()` where the drive does not get through a row.",
    ),
    ("plan_of(turns)", "The plan of turns in WCA notation; opposite faces in a row share a beat."),
    (
        "plans(scene, count)",
        "List of plans for random cubes, as `random_cube` numbers them, for least machine time on the scene's drive, 20,000 search nodes each; `plans(scene, count, nodes)` sets the budget.",
    ),
    ("execute(rig, cube, plan)", "Turns the cube on the rig's simulated axes."),
    ("run.time_ms", "From the first command to the last stop, or until it was broken off."),
    ("run.bound_ms", "No run of this plan on this drive can be faster."),
    ("run.completed", "Whether every beat was turned."),
    ("run.failure", "Why not, as text; `()` where it was."),
    ("run.jammed", "Whether a jam ended it."),
    ("run.jam", "What happened at the jam; `()` without one."),
    (
        "run.jam_verdict",
        "`pushed through`, `stalled` or `shaft broken`; `()` where no face was stuck.",
    ),
    ("run.noticed_ms", "When the drives noticed the jam; `()` where they did not, or without one."),
    (
        "run.stopped",
        "What else ended it, as text: emergency stop, watchdog, voltage and so on; `()` where nothing did.",
    ),
    ("run.pushed", "How many times a face was stuck and got through."),
    (
        "run.cube",
        "The cube as it really ends up: a face left on its way counts at its nearest stop.",
    ),
    ("run.rest_deg", "List of how far each face is off its nearest stop at the end, U R F D L B."),
    ("run.peak_torque_n_m", "Largest torque in any shaft."),
    ("run.safety_factor", "Strength of a shaft over its largest torque, least of all shafts."),
    (
        "run.energy",
        "Where the energy went, J: `supply_j`, `source_j`, `copper_j`, `friction_j`, `brake_j`, `jam_j`, `detent_j`, `kinetic_j`, `stored_j`; `unaccounted_share` is what is missing, of the supply's.",
    ),
    ("run.highest_v", "Highest bus voltage. Likewise `run.lowest_v`."),
    ("run.lowest_v", "Lowest bus voltage."),
    (
        "run.resistor_c",
        "Brake resistor at its hottest, °C. Likewise `run.winding_c`, the hottest winding.",
    ),
    ("run.winding_c", "The hottest winding, °C."),
    ("run.resent", "How many commands were sent again."),
    (
        "budget(run, face)",
        "What may put a face off its stop though its encoder says that it is there, degrees: `encoder`, `homing`, `backlash`, `wind_up`, `window`, their `sum`; `free` is what pieces let pass without touching, `jam` what they let pass at all.",
    ),
    (
        "square(rig, run)",
        "After a stop: leads the faces that the run left on their way to their nearest stops, slowly. Then scan `run.cube`, read, plan and execute again.",
    ),
    ("squared.ok", "Whether all faces came to their stops."),
    ("squared.stuck", "List of the faces that did not."),
    ("squared.total_ms", "How long it took."),
    ("squared.rest_deg", "List of how far each face is off afterwards, U R F D L B."),
    ("show_run(run, title)", "Shows a run in the report, with its charts."),
    (
        "save_rig_plan(pass, name)",
        "Plans what was read anew for a rig at a ceiling of 25 % of its torque above friction; `save_rig_plan(pass, name, share)` sets it, 0.01 to 1. Writes `name.csv` and `name.json`, `name-drive.h` and a follower in C for a firmware. An error where nothing was read, or where one of 300 executions that follow the file at the ceiling fails even if every turn waits.",
    ),
];

pub(super) const DRILLS: Verbs = &[
    (
        "drill_turning(scene, count)",
        "Executes trials 0 to count − 1 on the axes alone, each with errors of its own, on plans for 24 random cubes in turn; up to 100,000 trials. `drill_turning(scene, count, plans)` takes a list of plans, or one. Trials of one number meet the same luck under every setting: give compared drills the same plans. The report shows it.",
    ),
    (
        "turning.trials",
        "How many. Of them `turning.completed` and `turning.failed`; `turning.jammed` and `turning.stopped` (ended otherwise) are those that failed, `turning.broken` those of them with a broken shaft; `turning.pushed` (a face was stuck and got through).",
    ),
    (
        "turning.failed",
        "How many failed, whatever the cause: jams, broken shafts, stops of drives and all others.",
    ),
    (
        "turning.kinds",
        "Of those that failed how many by each kind, where there are any: map of `jam`, `jam_broke_shaft`, `shaft_broke` (without a jam), `drive_stop`, `link_lost`, `watchdog`, `supply`, `no_shaft`, `emergency_stop`, `simulation_limit`. They add up to `turning.failed`.",
    ),
    (
        "turning.failure_rate",
        "Share that failed; `turning.failure_low` and `turning.failure_high` are Wilson's two-sided 95 % interval, `turning.failures_at_most` the exact one-sided 95 % bound.",
    ),
    ("turning.failure_low", "Lower end of that interval."),
    ("turning.failure_high", "Upper end of that interval."),
    ("turning.failures_at_most", "With 95 % confidence no more fail than this share."),
    ("turning.completed", "How many turned every beat."),
    ("turning.jammed", "How many jammed."),
    ("turning.stopped", "How many something else ended."),
    ("turning.pushed", "In how many a face was stuck and got through."),
    ("turning.broken", "In how many a shaft broke, in a jam or without."),
    (
        "turning.jam_rate",
        "Share that jammed; what failed otherwise is not in it. `turning.jam_low` and `turning.jam_high` are Wilson's two-sided 95 % interval, `turning.jams_at_most` the exact one-sided 95 % bound.",
    ),
    ("turning.jam_low", "Lower end of that interval."),
    ("turning.jam_high", "Upper end of that interval."),
    ("turning.jams_at_most", "With 95 % confidence no more jam than this share."),
    (
        "further_trials(turning, rate)",
        "How many more trials without a failure would support, at 95 %, that fewer than this share fail; 0 where that is supported already. Where a larger share has failed, no such number is to be hoped for.",
    ),
    (
        "time_ms(turning, share)",
        "Quantile of the completed runs' times; `()` where none was completed. `time_low_ms` and `time_high_ms` are its 95 % bootstrap interval.",
    ),
    ("time_low_ms(turning, share)", "Lower end of the quantile's interval."),
    ("time_high_ms(turning, share)", "Upper end of it."),
    ("turning.bound_ms", "Mean over the trials of what no run of their plans can beat."),
    (
        "safety_factor(turning, share)",
        "Quantile of the runs' least safety factors: `safety_factor(d, 0)` is the least of all.",
    ),
    (
        "turning.blame",
        "Who blocked whom, the most frequent first: list of `late`, `blocked` (faces), `against` (whether the late face was off against the other's way, so that corners met), `jams`, `pushed`, `late_deg` (mean).",
    ),
    ("turning.summary", "The figures as text."),
    (
        "show_sweep(title, setting, points)",
        "Shows drills over a setting in the report: the share of all that failed with its interval, split by kind, and the median time; `points` is a list of `[value, drill_turning(…)]`, `setting` names it with its unit.",
    ),
];
