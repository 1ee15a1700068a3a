use dryturn_scene::Scene;
use dryturn_units::noise::Seed;

use super::*;

fn view() -> View {
    let text = include_str!("../../../../../scenes/foyer_morning.ron");
    Scene::parse(text, "foyer_morning.ron").unwrap().views()[0]
}

fn clicks(pose: &Pose, view: &View, names: &[&str], noise_px: f64, seed: u64) -> Vec<ClickedPoint> {
    let mut noise = Seed::new(seed).stream("clicks", 0, 0);
    let corners = cube_corners(56.0).filter(|(name, _)| names.contains(name));
    let point = |(name, world): (&str, DVec3)| {
        let pixel = view.lens.project(pose.to_camera(world)).unwrap();
        let off = DVec2::new(noise.gaussian(), noise.gaussian()) * noise_px;
        ClickedPoint { name: name.to_owned(), world, pixel: pixel + off }
    };
    corners.map(point).collect()
}

const SEVEN: [&str; 7] = ["ULB", "UBR", "UFL", "URF", "DLF", "DFR", "DRB"];

#[test]
fn a_known_mount_error_comes_back() {
    let view = view();
    let (shift, turn_deg) = (DVec3::new(3.0, -2.0, 4.0), DVec3::new(1.0, -2.0, 3.0));
    let pose = view.pose.disturbed(shift, turn_deg * (1.0f64).to_radians());
    let fit = fit_mount(&view, &clicks(&pose, &view, &SEVEN, 0.0, 1), 1.0).unwrap();
    assert!((fit.shift_mm - shift).length() < 1e-6, "{fit:?}");
    assert!((fit.turn_deg - turn_deg).length() < 1e-6);
    let own = view.pose.camera_from_world * shift;
    assert!((fit.shift_camera_mm - own).length() < 1e-6);
    assert!(fit.warnings.is_empty(), "{:?}", fit.warnings);
    // What goes into the scene is the same pose.
    let again = Pose::look_at(fit.pose.position, fit.aim_mm, fit.up_ratio).unwrap();
    let (apart, turned) = again.difference(&pose);
    assert!(apart.length() < 1e-6 && turned < 1e-7);
    // Far from the drawing too: as if another camera had been clicked.
    let other = Pose::look_at(-view.pose.position, DVec3::ZERO, DVec3::Y).unwrap();
    let names = ["ULB", "UBR", "UFL", "DLF", "DBL", "DRB"];
    let far = fit_mount(&view, &clicks(&other, &view, &names, 0.0, 1), 1.0).unwrap();
    assert!(far.pose.difference(&other).0.length() < 1e-5);
    assert!(far.warnings[0].contains("off the drawing"), "{:?}", far.warnings);
}

/// Clicks that are off by 1 px: the spread of 200 fits is what the standard errors say,
/// within a fifth.
#[test]
fn standard_errors_are_the_spread_of_repeated_clicks() {
    let view = view();
    let runs = 200;
    let fits: Vec<MountFit> = (0..runs)
        .map(|seed| fit_mount(&view, &clicks(&view.pose, &view, &SEVEN, 1.0, seed), 1.0).unwrap())
        .collect();
    let spread = |pick: &dyn Fn(&MountFit) -> f64| {
        (fits.iter().map(|fit| pick(fit) * pick(fit)).sum::<f64>() / runs as f64).sqrt()
    };
    let exact = fit_mount(&view, &clicks(&view.pose, &view, &SEVEN, 0.0, 1), 1.0).unwrap();
    for k in 0..3 {
        for (found, told) in [
            (spread(&|fit| fit.shift_mm[k]), exact.shift_error_mm[k]),
            (spread(&|fit| fit.shift_camera_mm[k]), exact.shift_camera_error_mm[k]),
            (spread(&|fit| fit.turn_deg[k]), exact.turn_error_deg[k]),
        ] {
            assert!((found / told - 1.0).abs() < 0.2, "{k}: {found} and {told}");
        }
    }
}

#[test]
fn the_wrong_point_is_named() {
    let view = view();
    let mut points = clicks(&view.pose, &view, &SEVEN, 0.3, 1);
    points[5].pixel += DVec2::new(40.0, -25.0);
    let fit = fit_mount(&view, &points, 1.0).unwrap();
    assert!(fit.rms_px > 3.0 && fit.warnings[0].contains("without DFR"), "{:?}", fit.warnings);
    // One corner that is 47 px off leaves more than 8 px, 1 % of the diagonal; with clicks said to
    // be that bad, or in a larger picture, it would pass.
    let objection = fit.objection(1.0, [640, 480]).unwrap();
    assert!(objection.contains("at most 8.0 px"), "{objection}");
    assert_eq!(fit.objection(10.0, [640, 480]), None);
    assert_eq!(fit.objection(1.0, [4000, 3000]), None);
}

/// Clicks as exact as they are said to be are never objected to.
#[test]
fn honest_clicks_fit() {
    let view = view();
    for seed in 0..90 {
        let click_px = [0.3, 1.0, 3.0][seed as usize % 3];
        let points = clicks(&view.pose, &view, &SEVEN, click_px, seed);
        let fit = fit_mount(&view, &points, click_px).unwrap();
        assert_eq!(fit.objection(click_px, [640, 480]), None, "{click_px} {seed}: {}", fit.left_px);
    }
}

#[test]
fn points_that_do_not_decide_are_refused() {
    let view = view();
    let seven = clicks(&view.pose, &view, &SEVEN, 0.0, 1);
    assert_eq!(fit_mount(&view, &seven[..3], 1.0), Err(MountError::TooFew { given: 3 }));
    let on_line: Vec<ClickedPoint> = (0..5)
        .map(|i| {
            let world = DVec3::new(-28.0 + 14.0 * f64::from(i), 28.0, 28.0);
            let pixel = view.project(world).unwrap();
            ClickedPoint { name: i.to_string(), world, pixel }
        })
        .collect();
    assert_eq!(fit_mount(&view, &on_line, 1.0), Err(MountError::Line));
    let mut same = seven;
    same.iter_mut().for_each(|p| p.pixel = DVec2::splat(100.0));
    assert!(matches!(fit_mount(&view, &same, 1.0), Err(MountError::Clicks { .. })));
}

#[test]
fn tables_are_read_strictly() {
    let read = |text: &str| clicked_points(text, 56.0, [640, 480]);
    let said = |text: &str| read(text).unwrap_err().to_string();
    let points = read("# mine\npoint,column_px,row_px\n URF , 1.5, 2\n\nlfu,3,4\n").unwrap();
    assert_eq!(points[0].world, DVec3::splat(28.0));
    assert_eq!((points[1].name.as_str(), points[1].world.x), ("UFL", -28.0));
    let raw = read("x_mm,y_mm,z_mm,column_px,row_px\n1,2,3,4,5\n").unwrap();
    assert_eq!((raw[0].world, raw[0].pixel), (DVec3::new(1.0, 2.0, 3.0), DVec2::new(4.0, 5.0)));
    assert!(said("").contains("line 1 is \"\""));
    assert!(said("name,x,y\n").contains("must be point,column_px,row_px"));
    assert!(
        said("point,column_px,row_px\nURX,1,2")
            .contains("line 2: point is \"URX\": must be ULB, UBR, UFL, URF")
    );
    assert!(
        said("point,column_px,row_px\nURF,640,2")
            .contains("column_px is \"640\": must be a number from -0.5 to 639.5")
    );
    assert!(said("point,column_px,row_px\nURF,1,nan").contains("row_px"));
    assert!(said("point,column_px,row_px\nURF,1").contains("line 2: 2 values: must be 3"));
    assert!(
        said("point,column_px,row_px\nURF,1,1\nFUR,2,2")
            .contains("line 3: point URF stands in line 2")
    );
    assert!(said("x_mm,y_mm,z_mm,column_px,row_px\n1,2,9e9,4,5").contains("z_mm"));
}
