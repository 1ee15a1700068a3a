//! What holds of every pose and lens, and of what stands between two boxes. Rays have `rays.rs`.

use core::f64::consts::TAU;

use dryturn_geometry::{
    DMat3, DVec2, DVec3, Distortion, Lens, Pose, fit_pose_near, may_stand_between, rotation,
};
use dryturn_units::maths;
use proptest::prelude::*;

fn cases(cases: u32) -> ProptestConfig {
    ProptestConfig { cases, failure_persistence: None, ..ProptestConfig::default() }
}

fn point(reach: f64) -> impl Strategy<Value = DVec3> {
    prop::array::uniform3(-reach..reach).prop_map(DVec3::from_array)
}

fn direction() -> impl Strategy<Value = DVec3> {
    (-1.0..1.0f64, 0.0..TAU).prop_map(|(height, angle_rad)| {
        let across = (1.0 - height * height).sqrt();
        DVec3::new(across * maths::cos(angle_rad), across * maths::sin(angle_rad), height)
    })
}

/// A rotation vector, radians.
fn turn(most_rad: f64) -> impl Strategy<Value = DVec3> {
    (direction(), 0.01..most_rad).prop_map(|(axis, angle_rad)| axis * angle_rad)
}

fn pose() -> impl Strategy<Value = Pose> {
    (point(500.0), turn(3.0)).prop_map(|(position, turn_rad)| {
        let camera_from_world = rotation(turn_rad);
        Pose { camera_from_world, position }
    })
}

/// One that folds nowhere in its picture.
fn lens() -> impl Strategy<Value = Lens> {
    let radial = (-0.1..0.1f64, -0.05..0.05f64, -0.02..0.02f64);
    let tangential = (-0.005..0.005f64, -0.005..0.005f64);
    let sizes = [300.0..3000.0f64, 300.0..3000.0, 0.0..2000.0, 0.0..2000.0];
    (sizes, radial, tangential).prop_map(|([across, down, column, row], (k1, k2, k3), (p1, p2))| {
        let (focal_px, centre_px) = (DVec2::new(across, down), DVec2::new(column, row));
        Lens { focal_px, centre_px, distortion: Distortion { k1, k2, k3, p1, p2 } }
    })
}

proptest! {
    #![proptest_config(cases(256))]

    /// A rotation keeps lengths and its axis, turns by the right hand, and is undone by its
    /// opposite.
    #[test]
    fn rotations_turn(turn_rad in turn(3.0), other in point(10.0)) {
        let there = rotation(turn_rad);
        prop_assert!((there * rotation(-turn_rad)).abs_diff_eq(DMat3::IDENTITY, 1e-12));
        let half = rotation(turn_rad * 0.5);
        prop_assert!((half * half).abs_diff_eq(there, 1e-12));
        prop_assert!((there.determinant() - 1.0).abs() <= 1e-12);
        prop_assert!((there * turn_rad).distance(turn_rad) <= 1e-12);
        prop_assert!(((there * other).length() - other.length()).abs() <= 1e-12);
        prop_assert!(other.cross(there * other).dot(turn_rad) >= -1e-9);
    }

    /// Cameras see places at their distances, and look where they are told to.
    #[test]
    fn poses_lead_there_and_back(
        (pose, world) in (pose(), point(500.0)),
        (side, up) in (direction(), direction()),
        distance in 60.0..900.0f64,
        target in point(20.0),
    ) {
        let camera = pose.to_camera(world);
        let again = pose.position + pose.direction_to_world(camera);
        prop_assert!(again.distance(world) <= 1e-9);
        prop_assert!((camera.length() - pose.position.distance(world)).abs() <= 1e-9);
        let position = side * distance;
        prop_assume!((target - position).normalize().cross(up).length() > 0.01);
        let looking = Pose::look_at(position, target, up).unwrap();
        let ahead = DVec3::Z * position.distance(target);
        prop_assert!(looking.to_camera(target).distance(ahead) <= 1e-9);
        let above = looking.to_camera(position + up);
        prop_assert!(above.y < 0.0 && above.x.abs() <= 1e-9, "{above}");
    }

    #[test]
    fn disturbed_poses_are_off_by_what_disturbed_them(
        pose in pose(),
        shift in point(30.0),
        turn_rad in turn(3.0),
    ) {
        let moved = pose.disturbed(shift, turn_rad);
        let (found, angle_rad) = pose.difference(&moved);
        prop_assert!(found.distance(shift) <= 1e-9);
        prop_assert!((angle_rad - turn_rad.length()).abs() <= 1e-9);
        prop_assert_eq!(pose.stepped(&[turn_rad, shift].map(|v| v.to_array()).concat()), moved);
        let back = moved.disturbed(-shift, -turn_rad);
        prop_assert!(back.position.distance(pose.position) <= 1e-9);
        prop_assert!(back.camera_from_world.abs_diff_eq(pose.camera_from_world, 1e-12));
    }

    /// What is seen at a pixel lies on the pixel's ray, however far away.
    #[test]
    fn lenses_lead_there_and_back(
        lens in lens(),
        (x, y) in (-0.5..0.5f64, -0.5..0.5f64),
        depth in 0.1..1e4f64,
        times in 0.1..10.0f64,
    ) {
        let camera = DVec3::new(x, y, 1.0) * depth;
        let pixel = lens.project(camera).unwrap();
        prop_assert!((lens.normalise(pixel).unwrap() - DVec2::new(x, y)).length() <= 1e-9);
        prop_assert!((lens.project(camera * times).unwrap() - pixel).length() <= 1e-6);
        prop_assert_eq!(lens.project(-camera), None);
    }

    /// A box round a point of a straight way may stand in it, one far away may not.
    #[test]
    fn what_cuts_a_way_may_stand_in_it(
        (one, other) in (point(40.0), point(40.0)),
        halves in prop::array::uniform3(prop::array::uniform3(0.1..8.0f64)),
        ends in prop::array::uniform2(prop::array::uniform3(-1.0..1.0f64)),
        way in 0.05..0.95f64,
    ) {
        let [half, other_half, between] = halves.map(DVec3::from_array);
        let [start, end] = ends.map(DVec3::from_array);
        let at = (one + half * start).lerp(other + other_half * end, way);
        let (a, b) = ((one - half, one + half), (other - other_half, other + other_half));
        prop_assert!(may_stand_between(&a, &b, &(at - between, at + between)));
        let far = at + DVec3::X * 200.0;
        prop_assert_eq!(may_stand_between(&a, &b, &(far - between, far + between)), false);
    }
}

proptest! {
    #![proptest_config(cases(64))]

    /// From a start that is a little off, the pose that made a picture is found again.
    #[test]
    fn fits_find_the_pose(
        side in direction(),
        distance in 150.0..400.0f64,
        shift in point(3.0),
        turn_rad in turn(0.05),
    ) {
        let (focal_px, centre_px) = (DVec2::splat(900.0), DVec2::new(320.0, 240.0));
        let distortion = Distortion { k1: -0.1, ..Distortion::default() };
        let lens = Lens { focal_px, centre_px, distortion };
        let up = if side.y.abs() < 0.9 { DVec3::Y } else { DVec3::X };
        let pose = Pose::look_at(side * distance, DVec3::ZERO, up).unwrap();
        let sign = |far: usize| if far % 2 == 1 { 28.0 } else { -28.0 };
        let corners = (0..8usize).map(|i| DVec3::new(sign(i), sign(i / 2), sign(i / 4)));
        let pairs: Vec<(DVec3, DVec2)> =
            corners.map(|world| (world, lens.project(pose.to_camera(world)).unwrap())).collect();
        let fitted = fit_pose_near(&lens, &pairs, &pose.disturbed(shift, turn_rad)).unwrap();
        let (off, angle_rad) = pose.difference(&fitted.pose);
        prop_assert!(off.length() <= 1e-5 && angle_rad <= 1e-6, "{fitted:?}");
        prop_assert!(fitted.rms_px <= 1e-6);
    }
}
