//! Labelled sets of pictures: many scans of varied rigs, with everything that is known
//! of them.

mod asked;
mod coco;
mod outline;
mod record;
mod request;

use std::sync::Arc;

use dryturn_cube::{CubeState, Face, Stickering};
use dryturn_handoff::{Content, PixelMap, Scan};
use dryturn_scene::{Course, Posture, Scene, SceneError};
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use serde_json::Value as Json;

use dryturn_rehearsal::{BuiltRig, Rehearser};

pub use asked::{PictureSize, SetAsked};
pub use coco::{CocoAnnotation, CocoCategory, CocoDocument, CocoImage, CocoInfo, CocoSegmentation};
pub use dryturn_scene::Variation;
pub use record::{ImageRecord, Manifest, SampleRecord, ScanRecord, TurnedFace, finished_files};
pub use request::{SetFault, SetRequest, variation};

/// Furthest that a face is turned, degrees either way.
const MOST_TURNED_DEG: f64 = 45.0;

/// Which half of a set a scan belongs to.
#[derive(
    Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, Deserialize, JsonSchema,
)]
#[serde(rename_all = "snake_case")]
pub enum Subset {
    /// For fitting.
    Train,
    /// For judging what was fitted; no cube of it is in the other.
    Validation,
}

impl Subset {
    /// Both.
    pub const ALL: [Self; 2] = [Self::Train, Self::Validation];

    /// Name of its folder.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Train => "train",
            Self::Validation => "validation",
        }
    }
}

/// Fields that were drawn, each with the value that it then has.
pub type Drawn = Vec<(String, Json)>;

/// One scan of a set.
pub struct SetScan {
    /// Its number, from 0; also the trial whose mounts, facelets and noise it has.
    pub number: usize,
    /// Number of its scramble.
    pub scramble: u64,
    /// Where it belongs.
    pub subset: Subset,
    /// The cube.
    pub truth: CubeState,
    /// Fields that were drawn, with their values.
    pub drawn: Drawn,
    /// The turned face and its angle, degrees clockwise.
    pub turned: Option<(Face, f64)>,
    /// The scene as varied.
    pub scene: Arc<Scene>,
    /// The pictures with their labels.
    pub scan: Scan,
}

impl SetRequest {
    /// The scene of scan number `number` of the set, and what was drawn for it.
    pub(crate) fn scene_of(
        &self,
        rehearser: &Rehearser,
        number: usize,
    ) -> Result<(Arc<Scene>, Drawn), SceneError> {
        let mut noise = rehearser.seed().stream("set-variation", number as u64, 0);
        let mut scene = self.scene.clone();
        let mut drawn = Drawn::new();
        for Variation { path, values } in &self.vary {
            // One draw for each, however many fields it leads to.
            scene = Arc::new(scene.with(path, values.at(noise.uniform()))?);
            drawn.extend(scene.places(path)?.into_iter().map(|place| (place.path, place.value)));
        }
        Ok((scene, drawn))
    }
}

impl SetScan {
    /// Makes scan number `number` of a set. It depends on nothing but the request, the
    /// seed and the number.
    ///
    /// # Errors
    /// Drawn values that the scene does not allow together.
    pub fn of(
        rehearser: &Rehearser,
        request: &SetRequest,
        number: usize,
    ) -> Result<Self, SceneError> {
        let trial = number as u64;
        let (scene, drawn) = request.scene_of(rehearser, number)?;
        let mut noise = rehearser.seed().stream("set-turned", trial, 0);
        let (chance, face, angle) = (noise.uniform(), noise.uniform(), noise.between(-1.0, 1.0));
        let turned = (chance < request.turned_share)
            .then(|| (Face::ALL[(face * 6.0) as usize], angle * MOST_TURNED_DEG));
        let scramble = trial % request.scrambles;
        let split = rehearser.seed().stream("set-split", scramble, 0).uniform();
        let subset =
            if split < request.validation_share { Subset::Validation } else { Subset::Train };
        let truth = rehearser.random_cube(scramble);
        let rig = BuiltRig::new(&scene, rehearser.seed(), trial);
        let shown = Stickering::from(&truth);
        let scan = match turned {
            None => rig.scan(&shown),
            Some((face, angle)) => rig.scan_turned(&shown, &Posture::of(face, Course::at(angle))),
        };
        Ok(Self { number, scramble, subset, truth, drawn, turned, scene, scan })
    }

    /// Names of the picture, of its per-pixel index and of its depth, by camera.
    #[must_use]
    pub fn file_names(&self, camera: usize) -> [String; 3] {
        let camera = &self.scan.frames[camera].camera;
        let base = format!("{}/{:06}-{camera}", self.subset.word(), self.number);
        ["", "-index", "-depth"].map(|kind| format!("{base}{kind}.png"))
    }

    /// Pictures, indices and depths with their names.
    #[must_use]
    pub fn files(&self) -> Vec<(String, Content)> {
        let pairs = self.scan.frames.iter().zip(&self.scan.labels).enumerate();
        pairs
            .flat_map(|(camera, (frame, labels))| {
                let [picture, index, depth] = self.file_names(camera);
                let index = (index, Content::Map(PixelMap::codes(labels)));
                let depth = (depth, Content::Map(PixelMap::depth(labels)));
                [(picture, Content::Frame(frame.clone())), index, depth]
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use dryturn_units::noise::Seed;

    /// What a set draws is a function of stream and order alone: sets made before lists and
    /// links keep their bytes.
    #[test]
    fn each_variation_is_one_draw_of_the_stream() {
        let text = include_str!("../../../../../scenes/foyer_morning.ron");
        let scene = Arc::new(Scene::parse(text, "foyer").unwrap());
        let vary = |vary: &[&str]| {
            let request = SetRequest {
                scene: scene.clone(),
                scans: 1,
                scrambles: 1,
                vary: vary.iter().map(|text| variation(text).unwrap()).collect(),
                turned_share: 0.0,
                validation_share: 0.0,
            };
            request.scene_of(&Rehearser::new(Seed::new(7)), 3).unwrap().1
        };
        let mut noise = Seed::new(7).stream("set-variation", 3, 0);
        let (first, second) = (noise.between(100.0, 400.0), noise.between(5.0, 15.0));
        let upper = ("lamps.upper.flux_lm".to_owned(), Json::from(first));
        let high = ("cameras.high.exposure_ms".to_owned(), Json::from(second));
        let one = vary(&["lamps.upper.flux_lm=100..400", "cameras.high.exposure_ms=5..15"]);
        assert_eq!(one, [upper.clone(), high.clone()]);
        // However many fields the first leads to, the second draws the same.
        let all = vary(&["lamps.*.flux_lm=100..400", "cameras.high.exposure_ms=5..15"]);
        assert_eq!((all.len(), &all[1], &all[3]), (4, &upper, &high));
        let listed = vary(&["lamps.*.spectrum=LedB1,LedB3", "cameras.high.exposure_ms=5..15"]);
        assert_eq!(listed[3], high);
    }
}
