//! A plan for a rig as one JSON document.

use dryturn_cube::{Turn, notation};
use dryturn_handoff::CuedBeat;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::draft::times;
use super::{FollowedCounts, RigPlan, RowTime};
use crate::cautions::CAUTIONS;
use crate::{digest, finite};

/// One beat, or the end.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RigBeat {
    /// Its turns in WCA notation; none at the end.
    pub turns: String,
    /// What each encoder shall read at its end, since homing.
    pub to_deg: Vec<f64>,
    /// What must hold before it starts.
    pub start_when: Vec<String>,
    /// So long after the beat before it must hold, or everything is stopped.
    pub time_out_ms: f64,
    /// When it starts if nothing is off; −1 where the predicted run does not come so far.
    pub start_ms: f64,
    /// How long its longest turn takes.
    pub duration_ms: f64,
}

impl RigBeat {
    /// Of a beat and what its rows are predicted to take.
    fn of(beat: &CuedBeat, rows: &[RowTime]) -> Self {
        let turns: Vec<Turn> = beat.turns.iter().map(|turn| turn.turn).collect();
        Self {
            turns: notation::format(&turns),
            to_deg: beat.turns.iter().map(|turn| turn.to_deg).collect(),
            start_when: beat.cues.iter().map(ToString::to_string).collect(),
            time_out_ms: beat.time_out_ms,
            start_ms: rows.iter().map(|row| row.start_ms).fold(f64::NEG_INFINITY, f64::max),
            duration_ms: rows.iter().map(|row| row.duration_ms).fold(0.0, f64::max),
        }
    }
}

/// The textbook's plan, to compare with.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RigTextbook {
    /// In WCA notation.
    pub plan: String,
    /// How many turns.
    pub turns: usize,
    /// Predicted time at the ceiling; null where it does not get through.
    pub total_ms: Option<f64>,
}

/// A plan for a rig.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct RigPlanDocument {
    /// Name and version of the format.
    pub format: String,
    /// What it is and what it was made of.
    pub about: Vec<String>,
    /// What anybody who goes on to real hardware must know.
    pub cautions: Vec<String>,
    /// Name of the scene.
    pub scene: String,
    /// In WCA notation.
    pub plan: String,
    /// The beats.
    pub beats: Vec<RigBeat>,
    /// The end.
    pub end: RigBeat,
    /// How near to its turn's end a settled face's encoder is.
    pub settled_within_deg: f64,
    /// How long it must have been.
    pub settled_for_ms: f64,
    /// Predicted time.
    pub total_ms: f64,
    /// Of it, turning.
    pub turning_ms: f64,
    /// Of it, between turns.
    pub between_ms: f64,
    /// The textbook's plan; null where it was not asked for.
    pub textbook: Option<RigTextbook>,
    /// Share of the torque above friction that it may use.
    pub ceiling_share: f64,
    /// The torque limit that follows.
    pub torque_limit_n_m: f64,
    /// Speeds and accelerations over those without a ceiling.
    pub pace_ratio: f64,
    /// By what turns start.
    pub starts_by: String,
    /// Whether turns begin before others end.
    pub overlaps: bool,
    /// Whether a firmware may take it for safe.
    pub safe: bool,
    /// Refusals that were overruled; none where it is safe.
    #[serde(rename = "unsafe")]
    pub overruled: Vec<String>,
    /// How the executions of its proof ended.
    #[serde(flatten)]
    pub proof: FollowedCounts,
    /// At most this share fails, at 95 % confidence.
    pub fail_at_most_share: f64,
    /// Median time of the proof; null where none completes.
    pub median_ms: Option<f64>,
    /// Strength over torque, least of all shafts and executions; null where nothing turned.
    pub safety_factor: Option<f64>,
    /// The cube that it is for: six named faces of three rows.
    pub faces: String,
    /// SHA-256 of that text.
    pub state_hash: String,
    /// SHA-256 of the rows' file.
    pub csv_sha256: String,
}

impl RigPlan {
    /// The same as one document, with what else is known.
    #[must_use]
    pub fn document(&self) -> RigPlanDocument {
        let times = times(&self.timing, &self.sheet, &self.run);
        let mut rest = &times[..];
        let mut beat = |beat: &CuedBeat| {
            let (own, others) = rest.split_at(beat.turns.len().max(1).min(rest.len()));
            rest = others;
            RigBeat::of(beat, own)
        };
        let beats: Vec<RigBeat> = self.sheet.beats.iter().map(&mut beat).collect();
        let end = beat(&self.sheet.end);
        let followed = &self.followed;
        let turning_s = self.turning_s();
        let textbook = self.textbook.as_ref().map(|plan| RigTextbook {
            plan: plan.notation(),
            turns: plan.turns().len(),
            total_ms: self.timing.total_s(plan).map(|s| s * 1e3),
        });
        let about = self.about.iter().filter(|text| !text.starts_with("CAUTION"));
        RigPlanDocument {
            format: "dryturn rig plan 2".to_owned(),
            about: about.cloned().collect(),
            cautions: CAUTIONS.map(str::to_owned).to_vec(),
            scene: self.scene.clone(),
            plan: self.plan.notation(),
            beats,
            end,
            settled_within_deg: self.sheet.window_deg,
            settled_for_ms: self.sheet.dwell_ms,
            total_ms: self.total_s() * 1e3,
            turning_ms: turning_s * 1e3,
            between_ms: (self.total_s() - turning_s) * 1e3,
            textbook,
            ceiling_share: self.ceiling.share(),
            torque_limit_n_m: self.ceiling.torque_n_m(),
            pace_ratio: self.ceiling.pace_ratio(),
            starts_by: self.starts_by(),
            overlaps: self.overlaps(),
            safe: self.safe(),
            overruled: self.overruled.clone(),
            proof: followed.counts,
            fail_at_most_share: followed.fail_at_most_share(),
            median_ms: followed.time_s(0.5).map(|s| s * 1e3),
            safety_factor: finite(followed.safety_factor_ratio),
            faces: self.faces(),
            state_hash: self.state_hash(),
            csv_sha256: digest(self.csv().as_bytes()),
        }
    }
}
