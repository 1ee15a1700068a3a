use dryturn_geometry::{Distortion, Lens, Pose};
use dryturn_units::noise::Seed;

use super::*;

/// A picture of the board alone on a grey ground, 32 samples a pixel, with noise.
fn drawn(board: &Board, lens: &Lens, pose: &Pose, [width, height]: [usize; 2]) -> Frame {
    let mut noise = Seed::new(3).stream("board", 0, 0);
    let mut pixels = Vec::new();
    let half = DVec2::new(board.columns as f64 + 1.0, board.rows as f64 + 1.0) / 2.0;
    let grey = |pixel: DVec2| -> f64 {
        let n = lens.normalise(pixel).unwrap();
        let ray = pose.direction_to_world(n.extend(1.0));
        let at = pose.position - ray * (pose.position.z / ray.z);
        let square = at.truncate() / board.pitch_mm + half;
        let inside = square.cmpge(DVec2::ZERO).all() && square.cmplt(2.0 * half).all();
        if !inside {
            90.0
        } else if (square.x.floor() + square.y.floor()) as i64 % 2 == 0 {
            40.0
        } else {
            210.0
        }
    };
    for i in 0..width * height {
        let pixel = DVec2::new((i % width) as f64, (i / width) as f64);
        // No two in a row or column, so that no edge is coarsely stepped.
        let sub =
            |k: i32| DVec2::new((f64::from(k) + 0.5) / 32.0, (f64::from(k * 13 % 32) + 0.5) / 32.0);
        let mean = (0..32).map(|k| grey(pixel + sub(k) - 0.5)).sum::<f64>() / 32.0;
        let code = (mean + 2.0 * noise.gaussian()).round() as u8;
        pixels.extend([code; 3]);
    }
    Frame { camera: "c".to_owned(), width, height, pixels }
}

fn lens([width, height]: [usize; 2], focal_px: f64) -> Lens {
    Lens {
        focal_px: DVec2::splat(focal_px),
        centre_px: DVec2::new(width as f64 - 1.0, height as f64 - 1.0) / 2.0,
        distortion: Distortion { k1: -0.2, k2: 0.05, ..Distortion::default() },
    }
}

/// Corners come out in order, whichever way the board is turned, within 0.07 px.
#[test]
fn corners_are_found_in_order() {
    let board = Board::new(7, 5, 20.0).unwrap();
    let mut worst: f64 = 0.0;
    let cases = [
        ([640, 480], 700.0, [0.0, 0.0, -250.0], [0.0, -1.0, 0.0]),
        ([640, 480], 700.0, [120.0, 40.0, -220.0], [0.3, -1.0, 0.0]),
        ([640, 480], 700.0, [-150.0, 100.0, -240.0], [1.0, 0.2, 0.0]),
        ([640, 480], 700.0, [20.0, -180.0, -200.0], [0.0, 1.0, 0.1]),
        ([320, 240], 350.0, [30.0, 60.0, -260.0], [0.0, -1.0, 0.2]),
        ([960, 720], 1050.0, [-60.0, 60.0, -260.0], [-1.0, 0.0, 0.2]),
    ];
    for (size, focal, at, up) in cases {
        let lens = lens(size, focal);
        let pose = Pose::look_at(at.into(), DVec3::ZERO, up.into()).unwrap();
        let found = board.find(&drawn(&board, &lens, &pose, size), "p").unwrap();
        let off = |turned: bool| {
            let mut points = board.points();
            if turned {
                points.reverse();
            }
            let place = |p: &DVec3| lens.project(pose.to_camera(*p)).unwrap();
            let off = points.iter().zip(&found).map(|(p, q)| (place(p) - *q).length());
            off.fold(0.0, f64::max)
        };
        let off = off(false).min(off(true));
        assert!(off < 0.07, "{size:?} {at:?}: {off}");
        worst = worst.max(off);
    }
    assert!(worst > 1e-4, "noise shows: {worst}");
}

/// A board that nearly fills the picture is found too, upright as well as turned by 90°, and its
/// corners near the rim are placed as exactly as others; one that reaches beyond is not.
#[test]
fn corners_near_the_rim_are_found() {
    let board = Board::new(7, 5, 20.0).unwrap();
    let size = [640, 480];
    let lens = lens(size, 700.0);
    for up in [-DVec3::Y, DVec3::X, DVec3::new(0.2, 1.0, 0.0)] {
        let mut near = 0;
        for mm in 100..240 {
            let pose = Pose::look_at(DVec3::Z * -f64::from(mm), DVec3::ZERO, up).unwrap();
            let places = board.points().into_iter().map(|p| lens.project(pose.to_camera(p)));
            let places: Vec<DVec2> = places.collect::<Option<_>>().unwrap();
            let room = |p: &DVec2| p.min(DVec2::new(639.0, 479.0) - *p).min_element();
            let least = places.iter().map(room).fold(f64::INFINITY, f64::min);
            // From 0 to 9 the squares beyond are cut, and with them the edges that cross there;
            // other tests look farther from the rim.
            if !(9.0..20.0).contains(&least) && !(-3.0..0.0).contains(&least) {
                continue;
            }
            let found = board.find(&drawn(&board, &lens, &pose, size), "p");
            if least < 0.0 {
                assert!(found.is_err(), "{up} {mm} mm");
                continue;
            }
            near += 1;
            let found = found.unwrap_or_else(|error| panic!("{up} {mm} mm, {least}: {error}"));
            let off = |place: &DVec2| {
                found.iter().map(|q| (*place - *q).length()).fold(f64::INFINITY, f64::min)
            };
            let off = places.iter().map(off).fold(0.0, f64::max);
            assert!(off < 0.2, "{up} {mm} mm, {least} px from the rim: {off}");
        }
        assert!(near >= 3, "{up}: {near} boards near the rim");
    }
}

#[test]
fn what_is_no_board_is_refused() {
    let board = Board::new(7, 5, 20.0).unwrap();
    let size = [640, 480];
    let lens = lens(size, 700.0);
    let at = |x: f64| Pose::look_at(DVec3::new(x, 0.0, -250.0), DVec3::X * x, -DVec3::Y).unwrap();
    let frame = drawn(&board, &lens, &at(0.0), size);
    let other = Board::new(8, 5, 20.0).unwrap();
    let said = other.find(&frame, "p.png").unwrap_err().to_string();
    assert!(
        said.starts_with("p.png: the board of 8 × 5")
            && said.contains("35 corners in a grid of 7 × 5"),
        "{said}"
    );
    let fewer = Board::new(6, 5, 20.0).unwrap();
    assert!(fewer.find(&frame, "p").is_err(), "two places in the grid");
    // Half of it out of the picture; nothing at all; only noise.
    assert!(board.find(&drawn(&board, &lens, &at(110.0), size), "p").is_err());
    let plain = Frame { pixels: vec![90; frame.pixels.len()], ..frame.clone() };
    let said = board.find(&plain, "p").unwrap_err().to_string();
    assert!(said.contains("no chessboard is seen"), "{said}");
    let mut noise = Seed::new(1).stream("noise", 0, 0);
    let noisy = frame.pixels.iter().map(|_| noise.bits() as u8).collect();
    assert!(board.find(&Frame { pixels: noisy, ..frame }, "p").is_err());
    assert!(Board::new(2, 5, 20.0).is_err() && Board::new(7, 61, 20.0).is_err());
    assert!(Board::new(7, 5, f64::NAN).is_err());
}
