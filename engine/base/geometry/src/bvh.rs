//! A bounding volume hierarchy over a few dozen solids.

use glam::DVec3;

use crate::solid::{Hit, Ray, Shape, enter_box};

struct Node {
    min: DVec3,
    max: DVec3,
    /// A leaf's solid, or the node after this one's whole subtree.
    kind: Kind,
}

enum Kind {
    Leaf(usize),
    /// Index of the node to go to when this box is missed.
    Inner {
        skip: usize,
    },
}

/// Solids in a tree of boxes, laid out so that a ray walks it without a stack:
/// a node's first child follows it, and a missed box says where to go on.
pub struct Bvh {
    shapes: Vec<Shape>,
    nodes: Vec<Node>,
}

impl Bvh {
    /// A tree over `shapes`; hits name them by their index.
    #[must_use]
    pub fn new(shapes: Vec<Shape>) -> Self {
        let mut tree = Self { shapes, nodes: Vec::new() };
        let mut order: Vec<usize> = (0..tree.shapes.len()).collect();
        if !order.is_empty() {
            tree.build(&mut order);
        }
        tree
    }

    fn build(&mut self, order: &mut [usize]) {
        let (mut min, mut max) = (DVec3::INFINITY, DVec3::NEG_INFINITY);
        for &i in order.iter() {
            let (low, high) = self.shapes[i].bounds();
            (min, max) = (min.min(low), max.max(high));
        }
        if let [only] = *order {
            self.nodes.push(Node { min, max, kind: Kind::Leaf(only) });
            return;
        }
        let extent = max - min;
        let axis = (0..3).fold(0, |best, k| if extent[k] > extent[best] { k } else { best });
        let middle = |i: usize| {
            let (low, high) = self.shapes[i].bounds();
            low[axis] + high[axis]
        };
        order.sort_by(|&a, &b| middle(a).total_cmp(&middle(b)).then(a.cmp(&b)));
        let here = self.nodes.len();
        self.nodes.push(Node { min, max, kind: Kind::Inner { skip: 0 } });
        let (left, right) = order.split_at_mut(order.len() / 2);
        self.build(left);
        self.build(right);
        self.nodes[here].kind = Kind::Inner { skip: self.nodes.len() };
    }

    /// The nearest solid with `0 < t < limit`, with its index.
    #[must_use]
    pub fn nearest(&self, ray: &Ray, limit: f64) -> Option<(usize, Hit)> {
        let mut best: Option<(usize, Hit)> = None;
        self.walk(ray, limit, |index, hit, reach| {
            best = Some((index, hit));
            *reach = hit.t;
            false
        });
        best
    }

    /// Whether any solid stands in the way with `0 < t < limit`.
    #[must_use]
    pub fn blocked(&self, ray: &Ray, limit: f64) -> bool {
        self.walk(ray, limit, |_, _, _| true)
    }

    /// Visits every hit below a reach that the visitor may shorten, until it
    /// returns true.
    fn walk(
        &self,
        ray: &Ray,
        mut reach: f64,
        mut visit: impl FnMut(usize, Hit, &mut f64) -> bool,
    ) -> bool {
        let inverse = ray.direction.recip();
        let mut at = 0;
        while let Some(node) = self.nodes.get(at) {
            let entered =
                enter_box(ray.origin, inverse, node.min, node.max).is_some_and(|(t, _)| t < reach);
            match node.kind {
                Kind::Inner { skip } if !entered => at = skip,
                Kind::Inner { .. } => at += 1,
                Kind::Leaf(index) => {
                    if entered
                        && let Some(hit) = self.shapes[index].hit(ray, reach)
                        && visit(index, hit, &mut reach)
                    {
                        return true;
                    }
                    at += 1;
                }
            }
        }
        false
    }
}

#[cfg(test)]
mod tests {
    use dryturn_units::noise::Seed;

    use super::*;
    use crate::Axis;

    /// The tree must find exactly what trying every solid finds.
    #[test]
    fn tree_equals_trying_every_solid() {
        let mut noise = Seed::new(3).stream("bvh", 0, 0);
        let mut vector =
            |reach: f64| DVec3::from_array([0; 3].map(|_| noise.between(-reach, reach)));
        let shapes: Vec<Shape> = (0..40)
            .map(|i| {
                let centre = vector(50.0);
                if i % 3 == 0 {
                    let axis = [Axis::X, Axis::Y, Axis::Z][i / 3 % 3];
                    Shape::Cylinder { axis, centre, radius: 4.0, half_length: 9.0 }
                } else {
                    Shape::Box { min: centre - DVec3::splat(5.0), max: centre + DVec3::splat(3.0) }
                }
            })
            .collect();
        let tree = Bvh::new(shapes.clone());
        let mut met = 0;
        for _ in 0..2000 {
            let (origin, target) = (vector(120.0), vector(50.0));
            let ray = Ray { origin, direction: target - origin };
            let brute = shapes
                .iter()
                .enumerate()
                .filter_map(|(i, s)| s.hit(&ray, f64::INFINITY).map(|hit| (i, hit)))
                .min_by(|a, b| a.1.t.total_cmp(&b.1.t));
            assert_eq!(tree.nearest(&ray, f64::INFINITY), brute);
            assert_eq!(tree.blocked(&ray, f64::INFINITY), brute.is_some());
            met += usize::from(brute.is_some());
        }
        assert!(met > 200, "the rays must meet something: {met}");
    }
}
