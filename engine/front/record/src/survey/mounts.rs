//! What mounts may be off by, and what is lost over it.

use std::collections::BTreeMap;

use dryturn_cube::Facelet;
use dryturn_optics::survey::Losses;
use dryturn_statistics::quantile;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What mounts may be off by.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MountAllowance {
    /// So many standard deviations of the scene's tolerances.
    pub sigmas: f64,
    /// A camera's shift.
    pub shift_mm: f64,
    /// A camera's turn.
    pub turn_deg: f64,
    /// By camera, pixels round each facelet that are not counted on.
    pub rim_px: BTreeMap<String, usize>,
}

/// Shifts in the picture over rigs as mounted.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct ShiftPx {
    /// Of the middle rig; null without rigs.
    pub median: Option<f64>,
    /// 95 % of the rigs have less.
    pub p95: Option<f64>,
}

/// What is lost over mount errors.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct MountsRecord {
    /// Rigs that were built.
    pub draws: usize,
    /// By facelet, in how many of them no camera had evidence of it; facelets never lost are
    /// absent.
    pub lost: BTreeMap<Facelet, usize>,
    /// By camera, in the scene's order.
    pub shift_px: Vec<ShiftPx>,
}

impl MountsRecord {
    pub(super) fn of(losses: &Losses) -> Self {
        let lost = Facelet::all().map(|f| (f, losses.lost[f.index()]));
        let shift = |camera: &Vec<f64>| {
            let mut sorted = camera.clone();
            sorted.sort_by(f64::total_cmp);
            ShiftPx { median: quantile(&sorted, 0.5), p95: quantile(&sorted, 0.95) }
        };
        Self {
            draws: losses.draws,
            lost: lost.filter(|(_, count)| *count > 0).collect(),
            shift_px: losses.shift_px.iter().map(shift).collect(),
        }
    }
}
