//! The separation of two layers, and the interlock's closed forms, against the
//! parry3d crate (double precision), which is built for collision detection and
//! knows nothing of ours.

use dryturn_driving::separation::Pieces;
use dryturn_driving::{Interlock, Torques};
use dryturn_scene::Scene;
use dryturn_scene::file::Cube;
use dryturn_units::maths::{acos, atan, cos, degrees, radians, sin};
use dryturn_units::noise::Seed;
use parry3d_f64::glamx::DRot3;
use parry3d_f64::math::{Pose, Vector};
use parry3d_f64::query::details::distance_support_map_support_map as gjk_distance;
use parry3d_f64::query::{Contact, contact, distance};
use parry3d_f64::shape::{Cuboid, RoundCuboid};
use serde_json::json;

/// Half extent of a piece's inner cuboid.
fn inner_mm(pieces: &Pieces) -> f64 {
    pieces.half_mm / 3.0 - pieces.clearance_mm / 2.0 - pieces.radius_mm
}

/// Poses of every piece of the late layer beside every piece of the turning one,
/// without the three that are in both.
fn pairs(pieces: &Pieces, late: f64, turned: f64, lift_mm: f64) -> Vec<(Pose, Pose)> {
    let pitch = 2.0 * pieces.half_mm / 3.0;
    let (late, turned) = (DRot3::from_rotation_y(late), DRot3::from_rotation_x(turned));
    let lift = Vector::new(lift_mm, 0.0, 0.0);
    let row = [-1.0, 0.0, 1.0];
    let places = || [-1.0, 0.0].into_iter().flat_map(|a| row.map(|b| (a * pitch, b * pitch)));
    places()
        .map(|(x, z)| Pose::from_parts(late * Vector::new(x, pitch, z), late))
        .flat_map(|still| {
            places().map(move |(y, z)| {
                (still, Pose::from_parts(turned * Vector::new(pitch, y, z) + lift, turned))
            })
        })
        .collect()
}

/// What is least over all pairs.
fn least<T>(pairs: &[(Pose, Pose)], of: impl Fn(&Pose, &Pose) -> Option<(f64, T)>) -> (f64, T) {
    let found = pairs.iter().filter_map(|(a, b)| of(a, b));
    found.min_by(|a, b| a.0.total_cmp(&b.0)).unwrap()
}

/// The nearest contact of the rounded pieces.
fn nearest_contact(pieces: &Pieces, late: f64, turned: f64, lift_mm: f64) -> Contact {
    let inner = Cuboid::new(Vector::splat(inner_mm(pieces)));
    let piece = RoundCuboid { inner_shape: inner, border_radius: pieces.radius_mm };
    least(&pairs(pieces, late, turned, lift_mm), |a, b| {
        let found = contact(a, &piece, b, &piece, 100.0).unwrap()?;
        Some((found.dist, found))
    })
    .1
}

/// Shapes and angles of any size that a cube may have; a tenth of them straight,
/// where edges are parallel.
fn any_meetings(count: u64) -> impl Iterator<Item = (Pieces, f64, f64, f64)> {
    (0..count).map(|i| {
        let mut noise = Seed::new(5).stream("meeting", 0, i);
        let pieces = Pieces {
            half_mm: noise.between(15.0, 60.0),
            radius_mm: noise.between(0.1, 4.0),
            clearance_mm: noise.between(0.0, 1.0),
        };
        let late = if i % 10 == 3 { 0.0 } else { noise.between(-0.15, 0.15) };
        let turned = if i % 10 == 7 { 0.0 } else { noise.between(-1.6, 1.6) };
        (pieces, late, turned, if i % 2 == 0 { 0.0 } else { noise.between(0.0, 1.0) })
    })
}

/// `query::distance` of two cuboids takes the closest features from the widest
/// separating axis, which need not be the closest ones; it is then too large (in
/// one of nine cases here), never too small. The general algorithm for convex
/// shapes (Gilbert, Johnson, Keerthi) is exact.
#[test]
fn inner_cuboids_are_as_far_apart() {
    let mut meeting = 0;
    for (pieces, late, turned, lift_mm) in any_meetings(2000) {
        let found = pieces.separation_mm(late, turned, lift_mm);
        let shape = Cuboid::new(Vector::splat(inner_mm(&pieces)));
        let pairs = pairs(&pieces, late, turned, lift_mm);
        let wanted = least(&pairs, |a, b| Some((gjk_distance(&a.inv_mul(b), &shape, &shape), ())));
        let wanted = wanted.0 - 2.0 * pieces.radius_mm;
        let at = format!("{pieces:?}, {late}, {turned}, {lift_mm}");
        assert!((found - wanted).abs() < 1e-6, "{found} for {wanted}: {at}");
        let upper =
            least(&pairs, |a, b| Some((distance(a, &shape, b, &shape).unwrap().distance, ())));
        assert!(found < upper.0 - 2.0 * pieces.radius_mm + 1e-6, "{found}: {at}");
        meeting += usize::from(found < 0.0);
    }
    assert!(meeting > 200, "only {meeting} of 2000 overlap");
}

/// Rounded cuboids: their gap, and how deep they overlap while only roundings do.
/// Parry's depth comes from an expanding polytope, within a micrometre here.
#[test]
fn rounded_cuboids_touch_and_overlap_as_deep() {
    let mut overlapping = 0;
    for (pieces, late, turned, lift_mm) in any_meetings(2000) {
        let found = pieces.separation_mm(late, turned, lift_mm);
        if found > -1.999 * pieces.radius_mm {
            let wanted = nearest_contact(&pieces, late, turned, lift_mm).dist;
            assert!((found - wanted).abs() < 1e-3, "{found} for {wanted}: {pieces:?}");
            overlapping += usize::from(found < -0.01);
        }
    }
    assert!(overlapping > 200, "only {overlapping} of 2000 overlap");
}

#[test]
fn both_angles_the_other_way_round_are_the_same() {
    for (pieces, late, turned, lift_mm) in any_meetings(500) {
        let one = pieces.separation_mm(late, turned, lift_mm);
        let other = pieces.separation_mm(-late, -turned, lift_mm);
        assert!((one - other).abs() < 1e-9, "{one}, {other}: {pieces:?}");
    }
}

#[test]
fn a_face_on_its_stop_leaves_play_and_lift() {
    for (pieces, _, turned, lift_mm) in any_meetings(500) {
        let found = pieces.separation_mm(0.0, turned, lift_mm);
        assert!(found > pieces.clearance_mm + lift_mm - 1e-9, "{found}: {pieces:?}");
    }
}

/// A cube of 56 mm: play, radius, lift in millimetres; no friction between pieces.
fn cube(clearance_mm: f64, edge_radius_mm: f64, lift_mm: f64) -> Cube {
    let text = include_str!("../../../../scenes/workbench.ron");
    let changes = [
        ("cube.clearance_mm", clearance_mm),
        ("cube.edge_radius_mm", edge_radius_mm),
        ("cube.lift_mm", lift_mm),
        ("cube.friction_ratio", 0.0),
    ];
    let scene = Scene::parse(text, "workbench").unwrap();
    let scene = changes.iter().fold(scene, |s, (path, value)| s.with(path, json!(value)).unwrap());
    scene.file().cube.clone()
}

fn tight() -> Cube {
    cube(0.1, 1.0, 0.2)
}

fn loose() -> Cube {
    cube(0.4, 3.0, 1.0)
}

/// How far, degrees, the turning layer gets in the blocking direction before its
/// rounded pieces touch those of a layer that is off by `off_deg`.
fn first_contact_deg(cube: &Cube, off_deg: f64) -> f64 {
    let pieces = Pieces::of(cube);
    let gap = |turned_deg: f64| {
        nearest_contact(&pieces, radians(off_deg), radians(-turned_deg), cube.lift_mm).dist
    };
    let mut high = 0.1;
    while gap(high) > 0.0 {
        high += 0.1;
        assert!(high < 90.0, "no contact at {off_deg} degrees");
    }
    let mut low = high - 0.1;
    for _ in 0..40 {
        let middle = 0.5 * (low + high);
        if gap(middle) > 0.0 { low = middle } else { high = middle }
    }
    0.5 * (low + high)
}

/// The largest angle, degrees, at which a late layer lets the other one turn by a
/// quarter in the blocking direction.
fn free_deg(cube: &Cube) -> f64 {
    let pieces = Pieces::of(cube);
    let (mut low, mut high) = (0.0, 10.0);
    for _ in 0..25 {
        let middle: f64 = 0.5 * (low + high);
        let touches = (0..=180).any(|half_degrees| {
            let turned = radians(-0.5 * f64::from(half_degrees));
            nearest_contact(&pieces, radians(middle), turned, cube.lift_mm).dist < 0.0
        });
        if touches { high = middle } else { low = middle }
    }
    0.5 * (low + high)
}

/// It agrees to a thousandth: what is free is free where the corner of a late
/// piece stands on the flat of a turning one, and that the closed form has
/// exactly. On the loose cube the turning layer's own corners come first up to
/// 50°, and let 8 % more pass.
#[test]
fn free_angle() {
    for cube in [tight(), loose()] {
        let (found, wanted) = (Interlock::of(&cube).free_deg, free_deg(&cube));
        assert!((found / wanted - 1.0).abs() < 0.001, "{found} for {wanted}");
    }
}

/// The closed form's table is rounded to tenths of a degree, which leaves 8 %
/// at 4° (0.3 for 0.324).
#[test]
fn first_contact_on_a_tight_cube() {
    let interlock = Interlock::of(&tight());
    for off_deg in [1.0, 2.0, 3.0, 4.0] {
        let (found, wanted) =
            (interlock.contact_deg(off_deg), first_contact_deg(&tight(), off_deg));
        assert!((found / wanted - 1.0).abs() < 0.1, "{off_deg}: {found} for {wanted}");
    }
}

/// Where pieces first touch, the contact angle three ways: from the closed form
/// `cos α = 1 − o/2r`; from how fast the gap closes per angle of either layer, as
/// a push of the one turns the other; from the contact's normal.
///
/// They agree within 4° but just above a loose cube's free angle (up to 8° below
/// 4.2°): contact is met only after 11° and more, where the turning layer's corner
/// has swung inwards, so that the overlap is smaller than the closed form has it.
/// The jam angle that follows from the torque ratio agrees within 10 % throughout.
#[test]
fn contact_angle_at_first_contact() {
    let offs_deg = [vec![0.7, 1.0, 2.0, 3.0, 4.0], vec![3.8, 4.3, 5.0, 6.0, 8.0, 10.0, 12.0, 14.0]];
    for (cube, offs_deg) in [tight(), loose()].into_iter().zip(offs_deg) {
        let pieces = Pieces::of(&cube);
        let (x_mm, radius_mm) = (inner_mm(&pieces), cube.edge_radius_mm);
        let z_mm = cube.edge_mm / 3.0 + x_mm;
        for off_deg in offs_deg {
            let off = radians(off_deg);
            let slack_mm = cube.clearance_mm + cube.lift_mm;
            let overlap_mm = z_mm * sin(off) - x_mm * (1.0 - cos(off)) - slack_mm;
            let closed = degrees(acos(1.0 - overlap_mm / (2.0 * radius_mm)));

            let met = radians(-first_contact_deg(&cube, off_deg));
            let gap = |late: f64, turned: f64| pieces.separation_mm(late, turned, cube.lift_mm);
            let step = 1e-6;
            let per_turned = (gap(off, met + step) - gap(off, met - step)).abs();
            let per_late = (gap(off + step, met) - gap(off - step, met)).abs();
            let leverage = degrees(atan(per_turned / per_late));

            let normal = nearest_contact(&pieces, off, met, cube.lift_mm).normal1;
            let inclined = degrees(acos(normal.x.abs()));

            let allowed = if off_deg < 4.2 && radius_mm > 2.0 { 8.0 } else { 4.0 };
            let at = format!("{off_deg}: {closed}, {leverage}, {inclined}");
            assert!((closed - leverage).abs() < allowed, "{at}");
            assert!((closed - inclined).abs() < allowed, "{at}");
            let jam_deg = Interlock::of(&cube).jam_deg(&Torques {
                late_friction_n_m: per_late,
                late_hold_n_m: 0.0,
                turning_friction_n_m: 0.0,
                turning_limit_n_m: per_turned,
            });
            assert!((jam_deg / off_deg - 1.0).abs() < 0.1, "{jam_deg}, {at}");
        }
    }
}
