//! Pictures and facelets in the COCO format (object detection; T.-Y. Lin et al.,
//! *Microsoft COCO: common objects in context*, 2014): categories are the six colours.

use dryturn_cube::Face;
use dryturn_handoff::{FaceletLabel, Labels};
use dryturn_scene::Scene;
use serde_json::{Value as Json, json};

use super::outline::{outlines, run_lengths, twice_area};

/// What a person calls the colour of a face.
pub(super) fn colour_name(scene: &Scene, face: Face) -> String {
    format!("{:?}", scene.file().cube.colours.of(face)).to_lowercase()
}

/// The six colours, numbered from 1 in the order of the faces U R F D L B.
pub(super) fn categories(scene: &Scene) -> Vec<Json> {
    let category = |face: Face| {
        let name = colour_name(scene, face);
        json!({ "id": face.index() + 1, "name": name, "supercategory": "facelet" })
    };
    Face::ALL.into_iter().map(category).collect()
}

/// One annotation for each facelet that shows at least a pixel.
pub(super) fn annotations(labels: &Labels, image_id: usize) -> Vec<Json> {
    let visible = labels.facelets.iter().filter(|label| label.visible_px > 0);
    visible.map(|label| annotation(labels, label, image_id)).collect()
}

fn annotation(labels: &Labels, label: &FaceletLabel, image_id: usize) -> Json {
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
        json!({ "size": [labels.height, labels.width], "counts": run_lengths(size, inside) })
    } else {
        let polygon =
            |corners: &Vec<(i32, i32)>| corners.iter().flat_map(|c| [c.0, c.1]).collect::<Vec<_>>();
        json!(loops.iter().map(polygon).collect::<Vec<_>>())
    };
    json!({
        "id": 100 * image_id + label.facelet.index(), "image_id": image_id,
        "category_id": label.colour.index() + 1, "iscrowd": 0,
        "bbox": [left, top, most(|c| c.0) - left, most(|c| c.1) - top],
        "area": label.visible_px, "segmentation": segmentation,
        "facelet": label.facelet.name(), "polygon_px": label.polygon_px,
        "visible_share": label.visible_share, "glare_share": label.glare_share,
        "clipped_share": label.clipped_share,
    })
}
