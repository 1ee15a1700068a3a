//! What can stand between two boxes.

use glam::DVec3;

/// A box by its smallest and largest coordinates; flat ones are fine.
pub type Bounds = (DVec3, DVec3);

/// Whether box `c` may cut a straight way from a point of box `a` to a point of box `b`:
/// no where it lies outside their common hull, as the hull's outlines along the three
/// axes tell (E. Haines and J. Wallace, *Shaft culling for efficient ray-traced
/// radiosity*, 1994). Touching does not cut.
#[must_use]
pub fn may_stand_between(a: &Bounds, b: &Bounds, c: &Bounds) -> bool {
    let (low, high) = (a.0.min(b.0), a.1.max(b.1));
    if (0..3).any(|k| c.1[k] <= low[k] || c.0[k] >= high[k]) {
        return false;
    }
    let planes = [(0, 1), (1, 2), (2, 0)];
    let corners = [(false, false), (false, true), (true, false), (true, true)];
    !planes.iter().any(|&axes| corners.iter().any(|&side| cut_off(axes, side, (a, b), c)))
}

/// Whether the line through one corner of both boxes, seen along an axis, is an outline of
/// their hull that leaves `c` outside.
fn cut_off(
    (i, j): (usize, usize),
    (far_i, far_j): (bool, bool),
    (a, b): (&Bounds, &Bounds),
    c: &Bounds,
) -> bool {
    let pick = |bounds: &Bounds, k: usize, far: bool| if far { bounds.1[k] } else { bounds.0[k] };
    let corner = |bounds: &Bounds| (pick(bounds, i, far_i), pick(bounds, j, far_j));
    let ((ai, aj), (bi, bj)) = (corner(a), corner(b));
    // Across the line, outwards.
    let outwards = |sign: f64| (-(bj - aj) * sign, (bi - ai) * sign);
    let sign = |far: bool| if far { 1.0 } else { -1.0 };
    let (ni, nj) = outwards(1.0);
    let (ni, nj) =
        if ni * sign(far_i) + nj * sign(far_j) >= 0.0 { (ni, nj) } else { outwards(-1.0) };
    let along = |bounds: &Bounds, most: bool| {
        // The extreme corner in the direction of the normal, or against it.
        let at = |n: f64, k: usize| n * pick(bounds, k, (n > 0.0) == most);
        at(ni, i) + at(nj, j)
    };
    let line = ni * ai + nj * aj;
    let size = 1e-9 * (line.abs() + 1e-9);
    let outline = along(a, true) <= line + size && along(b, true) <= line + size;
    outline && (ni, nj) != (0.0, 0.0) && along(c, false) >= line
}

#[cfg(test)]
mod tests {
    use dryturn_units::noise::Seed;

    use super::*;

    /// Whatever many straight ways meet is never said not to stand between.
    #[test]
    fn nothing_that_is_met_is_left_out() {
        let mut noise = Seed::new(4).stream("between", 0, 0);
        let (mut left_out, mut met) = (0, 0);
        for _ in 0..400 {
            let mut cuboid = |reach: f64, size: f64| -> Bounds {
                let mut vector = |r: f64| DVec3::from_array([0; 3].map(|_| noise.between(-r, r)));
                let (centre, half) = (vector(reach), vector(size).abs());
                (centre - half, centre + half)
            };
            let (a, b, c) = (cuboid(10.0, 2.0), cuboid(10.0, 3.0), cuboid(8.0, 2.0));
            let mut inside = |(low, high): &Bounds| {
                DVec3::from_array([0, 1, 2].map(|k| noise.between(low[k], high[k])))
            };
            let mut cuts = false;
            for _ in 0..200 {
                let (from, to) = (inside(&a), inside(&b));
                cuts |= (1..40).any(|i| {
                    let at = from.lerp(to, f64::from(i) / 40.0);
                    at.cmpgt(c.0).all() && at.cmplt(c.1).all()
                });
            }
            let may = may_stand_between(&a, &b, &c);
            assert!(may || !cuts, "{a:?} {b:?} {c:?}");
            met += usize::from(cuts);
            left_out += usize::from(!may);
        }
        assert!(met > 20 && left_out > 150, "{met} met, {left_out} left out");
    }
}
