//! The same rig if nothing were off.

use dryturn_scene::Scene;
use dryturn_scene::file::{Faults, SceneFile, Tolerances};

use super::{Ceiling, Machine};

impl Machine {
    /// Of a scene whose rig has no errors and no faults: what a run would be if nothing were
    /// off.
    #[must_use]
    pub fn without_errors(scene: &Scene) -> Self {
        Self::without_errors_below(scene, Ceiling::FULL)
    }

    /// The same below a ceiling that was made for the scene.
    pub(crate) fn without_errors_below(scene: &Scene, ceiling: Ceiling) -> Self {
        Self::of_file(exact(scene.file()), ceiling)
    }
}

/// The same rig without errors and faults.
fn exact(file: &SceneFile) -> SceneFile {
    let mut file = file.clone();
    file.faults = Faults::default();
    let tolerances = &mut file.tolerances;
    *tolerances = Tolerances {
        encoder_error_deg: 0.0,
        homing_error_sigma_deg: 0.0,
        homing_miss_share: 0.0,
        friction_spread_sigma_share: 0.0,
        tension_spread_sigma_share: 0.0,
        inertia_spread_sigma_share: 0.0,
        torque_constant_spread_sigma_share: 0.0,
        strength_spread_sigma_share: 0.0,
        shaft_offset_sigma_mm: 0.0,
        shaft_tilt_sigma_deg: 0.0,
        shaft_run_out_sigma_mm: 0.0,
        ..tolerances.clone()
    };
    file.link.command_jitter_sigma_ms = 0.0;
    file.link.frame_loss_share = 0.0;
    file.link.frame_corrupt_share = 0.0;
    file
}
