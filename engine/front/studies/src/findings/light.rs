//! Lamps, exposures and what light makes of colours.

use dryturn_cube::{Face, Facelet};
use dryturn_optics::survey::FaceletSurvey;
use dryturn_scene::file::{Lamp, LampShape};

use super::flicker::flicker;
use super::lit::Lit;
use super::{Finding, FindingKind as Kind};

/// Illuminance by the sun at noon in summer, lx (from memory; about 100,000).
const SUN_LUX: f64 = 100_000.0;
/// A lamp that gives no facelet more than this share of all its light reaches none.
const NO_LIGHT_SHARE: f64 = 1e-3;
/// A face that gets less than this share of what the brightest gets is dark.
const DARK_SHARE: f64 = 0.04;
/// So little light is dark for every camera.
const DARK_LUX: f64 = 2.0;
/// White that fills less than this share of the range wastes it.
const WASTED_SHARE: f64 = 0.08;
/// Where an exposure should bring white.
const WANTED_SHARE: f64 = 0.6;
/// Facelets whose white clips are worth a word from this share of those read on.
const CLIPPED_FACELETS: f64 = 0.1;
/// A facelet clips where more than this share of it does.
const CLIPPED: f64 = 0.1;
/// Colours nearer than so many standard deviations are mistaken for one another now and
/// then: one in seven at 3, half-way between two normal distributions.
const CLOSE_SIGMAS: f64 = 3.0;
/// Mirror light over more than this share of a facelet hides its colour, where colours there
/// are nearer than so many standard deviations: a matt sheen may lie over all of it and do no
/// harm.
const MUCH_GLARE: f64 = 0.5;
const GLARE_SIGMAS: f64 = 5.0;

pub(super) fn findings(lit: &Lit<'_>) -> Vec<Finding> {
    let file = lit.scene.file();
    let mut found = Vec::new();
    for (number, lamp) in file.lamps.iter().enumerate().filter(|(_, lamp)| lamp.flux_lm > 0.0) {
        found.extend(lamp_findings(lit, number, lamp));
    }
    let faces = |camera| face_lux(lit, camera);
    let brightest = (0..file.cameras.len()).flat_map(faces).map(|f| f.1).fold(0.0, f64::max);
    for camera in 0..file.cameras.len() {
        found.extend(dark_faces(lit, camera, brightest));
        found.extend(exposure(lit, camera));
        found.extend(close_colours(lit, camera));
        found.extend(glare(lit, camera));
        let lamps = 0..file.lamps.len();
        found.extend(lamps.filter_map(|lamp| flicker(lit, camera, lamp)));
    }
    found
}

fn lamp_findings(lit: &Lit<'_>, number: usize, lamp: &Lamp) -> Option<Finding> {
    let facelets = lit.survey.cameras.iter().flat_map(|c| &c.facelets);
    let seen: Vec<&FaceletSurvey> = facelets.filter(|f| f.visible_px > 0).collect();
    if seen.is_empty() {
        return None;
    }
    let own_lux = seen.iter().map(|f| f.illuminance_lux[number]).fold(0.0, f64::max);
    let all_lux = seen.iter().map(|f| f.total_lux()).fold(0.0, f64::max);
    let field = format!("lamps.{}", lamp.name);
    if own_lux > SUN_LUX {
        let enough_lm = lamp.flux_lm * 2000.0 / own_lux;
        return Some(
            Finding::wrong(Kind::LampTooBright, format!("{field}.flux_lm"))
                .figure("flux_lm", lamp.flux_lm)
                .figure("brightest_lux", own_lux)
                .says(
                    format!(
                        "{:.0} lm put {own_lux:.0} lx on the cube, {:.1} times direct sunlight",
                        lamp.flux_lm,
                        own_lux / SUN_LUX
                    ),
                    format!(
                        "{enough_lm:.0} lm would give 2000 lx, as bright as a workshop's bench"
                    ),
                ),
        );
    }
    (own_lux <= NO_LIGHT_SHARE * all_lux).then(|| {
        let aimed = if lamp.shape == LampShape::Point { "position_mm" } else { "aim_mm" };
        Finding::wrong(Kind::LampLightsNothing, format!("{field}.{aimed}"))
            .figure("flux_lm", lamp.flux_lm)
            .figure("brightest_lux", own_lux)
            .says(
                format!(
                    "of its {:.0} lm no facelet that is seen gets {:.1} lx",
                    lamp.flux_lm,
                    own_lux.max(0.1)
                ),
                "aim it at the cube, bring it nearer, or take away what stands before it",
            )
    })
}

/// Mean illuminance of each face that a camera reads.
fn face_lux(lit: &Lit<'_>, camera: usize) -> Vec<(Face, f64)> {
    let read = lit.read(camera);
    let mean = |face: Face| {
        let on: Vec<f64> =
            read.iter().filter(|f| f.facelet.face() == face).map(|f| f.total_lux()).collect();
        (!on.is_empty()).then(|| (face, on.iter().sum::<f64>() / on.len() as f64))
    };
    Face::ALL.into_iter().filter_map(mean).collect()
}

fn dark_faces(lit: &Lit<'_>, camera: usize, brightest: f64) -> Option<Finding> {
    let limit = DARK_LUX.max(DARK_SHARE * brightest);
    let dark: Vec<(Face, f64)> =
        face_lux(lit, camera).into_iter().filter(|face| face.1 < limit).collect();
    let darkest = dark.iter().map(|face| face.1).fold(f64::INFINITY, f64::min);
    (!dark.is_empty()).then(|| {
        let names: Vec<String> = dark.iter().map(|(f, lux)| format!("{f} {lux:.1} lx")).collect();
        Finding::wrong(Kind::FaceInTheDark, "lamps")
            .figure("darkest_lux", darkest)
            .figure("brightest_lux", brightest)
            .says(
                format!(
                    "camera {} reads faces in the dark: {}; the brightest face gets {brightest:.0} lx",
                    lit.scene.file().cameras[camera].name,
                    names.join(", ")
                ),
                "put a lamp on the camera's side, or raise surroundings.ambient_lux",
            )
    })
}

fn exposure(lit: &Lit<'_>, camera: usize) -> Option<Finding> {
    let settings = &lit.scene.file().cameras[camera];
    let read = lit.read(camera);
    let white = read.iter().map(|f| f.white_share).fold(0.0, f64::max);
    // Of two pictures the darker one shows what is full in the first.
    let clips = |f: &&&FaceletSurvey| {
        let in_both = !settings.takes_two() || f.white_share * settings.bracket_share > 1.0;
        f.clipped_share > CLIPPED && in_both
    };
    let clipped = read.iter().filter(clips).count();
    let automatic = settings.auto_exposure_share > 0.0;
    let change = |factor: f64| {
        if automatic {
            let share = (settings.auto_exposure_share * factor).min(0.9);
            format!("auto_exposure_share {share:.3} would bring white to 60 %")
        } else {
            let ms = settings.exposure_ms * factor;
            format!("an exposure of {ms:.3} ms would bring white to 60 %")
        }
    };
    let name = if automatic { "auto_exposure_share" } else { "exposure_ms" };
    let field = lit.field(camera, name);
    if clipped as f64 > CLIPPED_FACELETS * read.len() as f64 {
        return Some(
            Finding::wrong(Kind::ExposureClips, field)
                .figure("white_share", white)
                .figure("clipped_facelets", clipped as f64)
                .says(
                    format!(
                        "white saturates on {clipped} of {} facelets: the brightest would fill \
                         {:.0} % of the sensor's range",
                        read.len(),
                        100.0 * white
                    ),
                    change(WANTED_SHARE / white),
                ),
        );
    }
    (white < WASTED_SHARE && !read.is_empty()).then(|| {
        Finding::doubtful(Kind::ExposureWastes, field).figure("white_share", white).says(
            format!("the brightest white fills {:.1} % of the sensor's range", 100.0 * white),
            if white > 0.0 { change(WANTED_SHARE / white) } else { "give it light".to_owned() },
        )
    })
}

fn close_colours(lit: &Lit<'_>, camera: usize) -> Option<Finding> {
    let read = lit.read(camera);
    let closest = read.iter().filter_map(|f| Some((f.facelet, f.closest?)));
    let mut close: Vec<(Facelet, _)> = closest.filter(|c| c.1.sigmas < CLOSE_SIGMAS).collect();
    close.sort_by(|a, b| a.1.sigmas.total_cmp(&b.1.sigmas));
    let (facelet, worst) = *close.first()?;
    let colours = &lit.scene.file().cube.colours;
    let [one, other] = worst.pair.map(|face| format!("{:?}", colours.of(face)).to_lowercase());
    (close.len() * 10 > read.len()).then(|| {
        Finding::doubtful(Kind::ColoursClose, "lamps")
            .figure("closest_sigmas", worst.sigmas)
            .figure("close_facelets", close.len() as f64)
            .says(
                format!(
                    "in camera {} {one} and {other} are only {:.1} standard deviations apart at \
                     {facelet}; so are colours at {} of {} facelets (below {CLOSE_SIGMAS})",
                    lit.scene.file().cameras[camera].name,
                    worst.sigmas,
                    close.len(),
                    read.len()
                ),
                "take a lamp with more of the spectrum, or more light",
            )
    })
}

fn glare(lit: &Lit<'_>, camera: usize) -> Option<Finding> {
    let read = lit.read(camera);
    let sigmas = |f: &FaceletSurvey| f.closest.map_or(f64::INFINITY, |c| c.sigmas);
    let hidden = |f: &&&FaceletSurvey| f.glare_share > MUCH_GLARE && sigmas(f) < GLARE_SIGMAS;
    let glaring: Vec<&&FaceletSurvey> = read.iter().filter(hidden).collect();
    let first = glaring.first()?;
    let lamp = first.glare_lamp.map(|i| lit.scene.file().lamps[i].name.clone())?;
    let names: Vec<&str> = glaring.iter().map(|f| f.facelet.name()).collect();
    let worst = glaring.iter().map(|f| f.glare_share).fold(0.0, f64::max);
    let closest = glaring.iter().map(|f| sigmas(f)).fold(f64::INFINITY, f64::min);
    Some(
        Finding::doubtful(Kind::Glare, format!("lamps.{lamp}.position_mm"))
            .figure("glare_share", worst)
            .figure("glaring_facelets", glaring.len() as f64)
            .figure("closest_sigmas", closest)
            .says(
                format!(
                    "its mirror light lies over up to {:.0} % of {}, so that camera {} sees colours \
                     there only {closest:.1} standard deviations apart",
                    100.0 * worst,
                    names.join(" "),
                    lit.scene.file().cameras[camera].name
                ),
                "move it out of the camera's mirror image, make it larger, or dim it",
            ),
    )
}
