//! The scene's drive with what was measured, as text for pasting into the scene file.

use core::fmt::Write as _;

use dryturn_scene::file::SceneFile;

use crate::motor::{Identified, LimitKind, Parameter};

/// A field of the scene's drive block, with what it was and shall be.
#[derive(Clone, Debug, PartialEq)]
pub struct DriveField {
    /// Its name in the block.
    pub name: &'static str,
    /// As the scene has it.
    pub drawn: f64,
    /// As measured.
    pub measured: f64,
}

/// A number with four significant digits.
fn rounded(value: f64) -> f64 {
    format!("{value:.3e}").parse().unwrap_or(value)
}

/// Fields that follow from what was determined, so that the simulated axis has the measured
/// totals; and what a person should know.
pub(crate) fn fields(found: &Identified, file: &SceneFile) -> (Vec<DriveField>, Vec<String>) {
    let drive = &file.drive;
    let (mut fields, mut warnings) = (Vec::new(), Vec::new());
    let mut put = |name, drawn: f64, measured: f64| {
        fields.push(DriveField { name, drawn, measured: rounded(measured) });
    };
    if found.over_inertia {
        warnings.push(
            "without currents the logs tell friction over inertia alone, which is no field of the \
             drive: log the current too"
                .to_owned(),
        );
        return (fields, warnings);
    }
    if let Some(inertia) = found.value(Parameter::Inertia) {
        let rest = drive.coupler_inertia_kg_m2 + file.layer_inertia_kg_m2();
        let rotor = inertia - rest;
        if rotor >= 1e-7 {
            put("rotor_inertia_kg_m2", drive.rotor_inertia_kg_m2, rotor);
        } else {
            warnings.push(format!(
                "{inertia:.3e} kg·m² in all is less than the drawn coupler and layer ({rest:.3e}): the \
                 torque constant or those two are drawn wrong"
            ));
        }
    }
    if let Some(friction) = found.value(Parameter::Coulomb) {
        let layer = (friction - drive.bearing_friction_n_m) / file.tension_share();
        if layer >= 0.0 {
            put("friction_torque_n_m", file.friction_torque_n_m(), layer);
        } else {
            warnings.push(format!(
                "{friction:.4} N·m of friction in all is less than the drawn bearings' {:.4}",
                drive.bearing_friction_n_m
            ));
        }
    }
    if let Some(viscous) = found.value(Parameter::Viscous) {
        put("viscous_friction_n_m_s", drive.viscous_friction_n_m_s, viscous);
    }
    if let Some(detent) = found.value(Parameter::Detent) {
        put("detent_torque_n_m", drive.detent_torque_n_m, detent);
    }
    for limit in &found.limits {
        // A level of speed or acceleration may be what was commanded: no field follows.
        if let (LimitKind::Torque, Some(reached)) = (limit.kind, limit.reached) {
            put("torque_limit_n_m", drive.torque_limit_n_m, reached);
            // Else the setting by the voltage would stand beside it.
            put("torque_setting_n_m_per_v", drive.torque_setting_n_m_per_v, 1.0);
        }
    }
    if !found.held_out.accepted() {
        warnings.push(format!(
            "the move that was kept out is not predicted (torque {:.0} % off, angle {:.0} % off, \
             {:.1}° at the end): do not trust these figures yet",
            100.0 * found.held_out.torque_off_share,
            100.0 * found.held_out.angle_off_share,
            found.held_out.end_off_deg
        ));
    }
    (fields, warnings)
}

/// The drive block as RON with nothing but what was determined, `notes` as comment lines
/// above it.
#[must_use]
pub fn written(found: &Identified, notes: &[String]) -> String {
    let mut text: String = notes.iter().map(|note| format!("// {note}\n")).collect();
    if found.fields.is_empty() {
        text.push_str("// Nothing of the drive block is determined.\n");
        return text;
    }
    text.push_str("// Put these lines into the scene's drive block, in place of those it has:\n");
    text.push_str("drive: (\n");
    for field in &found.fields {
        // Writing to a String cannot fail.
        let _ = writeln!(text, "    {}: {:?},", field.name, field.measured);
    }
    text.push_str("),\n");
    text
}
