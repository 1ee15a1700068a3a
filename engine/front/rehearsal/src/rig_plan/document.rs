//! A plan for a rig as one JSON document.

use dryturn_cube::{Turn, notation};
use dryturn_handoff::CuedBeat;
use serde_json::{Value as Json, json};

use super::rows::digest;
use super::{RigPlan, times};
use crate::cautions::CAUTIONS;

impl RigPlan {
    /// The same as one JSON document, with what else is known.
    #[must_use]
    pub fn json(&self) -> Json {
        let times = times(&self.timing, &self.sheet, &self.run);
        let mut times = times.iter();
        let mut beat = |beat: &CuedBeat| {
            let turns: Vec<Turn> = beat.turns.iter().map(|turn| turn.turn).collect();
            let cues: Vec<String> = beat.cues.iter().map(ToString::to_string).collect();
            let rows = times.by_ref().take(turns.len().max(1));
            let (start_ms, duration_ms) = rows.fold((f64::NEG_INFINITY, 0.0_f64), |sum, time| {
                (sum.0.max(time.start_ms), sum.1.max(time.duration_ms))
            });
            json!({
                "turns": notation::format(&turns),
                "to_deg": beat.turns.iter().map(|turn| turn.to_deg).collect::<Vec<_>>(),
                "start_when": cues, "time_out_ms": beat.time_out_ms,
                "start_ms": start_ms, "duration_ms": duration_ms,
            })
        };
        let beats: Vec<Json> = self.sheet.beats.iter().map(&mut beat).collect();
        let end = beat(&self.sheet.end);
        let followed = &self.followed;
        let (turning_s, csv) = (self.turning_s(), self.csv());
        json!({
            "format": "dryturn rig plan 2",
            "about": self.about.iter().filter(|text| !text.starts_with("CAUTION")).collect::<Vec<_>>(),
            "cautions": CAUTIONS,
            "scene": self.scene,
            "plan": self.plan.notation(),
            "beats": beats,
            "end": end,
            "settled_within_deg": self.sheet.window_deg,
            "settled_for_ms": self.sheet.dwell_ms,
            "total_ms": self.total_s() * 1e3,
            "turning_ms": turning_s * 1e3,
            "between_ms": (self.total_s() - turning_s) * 1e3,
            "textbook": self.textbook.as_ref().map(|plan| json!({
                "plan": plan.notation(), "turns": plan.turns().len(),
                "total_ms": self.timing.total_s(plan).map(|s| s * 1e3),
            })),
            "ceiling_share": self.ceiling.share(),
            "torque_limit_n_m": self.ceiling.torque_n_m(),
            "pace_ratio": self.ceiling.pace_ratio(),
            "starts_by": self.starts_by(),
            "overlaps": self.overlaps(),
            "safe": self.safe(),
            "unsafe": self.overruled,
            "executions": followed.executions,
            "clean": followed.clean,
            "jammed": followed.jammed,
            "stopped": followed.stopped,
            "pushed": followed.pushed,
            "fail_at_most_share": followed.fail_at_most_share(),
            "median_ms": followed.time_s(0.5).map(|s| s * 1e3),
            "safety_factor": followed.safety_factor_ratio,
            "faces": self.faces(),
            "state_hash": self.state_hash(),
            "csv_sha256": digest(csv.as_bytes()),
        })
    }
}
