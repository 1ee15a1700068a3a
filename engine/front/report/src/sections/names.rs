//! What a person calls things.

use std::borrow::Cow;

use dryturn_cube::Face;
use dryturn_scene::Scene;
use dryturn_scene::file::Method;
use dryturn_studies::Way;

/// The colour of a face.
pub(crate) fn colour_name(scene: &Scene, face: Face) -> String {
    format!("{:?}", scene.file().cube.colours.of(face)).to_lowercase()
}

/// A way to read.
pub(crate) fn way_name(way: &Way) -> Cow<'_, str> {
    let method = match way {
        Way::Ours(method) => method,
        Way::Guest(name) => return format!("guest “{name}”").into(),
    };
    match method {
        Method::Nearest => "summed RGB difference",
        Method::Chromaticity => "chromaticity rule",
        Method::Lab => "CIELAB, CIEDE2000",
        Method::Gaussian => "Gaussian classes",
        Method::Likely => "Gaussian classes and decoder",
        Method::Blind => "decoder without a calibration",
    }
    .into()
}
