//! The ledger's table.

pub(super) const LEDGER: &str = "
## The ledger

`ledger.jsonl` holds one JSON object a line, version 1. Each has `stage`:

| stage | further keys |
| --- | --- |
| `start` | `ledger_version`, `dryturn` (program version), `script`, `script_sha256`, `seed`, `settings` |
| `scene` | `name`, `file`, `scene_sha256` (of the scene as used, every field written out) |
| `calibrate` | `trial`, `scans`, `made_under`, `lamps`, `left_out`, `wrong_when_left_out` (by summed RGB difference, chromaticity, CIELAB, Gaussian classes), `shrinkage_share` |
| `scan` | `trial`, `frames` (`camera`, `width_px`, `height_px`, `pixels_sha256`) |
| `read` | `readable`, `because`, `faces`, `inferred`, `unknown`, `smallest_margin`, `weakest`, `probability` (of the most probable cube; null from readers that look at each facelet by itself), `log_odds` (over the next cube), `without_calibration`, `steps` (of making a cube of the samples; the clock charges them), `centres` (map: face of the rig, face whose colour it shows), `cameras` (`shift_mm`, `turn_deg`, `light_ratio`) |
| `score` | `truth`, `right`, `mistakes` (`facelet`, `read`, `truth`) |
| `plan` | `turns`, `beats`, `solves` (by applying it) |
| `execute` | `trial`, `total_ms`, `bound_ms` (no run can be faster), `beats` (`beat`, `start_ms`, `stop_ms`, `worst_offset_deg`), `failure` (text or null), `failure_kind` (or null: `jam`, `jam_broke_shaft`, `shaft_broke` without a jam, `drive_stop`, `link_lost`, `watchdog`, `supply`, `no_shaft`, `emergency_stop`, `simulation_limit`), `jam`, `stop` (`time_ms`, `beat`, `cause`, or null), `pushed` (list of jams that were got through), `resent`, `peak_torque_n_m`, `safety_factor` (least of all shafts), `shafts` (`face`, `peak_torque_n_m`, `safety_factor`, `peak_current_a`, `winding_c`), `energy` (`supply_j`, `source_j`, `copper_j`, `friction_j`, `brake_j`, `jam_j`, `detent_j`, `kinetic_j`, `stored_j`, `unaccounted_share`), `lowest_v`, `highest_v` (bus), `peak_w`, `resistor_c`, `winding_c` (the hottest), `rest_deg` (off their stops, U R F D L B), `start_to_stop_ms` (`exposure`, `read_out`, `transfer`, `reading`, `search`, `execution`, `total`), `ends_as`, `solved` |
| `square` | `trial`, `stuck` (faces), `total_ms`, `rest_deg` |
| `drill_turning` | a drill of the axes alone: `scene`, `scene_sha256`, `trials`, `plans` (trial n turns plan n modulo their number), `completed`, `failures` (whatever the cause), `jammed`, `stopped`, `pushed` (each `count`, `wilson_95_low`, `wilson_95_high`), `failures_exact_95_upper`, `jams_exact_95_upper` (one-sided), `kinds` (of failures, where any are: `kind` as in `execute`, `says`, `count`, `wilson_95_low`, `wilson_95_high`), `reasons` (`kind`, `says`, `count`), `bound_ms` (mean), `time_ms` (`p05`, `median`, `p95`: each `ms`, `bootstrap_95_low`, `bootstrap_95_high`, or null; `longest`), `safety_factor` (`least`, `p01`, `p05`, `median`), `peak_torque_n_m`, `lowest_v`, `highest_v`, `winding_c`, `resistor_c` (the extremes of all trials), `blame` (`late`, `blocked`, `against`, `jams`, `pushed`, `late_deg`), `axes` (`face`, `late`, `blocked`, `stops`, `broken`), `failed` (numbers of the first 100 trials that failed) |
| `tune` | `scene`, `scene_sha256`, what was asked for (`jam_rate`, `static_safety_factor`, `candidates`, `proof_trials`, `allow`, `keep`), `fields` (that were free), `rounds` (`trials`, `began`, `failing`, `slower`, `beyond`, `stayed`, `best_ms`), `frontier` (`median_ms`, `failures`, `trials`, `kinds`, `policy`), `nearest` (null, or where none keeps the target a `drill_turning` of those that came nearest), `because` (why there are no settings, or null), `found` (null or `settings` (`field`, `before`, `after`, `says`), `failure_wilson_95_low`, `failure_wilson_95_high`, `static_safety_factor`, `start_to_stop_ms`, `gap_closed_share`, `limits`, `next_limits` (texts, what binds first in front), `leads` (null, or as the verb `leads` has them), `clearance` (null or a text), `below_zero` (null, or `tried_deg`, `executions`, `best`: null or `margin_deg`, `saves_ms`, `saves_95_low_ms`, `saves_95_high_ms`, `failures`, `failures_as_found`, `trials`, `overlap_mm`; `says`), `tried`; `drill`, `before` and `waiting` as in `drill_turning`) |
| `search_budgets` | `scene`, `scene_sha256`, `cubes`, `best_nodes`, `points` (`budget`, `nodes`, `search_ms`, `execution_ms`, `total`, `over_best`: each `ms`, `low_ms`, `high_ms`) |
| `compare_rigs` | `safe`, `safe_sha256`, `tuned`, `tuned_sha256`, `cubes`, `compared`, `ways` (`way`, `jammed`, `stopped`, `mean_ms`, `median_ms`, `parts_ms`), `savings` (`what`, `ms`, `low_ms`, `high_ms`, `percent`, `low_percent`, `high_percent`) |
| `identify` | `over_inertia`, `constant_n_m_per_a`, `estimates` (by name with unit: `value`, `error`, `interval_95`, `determined`, `because`), `limits` (`value`, `largest`, `because`), `friction_at` (`speed_rad_s`, `value`), `condition_ratio`, `rows`, `misfit_share`, `corner_hz`, `moves` (`log`, `start_s`, `way_deg`, `top_speed_rad_s`, `friction`), `held_out` (`number`, `torque_off_share`, `angle_off_share`, `end_off_deg`, `accepted`), `fields` (of the drive: `field`, `drawn`, `measured`), `warnings`, `slow` (of logs with samples more than 1 ms apart: `step_ms`, `angle_off_deg`, `current_off_a`; else null) |
| `overlay` | `scene`, `scene_sha256`, `turns`, `ends_early`, `rms_ms`, `explained`, `held_up` (`beat`, `turn`, `what`, `longer_ms`), `beats` and `beats_after` (`beat`, `turns`, `late_ms`, `longer_ms`, `rms_deg`; with the likeliest set of figures, or null), `causes` (each figure by itself: `field`, `what`, `drawn`, `value`, `explained_share`, `rms_ms`, `as_good`), `outcome`, `told` and `joint` (as `overlay.outcome` and so on of scripts), `words` (`verdict`, `lines`, `to_tell_apart`; or null) |
| `judge` | `trial`, `verdict` |
| `trial` | one trial of a drill: `trial` (its number), `verdict`, `read_right`, `because`, `mistakes`, `turns`, `beats`, `plan_solves_reading`, `total_ms`, `jam`, `stop`, `truth` |
| `drill` | `scene`, `calibrated_in`, `trials`, `read_right`, `solved`, `unreadable`, `jammed`, `stopped`, `misread`, `lost` (each `count`, `wilson_95_low`, `wilson_95_high`), `kinds` (of runs that were broken off, as in `drill_turning`), `plans`, `plans_that_solve`, `time_ms` (`p05`, `median`, `p95`, `longest`), `confusion_true_by_read` (faces U R F D L B) |
| `survey` | the keys of `survey.json`: `scene`, `lamps`, `evidence`, `without_evidence`, `known_by_mounting`, `mount_tolerance`, `cameras` (`name`, `facelets`), `mounts`, `findings`, `margins` |
| `readers` | `name`, `calibrated_in`, `scene`, `scans`, `readers` (`method`, `right`, `wrong`, `refused`, `facelets`, `facelets_right`, `wrong_wilson_95_high`, `wrong_exact_95_upper`, `brier`, `claims_99`, `claims_99_right`, `confusion_true_by_read`) |
| `labelled_set` | `name`, and what was asked for: `dryturn` (program version), `seed`, `scene`, `scene_sha256`, `cameras` (`name`, `width_px`, `height_px`, `samples_px`), `scans`, `scrambles`, `vary` (`field`, and `low`, `high`, or `values`; `times` where they are factors), `turned_share`, `validation_share` |
| `expect` | `message`, `held`, `figures`, `line` |
| `end` | `expectations`, `held`; and `unfinished`, true, where the run was ended before the script was |

A `jam` has `time_ms`, `beat` (from 1), `late_face`, `late_angle_deg`,
`allowed_deg`, `blocked_face`, `blocked_angle_deg`, `peak_torque_n_m` and `safety_factor` of the
blocked face's shaft, `verdict` (`pushed through`, `stalled` or `shaft broken`), `noticed_ms`
(null where the drives did not notice) and `blame`.
";
