//! What a survey says of a layout, against closed forms and against the frames.

mod lab;

use dryturn_cube::{CubeState, Face, FaceletKind, Stickering};
use dryturn_geometry::{DVec2, DVec3};
use dryturn_optics::survey::{FaceletSurvey, Hider, Survey, losses};
use dryturn_optics::{AsBuilt, LitView, Shot};
use dryturn_scene::Visibility;
use dryturn_scene::file::{Finish, LampShape};
use dryturn_units::noise::Seed;
use dryturn_units::{maths, radians};
use lab::{block, facelet, foyer, lab, surveyed as of};

/// With two cameras at opposite corners the shafts hide six facelets, all on corners,
/// one a face; the other 48 are seen or, the centres under their couplers, known by
/// mounting (design targets, assumed).
#[test]
fn two_cameras_see_all_but_six_facelets() {
    let survey = Survey::of(&foyer());
    let missing = survey.visibility.hidden();
    assert_eq!(missing.len(), 6);
    assert!(missing.iter().all(|f| f.kind() == FaceletKind::Corner));
    assert!(Face::ALL.iter().all(|&face| missing.iter().any(|f| f.face() == face)));
    let known = survey.visibility.evident().len() + survey.visibility.hidden_centres().len();
    assert_eq!(known, 48);
    for hidden in missing {
        let seen = survey.cameras.iter().flat_map(|c| &c.facelets).find(|f| f.facelet == hidden);
        let (by, share) = seen.unwrap().hidden_by[0].clone();
        assert_eq!(by, Hider::Shaft(hidden.face()), "{hidden}");
        assert!(share > 0.9, "{hidden}: {share}");
    }
}

/// A survey counts the pixels that the labels of a frame count, and its angles are those
/// of the drawing.
#[test]
fn pixels_and_angles_are_those_of_the_frames() {
    let scene = foyer();
    let survey = Survey::of(&scene);
    let built = AsBuilt::exactly(&scene);
    let shown = Stickering::from(&CubeState::SOLVED);
    let shot = Shot { seed: Seed::new(1), name: "survey-test", trial: 0, second: false };
    for camera in 0..2 {
        let view = LitView::trace(&scene, &built, camera);
        let taken = view.take(&scene, &built, &shown, shot);
        let labels = view.labels(&scene, &built, &shown, (&taken, shot));
        let surveyed = &survey.cameras[camera].facelets;
        assert_eq!(surveyed.len(), labels.facelets.len());
        for (found, label) in surveyed.iter().zip(&labels.facelets) {
            assert_eq!((found.facelet, found.visible_px), (label.facelet, label.visible_px));
        }
    }
    // From the corner's diagonal the centre of a face is 28.5 mm from the middle:
    // the angle to (127 − 0, 127 − 28.5, 127 − 0) from the normal.
    let half = scene.file().cube.edge_mm / 2.0;
    let (aside, ahead) = (2.0f64.sqrt() * 127.0, 127.0 - half);
    let wanted = maths::atan2(aside, ahead).to_degrees();
    let found = of(&survey, 0, "U").viewing_deg;
    assert!((found - wanted).abs() < 0.1, "{found}, wanted {wanted}");
}

/// What is put in the way is named, and so is the picture's edge.
#[test]
fn whatever_hides_a_facelet_is_named() {
    // A block on the way from the first camera to the corner that it looks at.
    let scene =
        lab(|file| file.fixtures.push(block("post", [60.0, 60.0, 60.0], [24.0, 24.0, 24.0], 0.3)));
    let survey = Survey::of(&scene);
    let (by, share) = of(&survey, 0, "URF").hidden_by[0].clone();
    assert_eq!((by.name(&scene).as_str(), by), ("post", Hider::Fixture(0)));
    assert!(share > 0.95, "{share}");
    assert_eq!(of(&survey, 0, "URF").visible_px, 0);

    let aside = lab(|file| file.cameras[0].aim_mm = [-40.0, 0.0, 40.0]);
    let survey = Survey::of(&aside);
    let at_edge = |f: &&FaceletSurvey| f.hidden_by.iter().any(|h| h.0 == Hider::PictureEdge);
    assert!(survey.cameras[0].facelets.iter().any(|f| at_edge(&f)));

    let away = lab(|file| file.cameras[0].aim_mm = [500.0, 500.0, 500.0]);
    let survey = Survey::of(&away);
    assert!(survey.cameras[0].facelets.iter().all(|f| f.visible_px == 0));
}

/// A small lamp where the upper face mirrors it into the camera glares there; a little
/// farther on it glares elsewhere, and where no facelet mirrors it nowhere.
#[test]
fn glare_is_where_the_mirror_says() {
    let spot = facelet("UB");
    let under = |position: DVec3| {
        lab(|file| {
            file.cube.finish = Finish::Glossy;
            let lamp = &mut file.lamps[0];
            (lamp.shape, lamp.flux_lm) = (LampShape::Disc, 200.0);
            (lamp.width_mm, lamp.position_mm) = (20.0, position.to_array());
            lamp.aim_mm = [0.0; 3];
            file.surroundings.ambient_lux = 50.0;
        })
    };
    let scene = under(DVec3::new(0.0, 300.0, 0.0));
    let corners = scene.rig().facelet_corners_mm(spot);
    let centre = corners.iter().sum::<DVec3>() / 4.0;
    let seen_from = DVec3::from_array(scene.file().cameras[0].position_mm);
    let way = (seen_from - centre) * DVec3::new(-1.0, 1.0, -1.0);
    let glaring = Survey::of(&under(centre + way * 1.2));
    let found = of(&glaring, 0, "UB");
    assert!(found.glare_share > 0.5, "{}", found.glare_share);
    assert_eq!(found.glare_lamp, Some(0));
    // Straight above, the mirror image of the camera is far away.
    let clear = Survey::of(&scene);
    assert!(clear.cameras[0].facelets.iter().all(|f| f.glare_share < 0.02));
}

/// Blur of the thin lens: a circle of `A · |z − s| / z · f / (s − f)` for an opening `A`,
/// sharp distance `s` and focal length `f`.
#[test]
fn blur_is_the_thin_lens_circle() {
    let (sharp_mm, pitch_mm, f_number) = (150.0, 0.003, 1.0);
    let scene = lab(|file| {
        let camera = &mut file.cameras[0];
        (camera.focus_mm, camera.f_number_ratio) = (sharp_mm, f_number);
        camera.pixel_pitch_um = pitch_mm * 1e3;
    });
    let view = scene.views()[0];
    let f = view.lens.focal_px.x * pitch_mm;
    let survey = Survey::of(&scene);
    for name in ["URF", "UR", "RB"] {
        let corners = scene.rig().facelet_corners_mm(facelet(name));
        let z = view.pose.to_camera(corners.iter().sum::<DVec3>() / 4.0).z;
        let wanted = f / f_number * (z - sharp_mm).abs() / z * f / (sharp_mm - f) / pitch_mm;
        let found = of(&survey, 0, name).blur_px;
        assert!((found / wanted - 1.0).abs() < 0.02, "{name}: {found}, wanted {wanted}");
    }
}

/// The electrons that the survey counts with are those of the exposure that the camera
/// chooses.
#[test]
fn the_survey_of_an_automatic_camera_knows_its_exposure() {
    let noise = |aim: f64| {
        let scene = lab(|file| {
            file.cameras[0].auto_exposure_share = aim;
            file.cameras[0].shot_noise = true;
        });
        of(&Survey::of(&scene), 0, "URF").noise_share
    };
    // Shot noise over signal goes with the root of the light: four times, twice.
    let ratio = noise(0.02) / noise(0.08);
    assert!((ratio - 2.0).abs() < 0.05, "{ratio}");
    assert!(noise(0.02) < noise(0.0005));
}

/// Electrons that gather without light fill the wells and add noise.
#[test]
fn the_survey_knows_dark_current() {
    let dark = |per_s: f64| {
        let mut file = foyer().file().clone();
        file.cameras.iter_mut().for_each(|c| c.dark_current_e_per_s = per_s);
        let survey = Survey::of(&foyer().with_file(file).unwrap());
        let found = of(&survey, 0, "UF");
        (found.clipped_share, found.noise_share, found.closest.unwrap().sigmas)
    };
    let (little, some, much) = (dark(20.0), dark(200_000.0), dark(1_000_000.0));
    assert!(little.0 < 0.01 && much.0 == 1.0, "{little:?} {much:?}");
    assert!(some.1 > 1.05 * little.1 && some.2 < little.2, "{little:?} {some:?}");
    assert!(much.2 < 0.1 * little.2, "what is full tells nothing apart: {much:?}");
}

/// Without mount errors nothing is lost; the shift in the picture is the focal length
/// times the angle; the looser the mount the fewer facelets are called seen, so that what is
/// called seen is hardly ever lost.
#[test]
fn mount_errors_move_and_lose_facelets() {
    let with = |turn_deg: f64| {
        let scene = lab(|file| file.tolerances.mount_turn_sigma_deg = turn_deg);
        let focal_px = scene.views()[0].lens.focal_px;
        (losses(&scene, Seed::new(4), 200), focal_px)
    };
    let (none, _) = with(0.0);
    assert!(none.lost.iter().all(|&lost| lost == 0));
    assert!(none.shift_px.iter().flatten().all(|&shift| shift < 1e-9));
    let (small, focal_px) = with(0.2);
    assert!(small.lost.iter().all(|&lost| lost == 0));
    // Two angles across the axis shift the picture by a Rayleigh distribution of mean
    // √(π/2) σ; the third turns it, less near the middle.
    let focal: DVec2 = focal_px;
    let wanted = focal.x * radians(0.2) * (core::f64::consts::PI / 2.0).sqrt();
    let mean = small.shift_px[0].iter().sum::<f64>() / 200.0;
    assert!(mean > 0.95 * wanted && mean < 1.5 * wanted, "{mean}, wanted about {wanted}");
    let mut hidden = Vec::new();
    for turn_deg in [0.1, 0.2, 0.3, 0.4, 2.0] {
        let scene = lab(|file| {
            file.tolerances.mount_turn_sigma_deg = turn_deg;
            file.cameras.iter_mut().for_each(|c| (c.width_px, c.height_px) = (320, 240));
        });
        hidden.push(Visibility::of(&scene).hidden().len());
        let worst = losses(&scene, Seed::new(4), 200).lost.into_iter().max();
        assert!(worst < Some(6), "{turn_deg}°: lost in {worst:?} of 200 rigs");
    }
    assert!(
        hidden.windows(2).all(|w| w[0] <= w[1]) && hidden[4] == 48 && hidden[0] < hidden[2],
        "{hidden:?}"
    );
}
