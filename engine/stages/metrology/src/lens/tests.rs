use dryturn_units::noise::Seed;

use super::*;

const SIZE: [usize; 2] = [640, 480];

fn true_lens() -> Lens {
    Lens {
        focal_px: DVec2::splat(720.0),
        centre_px: DVec2::new(325.5, 236.0),
        distortion: Distortion { k1: -0.25, k2: 0.08, ..Distortion::default() },
    }
}

/// Boards before the camera; tilts in degrees about the picture's axes.
fn pictures(lens: &Lens, board: &Board, tilts: &[[f64; 2]], noise_px: f64) -> Vec<Vec<DVec2>> {
    let mut noise = Seed::new(11).stream("lens", 0, 0);
    let one = |(k, [a, b]): (usize, &[f64; 2])| {
        let turn = dryturn_geometry::rotation(DVec3::X * a.to_radians())
            * dryturn_geometry::rotation(DVec3::Y * b.to_radians());
        let aside = DVec3::new((k % 3) as f64 - 1.0, (k / 3 % 3) as f64 - 1.0, 0.0);
        let shift =
            aside * DVec3::new(40.0, 25.0, 0.0) + DVec3::Z * (260.0 + 10.0 * (k % 4) as f64);
        let corner = |p: &DVec3| {
            let place = lens.project(turn * *p + shift).unwrap();
            place + DVec2::new(noise.gaussian(), noise.gaussian()) * noise_px
        };
        board.points().iter().map(corner).collect()
    };
    tilts.iter().enumerate().map(one).collect()
}

const TILTS: [[f64; 2]; 9] = [
    [0.0, 0.0],
    [30.0, 0.0],
    [-30.0, 0.0],
    [0.0, 30.0],
    [0.0, -30.0],
    [20.0, 25.0],
    [-25.0, 20.0],
    [25.0, -20.0],
    [-20.0, -25.0],
];

fn board() -> Board {
    Board::new(9, 6, 18.0).unwrap()
}

fn fit(pictures: &[Vec<DVec2>], wanted: Wanted) -> Result<LensFit, LensError> {
    fit_lens(&board(), pictures, SIZE, 985.0, wanted)
}

#[test]
fn the_lens_that_made_the_pictures_is_found() {
    let exact = fit(&pictures(&true_lens(), &board(), &TILTS, 0.0), Wanted::default()).unwrap();
    assert!(exact.rms_px < 1e-6, "{}", exact.rms_px);
    for found in &exact.found {
        let wanted = found.unknown.of(&true_lens());
        assert!((found.value - wanted).abs() < 1e-5, "{found:?}");
    }
    // A wrong start, and none from the pictures' closed form, do not matter.
    let far = fit_lens(
        &board(),
        &pictures(&true_lens(), &board(), &TILTS, 0.0),
        SIZE,
        200.0,
        Wanted::default(),
    );
    assert!((far.unwrap().lens.focal_px.x - 720.0).abs() < 1e-5);
}

/// With noise, what is found lies within four of its standard errors; what is not there is
/// left out.
#[test]
fn standard_errors_tell_how_far_off_it_is() {
    let pictures = pictures(&true_lens(), &board(), &TILTS, 0.1);
    let all = Wanted { k3: true, tangential: true };
    let found = fit(&pictures, all).unwrap();
    // Each column and row is off by 0.1 px, each corner by √2 of that.
    assert!((found.rms_px - 0.141).abs() < 0.015, "{}", found.rms_px);
    for figure in &found.found {
        let wanted = figure.unknown.of(&true_lens());
        assert!((figure.value - wanted).abs() < 4.0 * figure.error, "{figure:?}");
        assert!(figure.error > 0.0);
    }
    let out: Vec<Unknown> = found.left_out.iter().map(|(unknown, _)| *unknown).collect();
    assert_eq!(out, [Unknown::K3, Unknown::P1, Unknown::P2], "{:?}", found.left_out);
    let plain = fit(&pictures, Wanted::default()).unwrap();
    assert!(plain.left_out.is_empty());
    assert!(
        (plain.fov_deg.0 - 2.0 * degrees(maths::atan(320.0 / 720.0))).abs() < 4.0 * plain.fov_deg.1
    );
}

#[test]
fn pictures_that_do_not_tell_are_refused() {
    let lens = true_lens();
    let few = fit(&pictures(&lens, &board(), &TILTS[..2], 0.1), Wanted::default());
    assert_eq!(few, Err(LensError::Pictures { given: 2 }));
    let parallel = fit(&pictures(&lens, &board(), &[[20.0, 10.0]; 5], 0.1), Wanted::default());
    assert!(matches!(parallel, Err(LensError::Parallel { .. })), "{parallel:?}");
    let flat = fit(&pictures(&lens, &board(), &[[0.0, 0.0]; 5], 0.1), Wanted::default());
    assert!(matches!(flat, Err(LensError::Parallel { .. })), "{flat:?}");
    // Hardly tilted at all: the focal length is open.
    let pinhole = Lens { distortion: Distortion::default(), ..lens };
    let tilts: Vec<[f64; 2]> = (0..4).map(|k| [f64::from(k) * 2.0, 0.0]).collect();
    let open = fit(&pictures(&pinhole, &board(), &tilts, 1.0), Wanted::default());
    assert!(matches!(open, Err(LensError::Open { .. } | LensError::Parallel { .. })), "{open:?}");
    // Corners of all sorts.
    let mut noise = Seed::new(1).stream("junk", 0, 0);
    let junk: Vec<Vec<DVec2>> = (0..4)
        .map(|_| {
            (0..54)
                .map(|_| DVec2::new(noise.between(0.0, 640.0), noise.between(0.0, 480.0)))
                .collect()
        })
        .collect();
    let junk = fit(&junk, Wanted::default());
    assert!(junk.as_ref().map_or(true, |fit| !fit.warnings.is_empty()), "{junk:?}");
}
