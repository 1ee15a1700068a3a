//! The verbs about logs of real axes.

use super::Verbs;

pub(super) const LOGS: Verbs = &[
    (
        "bench_log(rig, face)",
        "What one axis of the rig, alone on the bench, logs: quarter turns there and half turns back at four speeds. `bench_log(rig, face, moves)` takes a list of moves `[quarters, speed_share, torque_share]`: 1, 2, −1 or −2 quarter turns at shares (above 0 to 1) of the highest speed and of the torque limit (0.7 where it is left out). `bench_log(rig, face, moves, noise)` takes standard deviations `#{ angle_deg: 0.02, speed_rad_s: 0.3, current_a: 0.03 }` beside the encoder's own steps; these are the usual ones. A move that the drive has no torque for, or whose set-point takes more than a second, is an error.",
    ),
    (
        "coast_log(rig, face, spin_up)",
        "The axis spins up by a move, its drive lets go, and its angles alone are logged until it stands. `coast_log(rig, face, spin_up, noise)` as above.",
    ),
    (
        "run_log(rig, run)",
        "What the six axes' encoders read, and their currents, in a run, every half millisecond; `run_log(rig, run, noise)` as above.",
    ),
    ("save_log(log, name)", "Writes `name.csv`, for `dryturn identify` or `dryturn overlay`."),
    ("log.samples", "How many samples a log has."),
    (
        "log.truth",
        "What the simulated axis of a bench log really is: `inertia_kg_m2`, `friction_n_m` (mean of the moves), `constant_n_m_per_a`, `limit_n_m`.",
    ),
    (
        "identify(scene, logs)",
        "Fits an axis's inertia, friction and limits from a list of its logs; the last move is kept out and predicted. `identify(scene, logs, move)` keeps another one out, counted from 1. The report shows it. Logs with samples more than 1 and up to 10 ms apart are fitted by simulation.",
    ),
    (
        "value(identified, name)",
        "A figure, or `()` where the logs do not determine it: `inertia_kg_m2`, `coulomb_n_m`, `viscous_n_m_s`, `detent_n_m`, `torque_limit_n_m` (`speed_limit_rad_s` and `acceleration_limit_rad_s2` never: `because` tells the fastest level seen); from coasting logs `coulomb_over_inertia_rad_s2`, `viscous_over_inertia_per_s`, `detent_over_inertia_rad_s2`.",
    ),
    ("error(identified, name)", "Its standard error; `()` where there is none."),
    ("because(identified, name)", "Why it cannot be determined; `()` where it is."),
    ("identified.accepted", "Whether the move that was kept out is predicted well enough."),
    ("identified.torque_off_share", "How far its torque is off, root mean square over its own."),
    ("identified.angle_off_share", "How far its angle, computed from the current, is off."),
    ("identified.constant_n_m_per_a", "The drawn torque constant that torques stand on."),
    ("identified.block", "The lines for the scene's drive block, as text."),
    ("identified.summary", "The figures as text. Likewise `overlay.summary`."),
    ("with_measured(scene, identified)", "The scene with what was determined."),
    (
        "overlay(scene, plan, log)",
        "Lays the log of a run over the simulated run of the same plan on the scene's rig without errors, and fits the figures that might explain the difference: each by itself, and all sets of two and three jointly. The report shows it.",
    ),
    ("overlay.rms_ms", "How far times of turns and hand-overs are off, root mean square."),
    ("overlay.ends_early", "Whether the log ends before the plan."),
    ("overlay.explained", "Whether some single figure explains at least half of it."),
    (
        "overlay.beats_off",
        "List of `beat` (from 1), `turns`, `late_ms`, `longer_ms`, `rms_deg`, each against the simulated run.",
    ),
    (
        "overlay.causes",
        "List of `field`, `what`, `drawn`, `value` (where it explains most), `explained_share`, `rms_ms` (left), `as_good` (cannot be told from the best); the best first, with those that cannot be told from it, in no order; empty where log and drawing agree. A figure that comes first here is no cause for certain: see `overlay.outcome`.",
    ),
    (
        "overlay.outcome",
        "`as_drawn` (rigs of this drawing differ as much by themselves), `certain` (one set of one to three figures explains the log, every other is rejected at 99.9 %), `several`, `unexplained`, or `not_fitted` where too few simulated rigs get through the plan.",
    ),
    (
        "overlay.told",
        "List of the sets of one to three figures that explain the log equally well, the likeliest first: `figures` (list of `field`, `what`, `drawn`, `value`, `interval_95`, `determined`), `chi_square_above` (that of all figures together), `correlations` (rows). A set is left out where the log rejects it at 99 %, or shows one of its figures to be as drawn within a tenth (times and angles: 0.3 ms, 0.3°).",
    ),
    (
        "overlay.joint",
        "All figures fitted together, each taken for as drawn within 30 % or 2 ms beforehand: `figures` as above, `correlations` (rows), `tied` (pairs of `fields` whose `correlation` is above 0.9 in magnitude), `problem` (the fit near its solution, whitened: `at`, `left`, `columns`, `prior`), `chi_square_drawn`, `chi_square`, `measures`, `combinations_determined`.",
    ),
];
