//! Pictures and facelets in the COCO format (object detection; T.-Y. Lin et al.,
//! *Microsoft COCO: common objects in context*, 2014): categories are the six colours.

use dryturn_cube::{Face, Facelet};
use dryturn_handoff::{FaceletLabel, Labels};
use dryturn_scene::Scene;
use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

use super::Subset;
use super::outline::{outlines, run_lengths, twice_area};
use super::record::{ImageRecord, ScanRecord};

/// What the pictures are.
const ABOUT: &str = "Simulated pictures of a puzzle cube in a six-shaft rig; not measured";

/// About a COCO file.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CocoInfo {
    /// What the pictures are.
    pub description: String,
    /// Version of the program.
    pub version: String,
}

/// A picture in a COCO file.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CocoImage {
    /// Its number.
    pub id: usize,
    /// Its file, below the set's folder.
    pub file_name: String,
    /// Width, px.
    pub width: usize,
    /// Height, px.
    pub height: usize,
    /// Name of the camera.
    pub camera: String,
    /// Number of the scan that it belongs to.
    pub scan: usize,
}

/// A category in a COCO file: a colour.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CocoCategory {
    /// Its number, from 1, in the order of the faces U R F D L B.
    pub id: usize,
    /// What a person calls the colour.
    pub name: String,
    /// `facelet`.
    pub supercategory: String,
}

/// The pixels of an annotation.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
#[serde(untagged)]
pub enum CocoSegmentation {
    /// Polygons, x and y in turn, px.
    Polygons(Vec<Vec<i32>>),
    /// Lengths of runs, column by column, for what has a hole.
    Runs {
        /// Height and width of the picture.
        size: [usize; 2],
        /// Pixels outside and inside in turn.
        counts: Vec<u32>,
    },
}

/// One facelet in one picture.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CocoAnnotation {
    /// Its number.
    pub id: usize,
    /// Number of the picture.
    pub image_id: usize,
    /// Number of its colour.
    pub category_id: usize,
    /// 0: one thing each.
    pub iscrowd: u8,
    /// Left, top, width, height, px.
    pub bbox: [i32; 4],
    /// Pixels that show it.
    pub area: usize,
    /// Which.
    pub segmentation: CocoSegmentation,
    /// The facelet.
    pub facelet: Facelet,
    /// Its corners by the drawing, px, hidden or not.
    pub polygon_px: Vec<[f64; 2]>,
    /// Of the pixels that would show it, were nothing in the way.
    pub visible_share: f64,
    /// Share of its pixels under a lamp's reflection.
    pub glare_share: f64,
    /// Share of its pixels with a channel at its end.
    pub clipped_share: f64,
}

/// A COCO file of one half of a set.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, JsonSchema)]
pub struct CocoDocument {
    /// About it.
    pub info: CocoInfo,
    /// None: the pictures are made by whoever runs the program.
    pub licenses: [(); 0],
    /// The pictures.
    pub images: Vec<CocoImage>,
    /// The facelets in them.
    pub annotations: Vec<CocoAnnotation>,
    /// The colours.
    pub categories: Vec<CocoCategory>,
}

impl CocoDocument {
    /// Of one half of the scans.
    pub(super) fn of(scene: &Scene, subset: Subset, records: &[ScanRecord]) -> Self {
        let own = || {
            let scans = records.iter().filter(|record| record.subset == subset);
            scans.flat_map(|record| record.images.iter().map(|image| (record.scan, image)))
        };
        let image = |(scan, image): (usize, &ImageRecord)| CocoImage {
            id: image.id,
            file_name: image.file.clone(),
            width: image.width,
            height: image.height,
            camera: image.camera.clone(),
            scan,
        };
        let annotations = own().flat_map(|(_, image)| image.annotations.iter().flatten());
        Self {
            info: CocoInfo {
                description: ABOUT.to_owned(),
                version: env!("CARGO_PKG_VERSION").to_owned(),
            },
            licenses: [],
            images: own().map(image).collect(),
            annotations: annotations.cloned().collect(),
            categories: categories(scene),
        }
    }
}

/// What a person calls the colour of a face.
pub(super) fn colour_name(scene: &Scene, face: Face) -> String {
    format!("{:?}", scene.file().cube.colours.of(face)).to_lowercase()
}

fn categories(scene: &Scene) -> Vec<CocoCategory> {
    let category = |face: Face| CocoCategory {
        id: face.index() + 1,
        name: colour_name(scene, face),
        supercategory: "facelet".to_owned(),
    };
    Face::ALL.into_iter().map(category).collect()
}

/// One annotation for each facelet that shows at least a pixel.
pub(super) fn annotations(labels: &Labels, image_id: usize) -> Vec<CocoAnnotation> {
    let visible = labels.facelets.iter().filter(|label| label.visible_px > 0);
    visible.map(|label| annotation(labels, label, image_id)).collect()
}

fn annotation(labels: &Labels, label: &FaceletLabel, image_id: usize) -> CocoAnnotation {
    let size = (labels.width, labels.height);
    let code = label.facelet.index() as u8;
    let inside = |x: i32, y: i32| {
        let at = (usize::try_from(x), usize::try_from(y));
        match at {
            (Ok(x), Ok(y)) if x < labels.width && y < labels.height => {
                labels.codes[y * labels.width + x] == code
            }
            _ => false,
        }
    };
    let loops = outlines(size, inside);
    let corners = || loops.iter().flatten();
    let least = |of: fn(&(i32, i32)) -> i32| corners().map(of).min().unwrap_or(0);
    let most = |of: fn(&(i32, i32)) -> i32| corners().map(of).max().unwrap_or(0);
    let (left, top) = (least(|c| c.0), least(|c| c.1));
    // Polygons cannot have holes: a facelet with one is given by its runs.
    let segmentation = if loops.iter().any(|corners| twice_area(corners) < 0) {
        let counts = run_lengths(size, inside);
        CocoSegmentation::Runs { size: [labels.height, labels.width], counts }
    } else {
        let polygon =
            |corners: &Vec<(i32, i32)>| corners.iter().flat_map(|c| [c.0, c.1]).collect::<Vec<_>>();
        CocoSegmentation::Polygons(loops.iter().map(polygon).collect())
    };
    CocoAnnotation {
        id: 100 * image_id + label.facelet.index(),
        image_id,
        category_id: label.colour.index() + 1,
        iscrowd: 0,
        bbox: [left, top, most(|c| c.0) - left, most(|c| c.1) - top],
        area: label.visible_px,
        segmentation,
        facelet: label.facelet,
        polygon_px: label.polygon_px.clone(),
        visible_share: label.visible_share,
        glare_share: label.glare_share,
        clipped_share: label.clipped_share,
    }
}
