//! A survey of a layout, with what a builder can act on.

mod margin_words;
mod margins;

use std::collections::BTreeMap;
use std::sync::Arc;

use dryturn_cube::{Face, Facelet, FaceletKind, Stickering, random_state};
use dryturn_handoff::Frame;
use dryturn_optics::survey::{CameraSurvey, FaceletSurvey, Losses, Survey, losses};
use dryturn_optics::{AsBuilt, LitView, Shot};
use dryturn_rehearsal::Rehearser;
use dryturn_scene::file::WhiteBalance;
use dryturn_scene::{Rig, Scene, Visibility};
use dryturn_statistics::{Z_95, wilson};

pub use self::margin_words::{percent_text, range_text, sigmas_text};
use self::margins::Gathering;
pub use self::margins::{Apart, ExpectedErrors, Margins, PairMargin};

/// Above these a survey says so.
const MUCH_GLARE: f64 = 0.1;
const MUCH_CLIPPED: f64 = 0.05;
const MUCH_BLUR_PX: f64 = 2.0;
const STEEP_DEG: f64 = 78.0;
/// Below this many standard deviations two colours are called close.
const CLOSE_SIGMAS: f64 = 5.0;

/// A surveyed layout.
#[derive(Clone, Debug)]
pub struct Surveyed {
    /// The scene.
    pub scene: Arc<Scene>,
    /// What each camera sees by the drawing.
    pub survey: Survey,
    /// How often facelets are lost over mount errors, where that was asked for.
    pub losses: Option<Losses>,
    /// How far apart colours are for who knows the place and who does not; `None` where too
    /// little is seen to calibrate.
    pub margins: Option<Margins>,
    /// A picture of each camera, by the drawing, of a random cube.
    pub frames: Vec<Frame>,
}

/// How one facelet in one camera changed from one layout to another.
#[derive(Clone, Debug, PartialEq)]
pub struct Change {
    /// Name of the camera, which both have.
    pub camera: String,
    /// The facelet.
    pub facelet: Facelet,
    /// Before; `None` where it did not face the camera.
    pub before: Option<FaceletSurvey>,
    /// After.
    pub after: Option<FaceletSurvey>,
}

impl Surveyed {
    /// Surveys a scene; with mount errors of `draws` rigs where that is above 0.
    #[must_use]
    pub fn of(rehearser: &Rehearser, scene: &Arc<Scene>, draws: usize) -> Self {
        let built = AsBuilt::exactly(scene);
        let state = random_state(&mut rehearser.seed().stream("scramble", 0, 0));
        let shown = Stickering::from(&state);
        let shot = Shot { seed: rehearser.seed(), name: "survey", trial: 0, second: false };
        let mut margins = Gathering::of(scene, rehearser.seed());
        let visibility = Visibility::of(scene);
        let (mut cameras, mut frames) = (Vec::new(), Vec::new());
        for camera in 0..scene.file().cameras.len() {
            // One view at a time: they are large.
            let view = LitView::trace(scene, &built, camera);
            cameras.push(CameraSurvey::of(scene, &view, &visibility));
            margins.add(&view);
            frames.push(view.expose(scene, &built, &shown, shot));
        }
        let survey = Survey::of_cameras(scene, cameras, visibility);
        Self {
            scene: scene.clone(),
            losses: (draws > 0).then(|| losses(scene, rehearser.seed(), draws)),
            margins: margins.finish(&survey),
            survey,
            frames,
        }
    }
}

fn names(facelets: &[Facelet]) -> Vec<&'static str> {
    facelets.iter().map(|f| f.name()).collect()
}

impl Surveyed {
    /// A facelet in a camera, by the camera's name.
    #[must_use]
    pub fn facelet(&self, camera: &str, facelet: Facelet) -> Option<&FaceletSurvey> {
        let camera = self.survey.cameras.iter().find(|c| c.name == camera)?;
        camera.facelets.iter().find(|f| f.facelet == facelet)
    }

    /// What a person calls the two closest colours there.
    #[must_use]
    pub fn closest_names(&self, facelet: &FaceletSurvey) -> Option<String> {
        facelet.closest.map(|closest| self.pair_name(closest.pair))
    }

    /// The margin of two colours, given as their faces in any order.
    #[must_use]
    pub fn margin(&self, a: Face, b: Face) -> Option<&PairMargin> {
        self.margins.as_ref()?.pair(a, b)
    }

    /// What hides a facelet, as text: `shaft U 40 %`.
    #[must_use]
    pub fn hiders(&self, facelet: &FaceletSurvey) -> String {
        let parts: Vec<String> = facelet
            .hidden_by
            .iter()
            .map(|(hider, share)| format!("{} {:.0} %", hider.name(&self.scene), 100.0 * share))
            .collect();
        parts.join(", ")
    }

    /// What mounts may be off by before a facelet that is called seen is not.
    #[must_use]
    pub fn allowance(&self) -> String {
        let visibility = &self.survey.visibility;
        let tolerance = visibility.tolerance();
        let cameras = self.survey.cameras.iter().enumerate();
        let rims: Vec<String> = cameras
            .map(|(i, c)| format!("{} px in camera {}", visibility.rim_px(i), c.name))
            .collect();
        format!(
            "mounts may be off by {:.2} mm and {:.2}° ({} standard deviations of the scene's \
             tolerances): {} round each facelet are not counted on",
            tolerance.shift_mm,
            tolerance.turn_deg,
            tolerance.sigmas_ratio,
            rims.join(", ")
        )
    }

    /// Facelets without evidence by what stands most in their way, in the camera that has
    /// most of them.
    fn hidden(&self, missing: &[Facelet]) -> BTreeMap<String, Vec<&'static str>> {
        let mut hidden: BTreeMap<String, Vec<&'static str>> = BTreeMap::new();
        for facelet in missing {
            let cameras = self.survey.cameras.iter();
            let faced = cameras.flat_map(|c| c.facelets.iter().find(|f| f.facelet == *facelet));
            let best = faced.max_by(|a, b| a.whole_px.total_cmp(&b.whole_px));
            let why = match best.map(|f| f.hidden_by.first()) {
                None => "faces no camera".to_owned(),
                Some(None) => "too small in the picture for the mount's tolerance".to_owned(),
                Some(Some((hider, _))) => format!("hidden by {}", hider.name(&self.scene)),
            };
            hidden.entry(why).or_default().push(facelet.name());
        }
        hidden
    }

    /// What to look at first, one sentence each.
    #[must_use]
    pub fn findings(&self) -> Vec<String> {
        let mut found = Vec::new();
        let survey = &self.survey;
        let evidence = survey.visibility.evident().len();
        let missing = survey.visibility.hidden();
        let centres = survey.visibility.hidden_centres().len();
        found.push(format!(
            "{} of 54 facelets are seen, or are centres, which the mounting fixes ({centres} of 6 \
             centres are not seen); {} must be inferred{}",
            evidence + centres,
            missing.len(),
            if missing.is_empty() {
                String::new()
            } else {
                format!(": {}", names(&missing).join(" "))
            }
        ));
        found.extend(self.margins.as_ref().map(|margins| self.expected_words(margins)));
        found.push(self.allowance());
        for camera in &survey.cameras {
            if camera.facelets.iter().all(|f| f.visible_px == 0) {
                found.push(format!(
                    "camera {}: sees no facelet; is it aimed at the cube?",
                    camera.name
                ));
            }
        }
        for (hider, facelets) in self.hidden(&missing) {
            found.push(format!("{hider}: {}", facelets.join(" ")));
        }
        for (number, camera) in self.scene.file().cameras.iter().enumerate() {
            if camera.white_balance == WhiteBalance::GreyPatch && !survey.sees_grey_patch[number] {
                found.push(format!(
                    "camera {}: sees no grey patch to balance on; its fixed factors serve",
                    camera.name
                ));
            }
        }
        let edges = missing.iter().filter(|f| f.kind() == FaceletKind::Edge).count();
        if edges > 0 {
            found.push(format!(
                "{edges} facelets of edges have no evidence: two hidden edges leave a choice that \
                 nothing decides"
            ));
        }
        for (number, camera) in survey.cameras.iter().enumerate() {
            let best = |f: &&FaceletSurvey| survey.visibility.camera_of(f.facelet) == Some(number);
            for f in camera.facelets.iter().filter(best) {
                self.say_of(&camera.name, f, &mut found);
            }
        }
        if let Some(losses) = &self.losses {
            let seen = |f: &Facelet| survey.visibility.camera_of(*f).is_some();
            for facelet in Rig::facelets_to_read().filter(seen) {
                let lost = losses.lost[facelet.index()];
                if lost > 0 {
                    let (_, high) = wilson(lost, losses.draws, Z_95);
                    found.push(format!(
                        "{facelet}: lost in {lost} of {} rigs as mounted (at most {:.1} % at 95 %)",
                        losses.draws,
                        100.0 * high
                    ));
                }
            }
        }
        found
    }

    fn say_of(&self, camera: &str, f: &FaceletSurvey, found: &mut Vec<String>) {
        let mut say = |what: String| found.push(format!("camera {camera}, {}: {what}", f.facelet));
        if f.glare_share > MUCH_GLARE {
            let lamp = f.glare_lamp.map_or("", |i| &self.scene.file().lamps[i].name);
            say(format!("glare on {:.0} % of it, most from lamp {lamp}", 100.0 * f.glare_share));
        }
        if f.clipped_share > MUCH_CLIPPED {
            say(format!("white would saturate {:.0} % of it", 100.0 * f.clipped_share));
        }
        if f.blur_px > MUCH_BLUR_PX {
            say(format!("blurred by {:.1} px", f.blur_px));
        }
        if f.viewing_deg > STEEP_DEG {
            say(format!("seen at {:.0}° from its normal", f.viewing_deg));
        }
        if let (Some(closest), Some(pair)) = (f.closest, self.closest_names(f))
            && closest.sigmas < CLOSE_SIGMAS
        {
            say(format!(
                "{pair} only {:.1} standard deviations apart, for who knows the place",
                closest.sigmas
            ));
        }
    }

    /// What changed from another layout: facelets whose visible pixels differ by more
    /// than 5 %, whose glare differs by more than 5 points, or whose closest colours have
    /// moved by more than 10 %. Cameras go by name.
    #[must_use]
    pub fn changes_from(&self, before: &Self) -> Vec<Change> {
        let mut changes = Vec::new();
        for camera in &self.survey.cameras {
            for facelet in Facelet::all() {
                let old = before.facelet(&camera.name, facelet);
                let new = self.facelet(&camera.name, facelet);
                if differ(old, new) {
                    let camera = camera.name.clone();
                    let (before, after) = (old.cloned(), new.cloned());
                    changes.push(Change { camera, facelet, before, after });
                }
            }
        }
        changes
    }
}

fn differ(old: Option<&FaceletSurvey>, new: Option<&FaceletSurvey>) -> bool {
    let (Some(old), Some(new)) = (old, new) else {
        return old.is_some_and(|f| f.visible_px > 0) || new.is_some_and(|f| f.visible_px > 0);
    };
    let pixels = old.visible_px.abs_diff(new.visible_px) as f64;
    let sigmas = |f: &FaceletSurvey| f.closest.map_or(0.0, |c| c.sigmas);
    pixels > 0.05 * old.visible_px.max(20) as f64
        || (old.glare_share - new.glare_share).abs() > 0.05
        || (sigmas(old) - sigmas(new)).abs() > 0.1 * sigmas(old).max(1.0)
}
