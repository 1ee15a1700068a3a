//! The verbs about tuning.

use super::Verbs;

pub(super) const TUNING: Verbs = &[
    (
        "leads(scene)",
        "The clearance table of the policy `Predict`: list of `late` and `next` (`quarter` or `half`), `same_sense` (whether both turn the same way about), `lead_ms` (how long before the late turn's set-point stops the next may begin) `to_go_deg` (how far it is from its stop then), `nearest_mm` (how near the pieces of both come by their set-points; below zero they overlap and push each other aside), `nearest_late_deg` and `nearest_turned_deg` (where: how far the late one is from its stop, and the next one from where it began), `says` (all that as a sentence).",
    ),
    (
        "tune(scene)",
        "The fastest settings of policy, margin, gains, speed and torque that hardly ever fail, proved on fresh trials and cubes. A clearance margin below zero, at which pieces push each other aside, is used only where `allow` has it. `tune(scene, options)` takes `#{ jam_rate: 0.01, safety_factor: 2.0, candidates: 64, proof: 2000, allow: [\"drive.bus_voltage_v=30,36,48\", \"shafts.*.width_mm=6..10\"], keep: [\"drive.speed_limit_rad_s\"] }`: the share that fails stays below `jam_rate` at 95 % confidence (jams and other stops), the weakest shaft is `safety_factor` times as strong as the torque limit, `allow` frees more fields, each within a range or a list of values, `keep` leaves fields as they are. The report shows it.",
    ),
    ("tuning.found", "Whether there are such settings."),
    ("tuning.because", "Why there are none; `()` where there are."),
    (
        "tuning.scene",
        "The scene with the settings; this and what follows is an error where there are none.",
    ),
    (
        "tuning.settings",
        "List of what has changed: `field`, `before`, `after`, `says` (what it does to the rig), all texts.",
    ),
    (
        "tuning.proof",
        "The executions of the proof, as `drill_turning` gives them. Likewise `tuning.before`, the scene as it was, and `tuning.waiting`, the tuned limits with the plainest timing (each beat waits for the settle window, no dwell), all on the same trials and plans.",
    ),
    ("tuning.before", "The scene as it was, on those trials and plans."),
    ("tuning.waiting", "The tuned limits with the plainest timing, likewise."),
    (
        "tuning.gap_closed",
        "Share of the way from `tuning.waiting` to the bound that the settings go, by medians and the mean bound.",
    ),
    ("tuning.fail_high", "Upper end of Wilson's 95 % interval of the share that fails."),
    ("tuning.safety_factor", "Strength of the weakest shaft over the torque limit."),
    (
        "tuning.limits",
        "List of texts: what keeps the settings from being faster; what binds first comes first, then what would come after it.",
    ),
    (
        "tuning.below_zero",
        "What a clearance margin below zero would buy with the other settings as found: `says`, and where one is faster and keeps the target `margin_deg`, `saves_ms` with its 95 % interval `low_ms` to `high_ms` (same trials), `failed` of the proof's trials, `overlap_mm` of the pieces at the most; `()` where `allow` had it, or where the margin does not matter.",
    ),
    ("tuning.summary", "All that as text."),
];
