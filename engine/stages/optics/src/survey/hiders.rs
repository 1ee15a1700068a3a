//! What stands between a camera and a facelet, and how much of it that hides.

use dryturn_cube::{Face, Facelet};
use dryturn_geometry::DVec2;
use dryturn_scene::{Material, Scene};

use crate::lit_view::LitView;

/// What stands between a camera and a facelet.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub enum Hider {
    /// Rod, coupler or cap of a face's shaft.
    Shaft(Face),
    /// The motor of a face.
    Motor(Face),
    /// A fixture, by its place in the scene's list.
    Fixture(usize),
    /// Another piece of the cube.
    Piece,
    /// The edge of the picture.
    PictureEdge,
}

impl Hider {
    fn of(material: Material) -> Self {
        if let Some(face) = material.rod_of() {
            Self::Shaft(face)
        } else if let Some(face) = material.motor_of() {
            Self::Motor(face)
        } else if let Some(index) = material.fixture_index() {
            Self::Fixture(index)
        } else {
            Self::Piece
        }
    }

    /// What a person calls it.
    #[must_use]
    pub fn name(&self, scene: &Scene) -> String {
        match self {
            Self::Shaft(face) => format!("shaft {face}"),
            Self::Motor(face) => format!("motor {face}"),
            Self::Fixture(i) => {
                scene.file().fixtures.get(*i).map_or(String::new(), |f| f.name.clone())
            }
            Self::Piece => "another piece".to_owned(),
            Self::PictureEdge => "the picture's edge".to_owned(),
        }
    }
}

/// What covers the pixels of a facelet's square that do not show it.
pub(super) fn hiders(
    view: &LitView,
    materials: &[Material],
    facelet: Facelet,
    polygon: &[DVec2],
) -> Vec<(Hider, f64)> {
    let (low, high) = polygon
        .iter()
        .fold((DVec2::INFINITY, DVec2::NEG_INFINITY), |(a, b), p| (a.min(*p), b.max(*p)));
    // A facelet far outside the picture need not be counted pixel by pixel.
    let size = DVec2::new(view.width as f64, view.height as f64);
    let (low, high) = (low.max(-size), high.min(2.0 * size));
    let own = Material::of_facelet(facelet);
    let mut counts: Vec<(Hider, usize)> = Vec::new();
    let mut inside = 0;
    for row in low.y.ceil() as i64..=high.y.floor() as i64 {
        for column in low.x.ceil() as i64..=high.x.floor() as i64 {
            if !contains(polygon, DVec2::new(column as f64, row as f64)) {
                continue;
            }
            inside += 1;
            let at = (usize::try_from(row), usize::try_from(column));
            let hider = match at {
                (Ok(row), Ok(column)) if row < view.height && column < view.width => {
                    match materials[row * view.width + column] {
                        material if material == own || material == Material::BODY => continue,
                        material => Hider::of(material),
                    }
                }
                _ => Hider::PictureEdge,
            };
            match counts.iter_mut().find(|(known, _)| *known == hider) {
                Some((_, count)) => *count += 1,
                None => counts.push((hider, 1)),
            }
        }
    }
    counts.sort_by(|a, b| b.1.cmp(&a.1).then(a.0.cmp(&b.0)));
    counts.into_iter().map(|(hider, n)| (hider, n as f64 / f64::from(inside.max(1)))).collect()
}

/// Whether a point lies in a convex polygon, whichever way round.
fn contains(polygon: &[DVec2], point: DVec2) -> bool {
    let side = |k: usize| {
        let (a, b) = (polygon[k], polygon[(k + 1) % polygon.len()]);
        (b - a).perp_dot(point - a)
    };
    let all = |wanted: fn(f64) -> bool| (0..polygon.len()).all(|k| wanted(side(k)));
    all(|s| s >= 0.0) || all(|s| s <= 0.0)
}
