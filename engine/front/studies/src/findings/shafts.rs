//! Shafts: whether they fit, hold and turn what they should, and how far off faces may
//! stand.

use dryturn_driving::{Drawn, Machine};
use dryturn_handoff::AngleBudget;
use dryturn_scene::Scene;
use dryturn_scene::file::{Policy, SceneFile, Section, Shaft};

use super::{Finding, FindingKind as Kind, Severity};

/// A shaft should bear so many times the motor's torque: a load that comes at once doubles
/// (Timoshenko and Goodier, from memory).
const SAFE_RATIO: f64 = 2.0;
/// Wind-up under a layer's friction that is worth a word, degrees.
const SOFT_DEG: f64 = 2.0;
/// Shear modulus over shear strength of what rods are made of: printed plastics 40 to 120,
/// aluminium some 130, steels 130 to 400 (from memory), with room on both sides.
const MODULUS_OVER_STRENGTH: core::ops::RangeInclusive<f64> = 15.0..=1200.0;

pub(super) fn findings(scene: &Scene, machine: &Machine) -> Vec<Finding> {
    let file = scene.file();
    let mut found: Vec<Finding> = Vec::new();
    for shaft in &file.shafts {
        let one = One { file, shaft, drawn: machine.drawn(shaft.face.face()) };
        let sizes = [one.fitted(), one.rod(), one.coupler(), one.motor(), one.twist()];
        found.extend(sizes.into_iter().flatten());
        let material = [one.infill(), one.material(), one.strength(machine), one.soft()];
        found.extend(material.into_iter().flatten());
        found.extend(one.budget());
        found.extend(one.release());
    }
    together(found)
}

/// What is found of several shafts alike is said once.
fn together(found: Vec<Finding>) -> Vec<Finding> {
    let mut once: Vec<(Finding, Vec<String>)> = Vec::new();
    for finding in found {
        let shaft = finding.field.strip_prefix("shafts.").and_then(|rest| rest.split('.').next());
        let faces: Vec<String> = shaft.map(str::to_owned).into_iter().collect();
        let alike = |known: &Finding| known.kind == finding.kind && known.says == finding.says;
        match once.iter_mut().find(|(known, _)| alike(known)) {
            Some((_, known)) => known.extend(faces),
            None => once.push((finding, faces)),
        }
    }
    let name = |(mut finding, faces): (Finding, Vec<String>)| {
        if faces.len() > 1 {
            finding.says = format!("{} (faces {})", finding.says, faces.join(" "));
        }
        finding
    };
    once.into_iter().map(name).collect()
}

struct One<'a> {
    file: &'a SceneFile,
    shaft: &'a Shaft,
    drawn: Drawn,
}

impl One<'_> {
    fn field(&self, name: &str) -> String {
        format!("shafts.{}.{name}", self.shaft.face.face())
    }

    fn fitted(&self) -> Option<Finding> {
        (!self.shaft.fitted).then(|| {
            Finding::doubtful(Kind::ShaftNotFitted, self.field("fitted")).says(
                "the face has no shaft to hide anything, though its motor turns it all the same",
                "true, unless you want to see what it hides",
            )
        })
    }

    fn rod(&self) -> Option<Finding> {
        let Shaft { width_mm, coupler_diameter_mm, section, .. } = self.shaft;
        let corners = match section {
            Section::Square => core::f64::consts::SQRT_2,
            Section::Hexagon => 2.0 / 3.0f64.sqrt(),
            Section::Round => 1.0,
        };
        let across_mm = width_mm * corners;
        (across_mm > *coupler_diameter_mm).then(|| {
            Finding::wrong(Kind::RodWiderThanCoupler, self.field("coupler_diameter_mm"))
                .figure("rod_mm", across_mm)
                .figure("coupler_mm", *coupler_diameter_mm)
                .says(
                    format!(
                        "the rod measures {across_mm:.1} mm across its corners, the coupler round \
                         it {coupler_diameter_mm:.1} mm"
                    ),
                    format!("make the coupler wider than {across_mm:.1} mm, or the rod thinner"),
                )
        })
    }

    fn coupler(&self) -> Option<Finding> {
        let Shaft { coupler_diameter_mm, cap_diameter_mm, .. } = self.shaft;
        let pitch_mm = self.file.cube.edge_mm / 3.0;
        let widest_mm = coupler_diameter_mm.max(*cap_diameter_mm);
        let name = if cap_diameter_mm > coupler_diameter_mm { "cap" } else { "coupler" };
        (widest_mm > pitch_mm).then(|| {
            Finding::wrong(Kind::CouplerFoulsNeighbours, self.field(&format!("{name}_diameter_mm")))
                .figure("widest_mm", widest_mm)
                .figure("centre_piece_mm", pitch_mm)
                .says(
                    format!(
                        "the {name} measures {widest_mm:.1} mm, the centre piece {pitch_mm:.1} mm: \
                         neighbouring layers turn into it"
                    ),
                    format!("keep it below {pitch_mm:.1} mm"),
                )
        })
    }

    fn motor(&self) -> Option<Finding> {
        let Shaft { width_mm, motor_width_mm, .. } = self.shaft;
        (motor_width_mm < width_mm).then(|| {
            Finding::wrong(Kind::MotorNarrowerThanRod, self.field("motor_width_mm"))
                .figure("motor_mm", *motor_width_mm)
                .figure("rod_mm", *width_mm)
                .says(
                    format!("the motor is {motor_width_mm} mm wide, its rod {width_mm} mm"),
                    "give the motor's own width",
                )
        })
    }

    fn twist(&self) -> Option<Finding> {
        let Shaft { twisting_length_mm, length_mm, .. } = self.shaft;
        (twisting_length_mm > length_mm).then(|| {
            Finding::wrong(Kind::TwistLongerThanRod, self.field("twisting_length_mm"))
                .figure("twisting_mm", *twisting_length_mm)
                .figure("rod_mm", *length_mm)
                .says(
                    format!("{twisting_length_mm} mm of it twist, and it is {length_mm} mm long"),
                    "give what is free between the coupler's grip and the motor's",
                )
        })
    }

    fn infill(&self) -> Option<Finding> {
        let Shaft { infill_share, wall_mm, width_mm, .. } = self.shaft;
        (*infill_share < 1.0 && 2.0 * wall_mm >= *width_mm).then(|| {
            Finding::doubtful(Kind::InfillWithoutCore, self.field("infill_share"))
                .figure("infill_share", *infill_share)
                .figure("wall_mm", *wall_mm)
                .says(
                    format!(
                        "walls of {wall_mm} mm leave nothing of {width_mm} mm to fill to {:.0} %: the \
                         rod is solid",
                        100.0 * infill_share
                    ),
                    "give thinner walls, or infill_share 1",
                )
        })
    }

    fn material(&self) -> Option<Finding> {
        let Shaft { shear_modulus_gpa, shear_strength_mpa, .. } = self.shaft;
        let ratio = 1000.0 * shear_modulus_gpa / shear_strength_mpa;
        (!MODULUS_OVER_STRENGTH.contains(&ratio)).then(|| {
            let usual = 1000.0 * shear_modulus_gpa / 70.0;
            Finding::doubtful(
                Kind::StiffnessContradictsStrength,
                self.field("shear_modulus_gpa"),
            )
            .figure("stiffness_n_m_per_rad", self.drawn.stiffness_n_m_per_rad)
            .figure("modulus_over_strength_ratio", ratio)
            .says(
                format!(
                    "as stiff as this ({:.1} N·m/rad at {} mm) its material is {ratio:.0} times as \
                     stiff as it is strong; what rods are made of lies from {} to {}",
                    self.drawn.stiffness_n_m_per_rad,
                    self.shaft.width_mm,
                    MODULUS_OVER_STRENGTH.start(),
                    MODULUS_OVER_STRENGTH.end()
                ),
                format!("with that modulus, a printed rod has about {usual:.1} MPa of strength"),
            )
        })
    }

    fn strength(&self, machine: &Machine) -> Option<Finding> {
        let limit_n_m = machine.axis().limit.torque_n_m();
        let factor = self.drawn.ultimate_torque_n_m / limit_n_m;
        let severity = if factor < 1.0 { Severity::Wrong } else { Severity::Doubtful };
        // Strength goes with the third power of the width.
        let wanted_mm =
            self.shaft.width_mm * dryturn_units::maths::cbrt(SAFE_RATIO / factor.max(1e-9));
        (factor < SAFE_RATIO).then(|| {
            Finding::new(Kind::ShaftWeak, severity, self.field("width_mm"))
                .figure("breaks_at_n_m", self.drawn.ultimate_torque_n_m)
                .figure("torque_limit_n_m", limit_n_m)
                .figure("safety_factor_ratio", factor)
                .says(
                    format!(
                        "it breaks at {:.2} N·m and the motor gives {limit_n_m:.2} N·m: a safety \
                         factor of {factor:.2}, where a sudden load needs {SAFE_RATIO}",
                        self.drawn.ultimate_torque_n_m
                    ),
                    format!(
                        "make it {wanted_mm:.1} mm wide, fuller or stronger, or lower the torque"
                    ),
                )
        })
    }

    fn soft(&self) -> Option<Finding> {
        let wind_up_deg = self.drawn.budget.wind_up_deg;
        (wind_up_deg > SOFT_DEG).then(|| {
            Finding::doubtful(Kind::ShaftSoft, self.field("width_mm"))
                .figure("wind_up_deg", wind_up_deg)
                .figure("stiffness_n_m_per_rad", self.drawn.stiffness_n_m_per_rad)
                .says(
                    format!(
                        "at {:.2} N·m/rad a layer's friction winds it up by {wind_up_deg:.1}°",
                        self.drawn.stiffness_n_m_per_rad
                    ),
                    "make it wider or shorter, or its material stiffer",
                )
        })
    }

    /// What by itself may put a face off its stop by more than its neighbours let pass.
    fn budget(&self) -> Vec<Finding> {
        let AngleBudget { encoder_deg, homing_deg, backlash_deg, wind_up_deg, window_deg, .. } =
            self.drawn.budget;
        let jam_deg = self.drawn.budget.jam_deg;
        let whole = |field: &str| field.to_owned();
        let terms = [
            (encoder_deg, Kind::EncoderBeyondJam, whole("tolerances.encoder_error_deg")),
            (homing_deg, Kind::HomingBeyondJam, whole("tolerances.homing_error_sigma_deg")),
            (backlash_deg, Kind::BacklashBeyondJam, self.field("backlash_deg")),
            (wind_up_deg, Kind::WindUpBeyondJam, self.field("width_mm")),
            (window_deg, Kind::SettleBeyondJam, whole("handover.settle_window_deg")),
        ];
        let beyond = terms.into_iter().filter(|term| term.0 > jam_deg);
        let finding = |(off_deg, kind, field): (f64, Kind, String)| {
            Finding::wrong(kind, field).figure("off_deg", off_deg).figure("jam_deg", jam_deg).says(
                format!(
                    "by this alone a settled face may stand {off_deg:.1}° off its stop; its \
                     neighbours jam from {jam_deg:.1}° on"
                ),
                format!("keep it well below {jam_deg:.1}°"),
            )
        };
        beyond.map(finding).collect()
    }

    fn release(&self) -> Option<Finding> {
        let (handover, jam_deg) = (&self.file.handover, self.drawn.budget.jam_deg);
        let releases = handover.policy == Policy::Release;
        (releases && handover.release_angle_deg > jam_deg).then(|| {
            Finding::wrong(Kind::ReleaseBeyondJam, "handover.release_angle_deg")
                .figure("release_deg", handover.release_angle_deg)
                .figure("jam_deg", jam_deg)
                .says(
                    format!(
                        "a neighbour starts while a face is {}° off; it jams from {jam_deg:.1}° on",
                        handover.release_angle_deg
                    ),
                    format!("stay well below {jam_deg:.1}°"),
                )
        })
    }
}
