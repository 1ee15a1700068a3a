//! How far apart the pieces of a turning layer are from those of a late one,
//! exactly.
//!
//! A piece is a cuboid of edge p − c (pitch p, play c) with all edges rounded by
//! r: an inner cuboid of half extent `p/2 − c/2 − r`, grown by r. Pieces are as
//! far apart as their inner cuboids, less 2r. Where two convex solids do not meet,
//! the shortest way between them ends on a vertex of one, or joins two edges
//! inside both; where they meet, no separating axis exists (S. Gottschalk,
//! M. Lin, D. Manocha, 1996, for boxes; from memory).

use dryturn_scene::file::Cube;
use dryturn_units::maths;

/// A vector, or a point, millimetres.
type Vector = [f64; 3];

/// The eight corners of a box, as signs.
const CORNERS: [Vector; 8] = {
    let mut corners = [[1.0; 3]; 8];
    let mut i = 0;
    while i < 8 {
        let mut k = 0;
        while k < 3 {
            if i >> k & 1 == 1 {
                corners[i][k] = -1.0;
            }
            k += 1;
        }
        i += 1;
    }
    corners
};

/// Directions closer to parallel than this (the squared sine between them) count
/// as parallel; the corners answer for them.
const PARALLEL: f64 = 1e-16;

/// The shape of the pieces.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pieces {
    /// Half the edge of the whole cube, millimetres; above 0.
    pub half_mm: f64,
    /// Rounding of the pieces' edges, millimetres; 0 up to what the pitch allows,
    /// `half_mm / 3 − clearance_mm / 2`.
    pub radius_mm: f64,
    /// Play between neighbouring pieces, millimetres; at least 0.
    pub clearance_mm: f64,
}

impl Pieces {
    /// The pieces of a cube.
    #[must_use]
    pub fn of(cube: &Cube) -> Self {
        Self {
            half_mm: cube.edge_mm / 2.0,
            radius_mm: cube.edge_radius_mm,
            clearance_mm: cube.clearance_mm,
        }
    }

    /// Signed separation, millimetres, of the turning layer's pieces from those of
    /// a late layer at a right angle to it; the three pieces that are in both count
    /// for neither.
    ///
    /// The late layer's outward axis is +y, and it is turned about it by
    /// `late_rad`; the turning layer's is +x, it is turned about it by `turned_rad`
    /// and lifted along it by `lift_mm`. Angles are right-handed, any value. Below
    /// 0 the rounded edges overlap; the answer is never below twice the rounding,
    /// negative, which says that inner cuboids meet.
    #[must_use]
    pub fn separation_mm(&self, late_rad: f64, turned_rad: f64, lift_mm: f64) -> f64 {
        let pitch = 2.0 * self.half_mm / 3.0;
        let half = pitch / 2.0 - self.clearance_mm / 2.0 - self.radius_mm;
        let (ca, sa) = (maths::cos(late_rad), maths::sin(late_rad));
        let (cb, sb) = (maths::cos(turned_rad), maths::sin(turned_rad));
        // The turning layer's directions as the late layer sees them.
        let axes = [[ca, 0.0, sa], [-sa * sb, cb, ca * sb], [-sa * cb, -sb, ca * cb]];
        let boxes = Boxes::new(axes, half);
        let mut apart = [[0.0; 3]; 36];
        for (i, apart) in apart.iter_mut().enumerate() {
            let step = |divisor, places| (i / divisor % places) as f64;
            let turning = [1.0, step(1, 2) - 1.0, step(2, 3) - 1.0].map(|n| n * pitch);
            let late = [step(6, 2) - 1.0, 1.0, step(12, 3) - 1.0].map(|n| n * pitch);
            let centre = boxes.seen_by_first([turning[0] + lift_mm, turning[1], turning[2]]);
            *apart = [0, 1, 2].map(|k| centre[k] - late[k]);
        }
        boxes.nearest_squared(&apart).sqrt() - 2.0 * self.radius_mm
    }
}

/// Two cubes of the same size, the second turned against the first.
struct Boxes {
    half: f64,
    /// The second cube's directions, as the first sees them.
    axes: [Vector; 3],
    /// From the second cube's centre to its corners, as the first sees them.
    corners: [Vector; 8],
    /// From the first cube's centre to its corners, as the second sees them.
    corners_back: [Vector; 8],
    /// Half the second cube's width along the first's directions, and the other
    /// way round.
    reach: Vector,
    reach_back: Vector,
}

impl Boxes {
    fn new(axes: [Vector; 3], half: f64) -> Self {
        let back = [0, 1, 2].map(|k| [axes[0][k], axes[1][k], axes[2][k]]);
        let reach =
            |rows: [Vector; 3]| rows.map(|row| half * row.map(f64::abs).iter().sum::<f64>());
        Self {
            half,
            axes,
            corners: CORNERS.map(|signs| back.map(|row| half * dot(row, signs))),
            corners_back: CORNERS.map(|signs| axes.map(|axis| half * dot(axis, signs))),
            reach: reach(back),
            reach_back: reach(axes),
        }
    }

    /// A vector in the second cube's directions, as the first sees it.
    fn seen_by_first(&self, vector: Vector) -> Vector {
        [0, 1, 2].map(|k| (0..3).map(|j| self.axes[j][k] * vector[j]).sum())
    }

    /// A vector in the first cube's directions, as the second sees it.
    fn seen_by_second(&self, vector: Vector) -> Vector {
        self.axes.map(|axis| dot(axis, vector))
    }

    /// The smallest squared distance, where the second cube's centre is at any of
    /// these places from the first's.
    fn nearest_squared(&self, places: &[Vector]) -> f64 {
        let mut bounds: Vec<(f64, Vector)> =
            places.iter().map(|&place| (self.bound_squared(place), place)).collect();
        bounds.sort_by(|a, b| a.0.total_cmp(&b.0));
        let mut nearest = f64::INFINITY;
        for (bound, place) in bounds {
            if bound >= nearest {
                break;
            }
            nearest = self.squared(place).min(nearest);
        }
        nearest
    }

    /// What the squared distance is at least: that between the first cube and the
    /// second one's bounding box, or the other way round.
    fn bound_squared(&self, place: Vector) -> f64 {
        let gap = |place: Vector, reach: Vector| {
            (0..3)
                .map(|k| (place[k].abs() - self.half - reach[k]).max(0.0))
                .map(|gap| gap * gap)
                .sum::<f64>()
        };
        gap(place, self.reach).max(gap(self.seen_by_second(place), self.reach_back))
    }

    /// Squared distance of the two cubes; 0 where they meet.
    fn squared(&self, place: Vector) -> f64 {
        let back = self.seen_by_second(place);
        if !self.separated(place, back) {
            return 0.0;
        }
        let mut least = f64::INFINITY;
        for (corner, corner_back) in self.corners.iter().zip(&self.corners_back) {
            let second = [0, 1, 2].map(|k| place[k] + corner[k]);
            let first = [0, 1, 2].map(|k| corner_back[k] - back[k]);
            least = least.min(self.outside_squared(second)).min(self.outside_squared(first));
        }
        for i in 0..3 {
            for j in 0..3 {
                least = least.min(self.edges_squared(place, i, j));
            }
        }
        least
    }

    /// Squared distance of a point from a cube around the origin.
    fn outside_squared(&self, point: Vector) -> f64 {
        point.iter().map(|x| (x.abs() - self.half).max(0.0)).map(|x| x * x).sum()
    }

    /// Whether some plane lies between the cubes: one along a face, or along an
    /// edge of each.
    fn separated(&self, place: Vector, back: Vector) -> bool {
        let beyond = |k: usize| {
            place[k].abs() > self.half + self.reach[k]
                || back[k].abs() > self.half + self.reach_back[k]
        };
        (0..3).any(beyond)
            || (0..9).any(|n| {
                let normal = across(n / 3, self.axes[n % 3]);
                let width = |v: Vector| self.half * v.map(f64::abs).iter().sum::<f64>();
                dot(normal, normal) > PARALLEL
                    && dot(normal, place).abs() > width(normal) + width(self.seen_by_second(normal))
            })
    }

    /// The smallest squared distance of the first cube's edges along its direction
    /// `i` from the second's along its direction `j`, where the shortest way ends
    /// inside both; elsewhere corners are as near.
    fn edges_squared(&self, place: Vector, i: usize, j: usize) -> f64 {
        let along = self.axes[j];
        let (lean, normal) = (along[i], across(i, along));
        let sine_squared = dot(normal, normal);
        if sine_squared <= PARALLEL {
            return f64::INFINITY;
        }
        let [k, l] = [(i + 1) % 3, (i + 2) % 3];
        let [m, n] = [(j + 1) % 3, (j + 2) % 3];
        let mut least = f64::INFINITY;
        for signs in 0..16 {
            let sign = |bit: u32| if signs >> bit & 1 == 1 { -self.half } else { self.half };
            // From the middle of the one edge to the middle of the other.
            let mut between =
                [0, 1, 2].map(|x| place[x] + sign(0) * self.axes[m][x] + sign(1) * self.axes[n][x]);
            between[k] -= sign(2);
            between[l] -= sign(3);
            let on_second = dot(between, along);
            let first = (between[i] - lean * on_second) / sine_squared;
            let second = lean * first - on_second;
            if first.abs() <= self.half && second.abs() <= self.half {
                let mut rest = [0, 1, 2].map(|x| between[x] + second * along[x]);
                rest[i] -= first;
                least = least.min(dot(rest, rest));
            }
        }
        least
    }
}

fn dot(a: Vector, b: Vector) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

/// The cross product of the unit vector `i` and another.
fn across(i: usize, vector: Vector) -> Vector {
    let mut product = [0.0; 3];
    product[(i + 1) % 3] = -vector[(i + 2) % 3];
    product[(i + 2) % 3] = vector[(i + 1) % 3];
    product
}
