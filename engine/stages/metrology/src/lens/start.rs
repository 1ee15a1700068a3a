//! A start for the fit, in closed form: one plane-to-picture map a picture, from those the
//! focal length, then the poses (Z. Zhang, *A flexible new technique for camera
//! calibration*, 2000).
//!
//! Deviation from the paper: one focal length, square pixels and the optical centre in the
//! picture's middle, since the scene's camera has one angle of view; the centre is left to
//! the fit.

use dryturn_geometry::{DMat3, DVec2, DVec3, Pose};
use dryturn_numerics::NormalEquations;

/// Points on a plane (z = 0) and in a picture.
pub(super) type Pairs = [(DVec3, DVec2)];

/// The map from the plane's x, y, 1 to pixels from `centre_px`, up to a factor. `None`
/// where the points do not decide it.
pub(super) fn plane_map(pairs: &Pairs, centre_px: DVec2) -> Option<DMat3> {
    let extent = pairs.iter().map(|(p, _)| p.length()).fold(0.0, f64::max);
    let spread = pairs.iter().map(|(_, q)| (*q - centre_px).length()).fold(0.0, f64::max);
    if extent <= 0.0 || spread <= 0.0 {
        return None;
    }
    // Least squares of u·(c·p + 1) = a·p: the plane's origin is in front of the camera, so
    // that its factor is not zero.
    let mut equations = NormalEquations::new(8);
    for (world, pixel) in pairs {
        let (x, y) = (world.x / extent, world.y / extent);
        let (u, v) = ((pixel.x - centre_px.x) / spread, (pixel.y - centre_px.y) / spread);
        let rows = [
            ([x, y, 1.0, 0.0, 0.0, 0.0, -u * x, -u * y], u),
            ([0.0, 0.0, 0.0, x, y, 1.0, -v * x, -v * y], v),
        ];
        for (row, wanted) in rows {
            equations.add(&row.map(|slope| [slope]), [wanted]);
        }
    }
    let h = equations.solved()?;
    let column = |a: f64, b: f64, c: f64| DVec3::new(a * spread, b * spread, c);
    let map = DMat3::from_cols(
        column(h[0], h[3], h[6]) / extent,
        column(h[1], h[4], h[7]) / extent,
        column(h[2], h[5], 1.0),
    );
    map.is_finite().then_some(map)
}

/// The focal length that makes both axes of each plane equally long and perpendicular;
/// `None` where the planes do not decide it (all face the camera).
pub(super) fn focal_px(maps: &[DMat3]) -> Option<f64> {
    let (mut up, mut down) = (0.0, 0.0);
    for map in maps {
        let scale = map.x_axis.truncate().length().max(map.y_axis.truncate().length());
        let (a, b) = (map.x_axis / scale, map.y_axis / scale);
        let flat = |p: DVec3, q: DVec3| p.x * q.x + p.y * q.y;
        // flat / f² + depth = 0.
        for (flat, depth) in
            [(flat(a, b), a.z * b.z), (flat(a, a) - flat(b, b), a.z * a.z - b.z * b.z)]
        {
            up -= flat * depth;
            down += depth * depth;
        }
    }
    let square = up / down;
    (square > 0.0 && square.is_finite()).then(|| square.sqrt())
}

/// The pose of the camera over the plane; `None` where the map has none.
pub(super) fn pose(map: &DMat3, focal_px: f64) -> Option<Pose> {
    let ray = |column: DVec3| DVec3::new(column.x / focal_px, column.y / focal_px, column.z);
    let (a, b, t) = (ray(map.x_axis), ray(map.y_axis), ray(map.z_axis));
    let scale = 2.0 / (a.length() + b.length());
    // The plane's origin is in front.
    let scale = if t.z < 0.0 { -scale } else { scale };
    let x = (a * scale).try_normalize()?;
    let y = (b * scale - x * x.dot(b * scale)).try_normalize()?;
    let camera_from_world = DMat3::from_cols(x, y, x.cross(y));
    let position = -(camera_from_world.transpose() * (t * scale));
    position.is_finite().then_some(Pose { camera_from_world, position })
}
