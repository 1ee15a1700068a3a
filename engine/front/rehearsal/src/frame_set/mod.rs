//! Labelled sets of pictures: many scans of varied rigs, with everything that is known
//! of them.

mod coco;
mod outline;
mod record;
mod request;

use std::sync::Arc;

use dryturn_cube::{CubeState, Face, Stickering};
use dryturn_handoff::Scan;
use dryturn_scene::{Course, Posture, Scene, SceneError};

use crate::pass::Rehearser;
use crate::record::{Content, PixelMap};
use crate::rig::BuiltRig;

pub use record::{FILE_KEYS, finished_files, record};
pub use request::{SetFault, SetRequest, Variation};

/// Furthest that a face is turned, degrees either way.
const MOST_TURNED_DEG: f64 = 45.0;

/// Which half of a set a scan belongs to.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
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

/// Fields that were drawn, with their values.
pub type Drawn = Vec<(String, f64)>;

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

impl Rehearser {
    /// The scene of scan number `number` of a set, and what was drawn for it.
    pub(crate) fn set_scene(
        &self,
        request: &SetRequest,
        number: usize,
    ) -> Result<(Arc<Scene>, Drawn), SceneError> {
        let mut noise = self.seed().stream("set-variation", number as u64, 0);
        let draw = |v: &Variation| (v.path.clone(), noise.between(v.low, v.high));
        let drawn: Drawn = request.vary.iter().map(draw).collect();
        let mut scene = request.scene.clone();
        for (path, value) in &drawn {
            scene = Arc::new(scene.with(path, (*value).into())?);
        }
        Ok((scene, drawn))
    }

    /// Makes scan number `number` of a set. It depends on nothing but the request, the
    /// seed and the number.
    ///
    /// # Errors
    /// Drawn values that the scene does not allow together.
    pub fn set_scan(&self, request: &SetRequest, number: usize) -> Result<SetScan, SceneError> {
        let trial = number as u64;
        let (scene, drawn) = self.set_scene(request, number)?;
        let mut noise = self.seed().stream("set-turned", trial, 0);
        let (chance, face, angle) = (noise.uniform(), noise.uniform(), noise.between(-1.0, 1.0));
        let turned = (chance < request.turned_share)
            .then(|| (Face::ALL[(face * 6.0) as usize], angle * MOST_TURNED_DEG));
        let scramble = trial % request.scrambles;
        let split = self.seed().stream("set-split", scramble, 0).uniform();
        let subset =
            if split < request.validation_share { Subset::Validation } else { Subset::Train };
        let truth = self.random_cube(scramble);
        let rig = BuiltRig::new(&scene, self.seed(), trial);
        let shown = Stickering::from(&truth);
        let scan = match turned {
            None => rig.scan(&shown),
            Some((face, angle)) => rig.scan_turned(&shown, &Posture::of(face, Course::at(angle))),
        };
        Ok(SetScan { number, scramble, subset, truth, drawn, turned, scene, scan })
    }
}

impl SetScan {
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
