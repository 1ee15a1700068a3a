//! The verbs about tuning.

use super::Verbs;

pub(super) const TUNING: Verbs = &[
    (
        "leads(scene)",
        "The clearance table of the policy `Predict`: list of `late` and `next` (`quarter` or `half`), `same_sense` (whether both turn the same way about), `lead_ms` (how long before the late turn's set-point stops the next may begin) and `to_go_deg` (how far it is from its stop then).",
    ),
    (
        "tune(scene)",
        "The fastest settings of policy, margin, gains, speed and torque that hardly ever fail, proved on fresh trials and cubes. `tune(scene, options)` takes `#{ jam_rate: 0.01, safety_factor: 2.0, candidates: 64, proof: 2000, allow: [\"drive.bus_voltage_v=30..48\", \"shafts.*.width_mm=6..10\"], keep: [\"drive.speed_limit_rad_s\"] }`: the share that fails stays below `jam_rate` at 95 % confidence (jams and other stops), the weakest shaft is `safety_factor` times as strong as the torque limit, `allow` frees more fields, `keep` leaves fields as they are. The report shows it.",
    ),
    ("tuning.found", "Whether there are such settings."),
    ("tuning.because", "Why there are none; `()` where there are."),
    (
        "tuning.scene",
        "The scene with the settings; this and what follows is an error where there are none.",
    ),
    ("tuning.settings", "List of what has changed: `field`, `before`, `after`, all texts."),
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
    ("tuning.limits", "List of texts: what keeps the settings from being faster."),
    ("tuning.summary", "All that as text."),
];
