//! Illuminance, gloss and bounced light in pictures, against closed forms and sums of
//! their own.

mod lab;

use core::f64::consts::PI;

use dryturn_cube::{Face, Facelet};
use dryturn_geometry::DVec3;
use dryturn_optics::AsBuilt;
use dryturn_optics::survey::Survey;
use dryturn_scene::Material;
use dryturn_scene::file::{Finish, LampShape, Make, Pigment};
use dryturn_units::noise::Seed;
use lab::{at, block, lab, take};

/// The inverse square of a point lamp: `Φ cos θ / (4π r²)` at each facelet, and the
/// same far from a small disc and rectangle but for their Lambertian cosine (four times
/// as much ahead).
#[test]
fn facelets_get_the_light_that_photometry_says() {
    let position = DVec3::new(150.0, 400.0, 250.0);
    for (shape, ahead) in
        [(LampShape::Point, 1.0), (LampShape::Disc, 4.0), (LampShape::Rectangle, 4.0)]
    {
        let scene = lab(|file| {
            let lamp = &mut file.lamps[0];
            (lamp.shape, lamp.flux_lm) = (shape, 1000.0);
            (lamp.position_mm, lamp.aim_mm) = (position.to_array(), [0.0; 3]);
            (lamp.width_mm, lamp.height_mm) = (2.0, 2.0);
            file.surroundings.ambient_lux = 70.0;
        });
        let survey = Survey::of(&scene);
        for name in ["URF", "UR", "FUR"] {
            let facelet = Facelet::from_name(name).unwrap();
            let camera = &survey.cameras[0];
            let found = camera.facelets.iter().find(|f| f.facelet == facelet).unwrap();
            let corners = scene.rig().facelet_corners_mm(facelet);
            let centre = corners.iter().sum::<DVec3>() / 4.0;
            let normal = DVec3::from_array(facelet.face().normal().map(f64::from));
            let way = position - centre;
            let (r, cosine) = (way.length() * 1e-3, way.normalize().dot(normal));
            let towards = (-position.normalize()).dot(-way.normalize());
            let sent = if ahead > 1.0 { ahead * towards } else { 1.0 };
            let wanted = 1000.0 * cosine * sent / (4.0 * PI * r * r);
            let lux = &found.illuminance_lux;
            assert!((lux[0] / wanted - 1.0).abs() < 0.01, "{shape:?}, {name}: {lux:?}, {wanted}");
            assert!((lux[1] / 70.0 - 1.0).abs() < 1e-4, "even room light: {lux:?}");
        }
    }
}

/// Where rods and motors stand in the way of the sky a facelet gets less of it.
#[test]
fn the_rig_shades_itself_from_the_room() {
    let lux = |shadows: bool| {
        let scene = lab(|file| {
            (file.lamps[0].flux_lm, file.surroundings.ambient_lux) = (0.0, 100.0);
            file.surroundings.ambient_shadows = shadows;
        });
        let survey = Survey::of(&scene);
        let of = |name| {
            let facelet = Facelet::from_name(name).unwrap();
            let found = survey.cameras[0].facelets.iter().find(|f| f.facelet == facelet);
            found.unwrap().illuminance_lux[1]
        };
        [of("URF"), of("UF")]
    };
    assert!(lux(false).iter().all(|lux| (lux - 100.0).abs() < 0.01));
    let [corner, edge] = lux(true);
    assert!(edge < corner && corner < 97.0 && edge > 50.0, "{corner} {edge}");
}

/// A polished facelet mirrors more, in a smaller place, than a matt one.
#[test]
fn polish_narrows_the_highlight() {
    let glare = |finish: Finish| {
        let scene = lab(|file| {
            file.cube.finish = finish;
            // A dark upper face.
            (file.cube.colours.up, file.cube.colours.back) = (Pigment::Blue, Pigment::White);
            // Where the high camera sees it in the upper face.
            let lamp = &mut file.lamps[0];
            lamp.position_mm = [-300.0, 380.0, -300.0];
            (lamp.width_mm, lamp.height_mm, lamp.flux_lm) = (60.0, 60.0, 800.0);
        });
        let taken = take(&scene);
        let linear = taken.linear();
        let sums = linear.iter().map(|p| p.iter().sum::<f32>());
        let survey = Survey::of(&scene);
        let most = survey.cameras[0].facelets.iter().map(|f| f.glare_share).fold(0.0, f64::max);
        (sums.fold(0.0, f32::max), most)
    };
    let (matt, glossy) = (glare(Finish::Matt), glare(Finish::Glossy));
    assert!(glossy.0 > 2.0 * matt.0, "{glossy:?} {matt:?}");
    assert!(matt.1 > 0.5, "{matt:?}");
}

/// Both makes differ, wear pales, and spread is only where tolerances say so.
#[test]
fn facelets_differ_by_make_wear_and_spread() {
    let redness = |change: &dyn Fn(&mut dryturn_scene::file::SceneFile)| {
        let scene = lab(|file| change(file));
        let taken = take(&scene);
        // The middle of the facelet RF, which is red.
        let place = Material::of_facelet(Facelet::from_name("RF").unwrap());
        let sight = scene.rig().sight(&scene.views()[0], 160, 120);
        let shown: Vec<usize> = (0..160 * 120).filter(|&i| sight.materials[i] == place).collect();
        let [r, g, _] = taken.linear_at(shown[shown.len() / 2]).map(f64::from);
        r / g
    };
    let new = redness(&|_| ());
    let soft = redness(&|file| file.cube.make = Make::Soft);
    let worn = redness(&|file| file.cube.wear_share = 1.0);
    assert!(soft < 0.97 * new && worn < 0.8 * new, "{new} {soft} {worn}");
    let exact = lab(|_| ());
    let drawn = AsBuilt::draw(&exact, Seed::new(1), 3).stickers;
    assert_eq!(drawn, AsBuilt::exactly(&exact).stickers);
    let spread = lab(|file| {
        file.tolerances.batch_tint_sigma_share = 0.05;
        file.tolerances.facelet_wear_share = 0.5;
    });
    let stickers = AsBuilt::draw(&spread, Seed::new(1), 3).stickers;
    for face in Face::ALL {
        // A batch is one for all nine; wear is each facelet's own.
        let own = &stickers[9 * face.index()..9 * face.index() + 9];
        assert!(own.iter().all(|s| s.factor == own[0].factor));
        assert!(own.iter().any(|s| s.wear != own[0].wear));
    }
    assert_ne!(stickers[0].factor, stickers[9].factor);
}

/// Light that reaches a plate's underside by way of a floor: against the sum over the
/// floor of `ρ E cos cos / (π r²)`, with the lamp's own inverse square and the plate's
/// shadow.
#[test]
fn light_bounces_once() {
    let (lamp, rho) = (DVec3::new(600.0, 150.0, 0.0), 0.8);
    let plate_y = 60.0;
    let picture = |bounce: bool| {
        let scene = lab(|file| {
            (file.surroundings.ambient_lux, file.surroundings.bounce) = (0.0, bounce);
            let light = &mut file.lamps[0];
            (light.shape, light.flux_lm) = (LampShape::Point, 2000.0);
            light.position_mm = lamp.to_array();
            file.fixtures.push(block("plate", [600.0, plate_y + 2.0, 0.0], [50.0, 4.0, 50.0], 0.5));
            file.fixtures.push(block("floor", [600.0, -2.0, 0.0], [500.0, 4.0, 500.0], rho));
            let camera = &mut file.cameras[0];
            camera.position_mm = [600.0, 8.0, 90.0];
            camera.aim_mm = [600.0, plate_y, 0.0];
            (camera.horizontal_fov_deg, camera.samples_px) = (10.0, 256);
            (camera.exposure_ms, camera.full_well_e) = (5.0, 100_000.0);
        });
        let taken = take(&scene);
        let pixels = (50..70).flat_map(|row| (70..90).map(move |column| (row, column)));
        let values: Vec<f64> = pixels.map(|(row, column)| at(&taken, row, column)[1]).collect();
        values.iter().sum::<f64>() / values.len() as f64
    };
    assert_eq!(picture(false), 0.0, "no light comes there directly");
    let bounced = picture(true);
    // The same plate with a known illuminance from below: the room's, evenly.
    let known = {
        let scene = lab(|file| {
            file.lamps[0].flux_lm = 0.0;
            file.surroundings.ambient_lux = 1000.0;
            // The lamp's colour, so that electrons compare.
            file.surroundings.ambient_cct_k = file.lamps[0].cct_k;
            file.fixtures.push(block("plate", [600.0, plate_y + 2.0, 0.0], [50.0, 4.0, 50.0], 0.5));
            let camera = &mut file.cameras[0];
            camera.position_mm = [600.0, 8.0, 90.0];
            camera.aim_mm = [600.0, plate_y, 0.0];
            camera.horizontal_fov_deg = 10.0;
            (camera.exposure_ms, camera.full_well_e) = (5.0, 100_000.0);
        });
        at(&take(&scene), 60, 80)[1]
    };
    // Room light also shines in the coat; bounced light does not.
    let coat = dryturn_optics::surface::fresnel(
        DVec3::new(0.0, plate_y - 8.0, 90.0).normalize().y,
        dryturn_optics::surface::COAT_INDEX,
    );
    let lux = bounced / known * 1000.0 * (0.5 + coat) / 0.5;
    let n = 500;
    let mut wanted = 0.0;
    for i in 0..n * n {
        let cell = |k: i32| (f64::from(k) + 0.5) / f64::from(n) * 500.0 - 250.0;
        let at = DVec3::new(600.0 + cell(i % n), 0.0, cell(i / n));
        // The plate's shadow: where the way to the lamp crosses its upper face.
        let share = (plate_y + 4.0) / lamp.y;
        let crossing = at + (lamp - at) * share;
        if (crossing.x - 600.0).abs() < 25.0 && crossing.z.abs() < 25.0 {
            continue;
        }
        let way = lamp - at;
        let r = way.length() * 1e-3;
        let lit = 2000.0 * way.normalize().y / (4.0 * PI * r * r);
        let up = DVec3::new(600.0, plate_y, 0.0) - at;
        let cosine = up.normalize().y;
        wanted += rho * lit * cosine * cosine / (PI * up.length_squared())
            * (500.0 / f64::from(n))
            * (500.0 / f64::from(n));
    }
    assert!((lux / wanted - 1.0).abs() < 0.03, "{lux} instead of {wanted}");
}
