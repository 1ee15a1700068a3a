//! What a person calls things.

use dryturn_cube::Face;
use dryturn_scene::Scene;
use dryturn_scene::file::Method;

/// The colour of a face.
pub(crate) fn colour_name(scene: &Scene, face: Face) -> String {
    format!("{:?}", scene.file().cube.colours.of(face)).to_lowercase()
}

/// A way to read.
pub(crate) fn method_name(method: Method) -> &'static str {
    match method {
        Method::Nearest => "summed RGB difference",
        Method::Chromaticity => "chromaticity rule",
        Method::Lab => "CIELAB, CIEDE2000",
        Method::Gaussian => "Gaussian classes",
        Method::Likely => "Gaussian classes and decoder",
        Method::Blind => "decoder without a calibration",
    }
}
