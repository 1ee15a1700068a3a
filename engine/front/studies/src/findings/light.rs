//! Lamps, exposures and what light makes of colours, looked at in pictures of few pixels.

use core::f64::consts::PI;

use dryturn_cube::{Face, Facelet, FaceletKind};
use dryturn_optics::survey::{FaceletSurvey, Survey};
use dryturn_scene::file::{Camera, FlickerWave, Lamp, LampShape, Shutter};
use dryturn_scene::{Scene, Visibility};
use dryturn_units::maths;

use super::{Finding, FindingKind as Kind};

/// Width of the pictures that light is looked at in.
const SMALL_PX: u32 = 160;
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
/// Brightness that differs by more than this from shot to shot or row to row.
const MUCH_FLICKER: f64 = 0.1;

/// A scene with the light on it.
pub(super) struct Lit<'a> {
    pub(super) scene: &'a Scene,
    pub(super) visibility: &'a Visibility,
    pub(super) survey: Survey,
}

impl<'a> Lit<'a> {
    pub(super) fn of(scene: &'a Scene, visibility: &'a Visibility) -> Self {
        let survey = Survey::of(small(scene).as_ref().unwrap_or(scene));
        Self { scene, visibility, survey }
    }

    /// Facelets that a camera has evidence of, centres left out, as they are lit.
    pub(super) fn read(&self, camera: usize) -> Vec<&FaceletSurvey> {
        let read = |f: &&FaceletSurvey| {
            f.facelet.kind() != FaceletKind::Centre
                && f.visible_px > 0
                && self.visibility.is_evidence(camera, f.facelet)
        };
        self.survey.cameras[camera].facelets.iter().filter(read).collect()
    }

    /// Mean illuminance of what a camera reads: from each lamp, then from the room.
    pub(super) fn mean_lux(&self, camera: usize) -> Vec<f64> {
        let read = self.read(camera);
        let lights = self.scene.file().lamps.len() + 1;
        let sum = |light: usize| read.iter().map(|f| f.illuminance_lux[light]).sum::<f64>();
        (0..lights).map(|light| sum(light) / read.len().max(1) as f64).collect()
    }

    pub(super) fn field(&self, camera: usize, name: &str) -> String {
        format!("cameras.{}.{name}", self.scene.file().cameras[camera].name)
    }
}

/// The same scene with fewer, larger pixels and fewer rays; `None` where a sensor at the end
/// of its ranges has no larger pixels.
fn small(scene: &Scene) -> Option<Scene> {
    let mut file = scene.file().clone();
    for camera in &mut file.cameras {
        let width_px = camera.width_px.min(SMALL_PX);
        let height_px = (camera.height_px * width_px / camera.width_px).max(64);
        *camera = Camera { samples_px: camera.samples_px.min(4), ..camera.clone() }
            .with_pixels([width_px, height_px]);
    }
    scene.with_file(file).ok()
}

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

/// Largest difference of a lamp's light from one exposure to another, over its mean.
fn modulation(lamp: &Lamp, exposure_s: f64) -> f64 {
    let periods = lamp.flicker_hz * exposure_s;
    match lamp.flicker_wave {
        // The mean of a sine over a window: its amplitude times sin x / x.
        FlickerWave::Sine => {
            2.0 * lamp.flicker_depth_share * (maths::sin(PI * periods) / (PI * periods)).abs()
        }
        FlickerWave::Pulse => {
            let (on, rest) = (lamp.flicker_duty_share, periods - periods.floor());
            let low = 1.0 - lamp.flicker_depth_share;
            let part = rest.min(on) - (rest - (1.0 - on)).max(0.0);
            (1.0 - low) * part / (periods * (low + (1.0 - low) * on))
        }
    }
}

fn flicker(lit: &Lit<'_>, camera: usize, number: usize) -> Option<Finding> {
    let file = lit.scene.file();
    let (settings, lamp) = (&file.cameras[camera], &file.lamps[number]);
    // A locked lamp is the same in every shot, and a global shutter the same in every row.
    let seen = !lamp.flicker_locked || settings.shutter == Shutter::Rolling;
    if lamp.flicker_depth_share == 0.0 || !seen || settings.auto_exposure_share > 0.0 {
        return None;
    }
    let lux = lit.mean_lux(camera);
    let share = lux[number] / lux.iter().sum::<f64>().max(1e-9);
    let period_ms = 1e3 / lamp.flicker_hz;
    let varies = |exposure_ms: f64| share * modulation(lamp, exposure_ms * 1e-3);
    let says = |what: &str, exposure_ms: f64| {
        format!(
            "lamp {} flickers at {} Hz, {:.2} periods in {what}: its light varies by {:.0} %",
            lamp.name,
            lamp.flicker_hz,
            exposure_ms / period_ms,
            100.0 * varies(exposure_ms)
        )
    };
    let finding = |field: &str, exposure_ms: f64| {
        Finding::doubtful(Kind::FlickerShows, lit.field(camera, field))
            .figure("varies_share", varies(exposure_ms))
            .figure("periods", exposure_ms / period_ms)
    };
    let first_ms = settings.exposure_ms;
    if varies(first_ms) > MUCH_FLICKER {
        let whole = (first_ms / period_ms).round().max(1.0);
        let advice = format!("{:.3} ms are whole periods", whole * period_ms);
        return Some(finding("exposure_ms", first_ms).says(says("an exposure", first_ms), advice));
    }
    let darker_ms = settings.darker()?.exposure_ms;
    (varies(darker_ms) > MUCH_FLICKER).then(|| {
        let whole = (1.0 / settings.bracket_share).round();
        let advice = format!(
            "at {:.3} ms and a share of {:.3} both pictures have whole periods",
            whole * period_ms,
            1.0 / whole
        );
        finding("bracket_share", darker_ms)
            .says(says("its darker picture's exposure", darker_ms), advice)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By adding up many exposures that start anywhere in the period.
    #[test]
    fn modulation_is_what_exposures_vary_by() {
        let text = include_str!("../../../../../scenes/workbench.ron");
        let mut lamp = Scene::parse(text, "workbench").unwrap().file().lamps[0].clone();
        for wave in [FlickerWave::Sine, FlickerWave::Pulse] {
            for (depth, duty, exposure_s) in
                [(0.3, 0.5, 0.004), (1.0, 0.2, 0.013), (0.6, 0.8, 0.0371), (0.5, 0.5, 0.01)]
            {
                (lamp.flicker_depth_share, lamp.flicker_wave) = (depth, wave);
                (lamp.flicker_hz, lamp.flicker_duty_share) = (100.0, duty);
                let light = |t: f64| {
                    let phase = (t * 100.0).rem_euclid(1.0);
                    match wave {
                        FlickerWave::Sine => 1.0 + depth * maths::sin(2.0 * PI * phase),
                        FlickerWave::Pulse if phase < duty => 1.0,
                        FlickerWave::Pulse => 1.0 - depth,
                    }
                };
                let mean = |start: f64, length: f64| {
                    let at = |i: i32| light(start + length * (f64::from(i) + 0.5) / 4000.0);
                    (0..4000).map(at).sum::<f64>() / 4000.0
                };
                let shots: Vec<f64> =
                    (0..200).map(|k| mean(f64::from(k) * 5e-5, exposure_s)).collect();
                let (low, high) = shots
                    .iter()
                    .fold((f64::INFINITY, 0.0), |(a, b): (f64, f64), s| (a.min(*s), b.max(*s)));
                let wanted = (high - low) / mean(0.0, 0.01);
                let found = modulation(&lamp, exposure_s);
                assert!((found - wanted).abs() < 0.02, "{wave:?} {depth}: {found}, {wanted}");
            }
        }
    }
}
