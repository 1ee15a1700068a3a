//! What a shaft beside its axis adds to friction.

use dryturn_scene::file::SceneFile;
use dryturn_units::radians;

use super::Rod;

/// Radius at which a pressed core rubs (assumed).
const CORE_RADIUS_M: f64 = 4e-3;
/// How stiff the core is held against a sideways push, N/mm (assumed).
const CORE_N_MM: f64 = 50.0;

/// Friction over how far a shaft is beside its axis, N·m/mm: it bends, the core gives too,
/// and the pressure rubs.
pub(crate) fn rubs_n_m_mm(file: &SceneFile, rod: &Rod) -> f64 {
    let bent_n_mm = rod.bending_n_mm();
    bent_n_mm * CORE_N_MM / (bent_n_mm + CORE_N_MM) * file.cube.friction_ratio * CORE_RADIUS_M
}

/// What shafts beside their axes add to friction at the most, run-out included, where the
/// tolerances come out so many standard deviations wide, N·m.
pub(crate) fn pressed_at_most_n_m(file: &SceneFile, sigmas: f64) -> f64 {
    let tolerances = &file.tolerances;
    let most = file.shafts.iter().map(|shaft| {
        let rod = Rod::of(shaft);
        let tilt_mm = radians(tolerances.shaft_tilt_sigma_deg) * rod.length_mm;
        let beside_mm = (tolerances.shaft_offset_sigma_mm * tolerances.shaft_offset_sigma_mm
            + tilt_mm * tilt_mm)
            .sqrt();
        rubs_n_m_mm(file, &rod) * sigmas * (beside_mm + tolerances.shaft_run_out_sigma_mm)
    });
    most.fold(0.0, f64::max)
}
