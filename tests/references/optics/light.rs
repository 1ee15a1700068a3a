//! Irradiance under lamps, and what surfaces make of it.

use core::f64::consts::PI;

use dryturn_geometry::DVec3;
use dryturn_optics::surface::{ggx, smith};
use dryturn_scene::lamp::Panel;
use serde_json::Value as Json;

use super::super::{number, numbers, vector};
use super::{Case, Keys};

pub(super) fn panel(lamp: &Json) -> Panel {
    let (half_up, half_across) = (vector(&lamp["v"]), vector(&lamp["u"]));
    let normal = half_across.cross(half_up).normalize();
    Panel { centre: vector(&lamp["center"]), half_across, half_up, normal }
}

/// In closed form, and as the sums over points of the panel that rendering takes;
/// finer here, and finer still where the receiver's horizon cuts the panel.
pub(super) fn lamp(case: &Case<'_>) -> Keys {
    let (point, normal) = (vector(&case.input["point"]), vector(&case.input["normal"]));
    if let Some(source) = case.input.get("source") {
        let towards = vector(source) - point;
        let r2 = towards.length_squared();
        let tiny = Panel {
            centre: vector(source),
            half_across: DVec3::ZERO,
            half_up: DVec3::ZERO,
            normal: -towards.normalize(),
        };
        let found = tiny.transfer(point, normal, tiny.centre).map_or(0.0, |(transfer, _)| transfer);
        assert!(r2 > 0.0);
        case.near("E", found, number(&case.expected["E"]), 1e-6, 0.0);
        return &["E"];
    }
    let exact = panel(&case.input["lamp"]).irradiance_over_radiance_exact(point, normal);
    case.near("E_over_L", exact, number(&case.expected["E_over_L"]), 1e-6, 0.0);
    let n = if case.id.contains("horizon") { 512 } else { 128 };
    let found = panel(&case.input["lamp"]).irradiance_over_radiance(point, normal, n);
    case.near("E_over_L", found, number(&case.expected["E_over_L"]), 1e-3, 0.0);
    if case.has("configuration_factor") {
        let wanted = number(&case.expected["configuration_factor"]);
        case.near("configuration_factor", found / PI, wanted, 1e-3, 0.0);
    }
    &["E_over_L", "configuration_factor"]
}

/// Against the file's quadrature, which agrees with the renderer that it names.
pub(super) fn radiance(case: &Case<'_>) -> Keys {
    let (point, normal) = (vector(&case.input["point"]), vector(&case.input["normal"]));
    let to_eye = vector(&case.input["to_camera"]);
    let material = &case.input["material"];
    let mut found = [0.0; 3];
    for lamp in case.input["lamps"].as_array().unwrap() {
        let panel = panel(lamp);
        let light = numbers(&lamp["radiance"]);
        let transfer = |at: DVec3, value: &dyn Fn(DVec3) -> f64| {
            panel.transfer(point, normal, at).map_or(0.0, |(t, direction)| t * value(direction))
        };
        match material["kind"].as_str().unwrap() {
            "lambert" => {
                let sum = panel.sum(64, |at| transfer(at, &|_| 1.0 / PI));
                let rho = numbers(&material["rho"]);
                (0..3).for_each(|c| found[c] += sum * light[c] * rho[c]);
            }
            "ggx" => {
                let alpha = number(&material["alpha"]);
                let index = material["eta"].as_f64();
                let lobe = |direction| ggx(normal, to_eye, direction, alpha, index);
                let sum = panel.sum(512, |at| transfer(at, &lobe));
                (0..3).for_each(|c| found[c] += sum * light[c]);
            }
            other => panic!("material {other}"),
        }
    }
    case.all_near("quadrature", &found, 1e-3, 0.0);
    // The renderer's figure, within its own noise.
    let noise = numbers(&case.expected["stderr"]);
    for ((found, wanted), noise) in found.iter().zip(numbers(&case.expected["radiance"])).zip(noise)
    {
        case.near("radiance", *found, wanted, 0.0, 5e-3 * wanted.abs() + 4.0 * noise);
    }
    // Shadowing as a product takes away at least as much as height-correlated shadowing,
    // which is another model and no reference for ours.
    if case.has("quadrature_correlated") {
        for (found, correlated) in
            found.iter().zip(numbers(&case.expected["quadrature_correlated"]))
        {
            assert!(*found <= correlated * (1.0 + 1e-3), "{}: {found} > {correlated}", case.id);
        }
    }
    &["quadrature", "radiance", "stderr", "quadrature_correlated"]
}

/// Directional albedo of the lobe without Fresnel loss, by a sum over half
/// vectors that are spread as the lobe is.
pub(super) fn furnace(case: &Case<'_>) -> Keys {
    let alpha = number(&case.input["alpha"]);
    let view = number(&case.input["view_deg"]).to_radians();
    let to_eye = DVec3::new(view.sin(), 0.0, view.cos());
    let (rings, spokes) = (600, 600);
    let (mut albedo, mut weak) = (0.0, 0.0);
    for ring in 0..rings {
        // Closer together towards the horizon, where the lobe has its long tail.
        let rest = 1.0 - (f64::from(ring) + 0.5) / f64::from(rings);
        let (u, weight) = (1.0 - rest * rest * rest, 3.0 * rest * rest);
        let cos2 = (1.0 - u) / (1.0 + (alpha * alpha - 1.0) * u);
        let (cos, sin) = (cos2.sqrt(), (1.0 - cos2).sqrt());
        for spoke in 0..spokes {
            let phi = (f64::from(spoke) + 0.5) / f64::from(spokes) * core::f64::consts::TAU;
            let half = DVec3::new(sin * phi.cos(), sin * phi.sin(), cos);
            let eye_on_half = half.dot(to_eye);
            let to_light = half * (2.0 * eye_on_half) - to_eye;
            if eye_on_half <= 0.0 {
                continue;
            }
            // Without the light's shadowing nothing may be lost, whatever lies below the
            // horizon (E. Heitz 2014, weak furnace).
            weak += weight * smith(to_eye.z, alpha) * eye_on_half / (to_eye.z * half.z);
            if to_light.z <= 0.0 {
                continue;
            }
            let base = (alpha * alpha - 1.0) * cos2 + 1.0;
            let density = alpha * alpha / (PI * base * base) * cos / (4.0 * eye_on_half);
            albedo += weight * ggx(DVec3::Z, to_eye, to_light, alpha, None) * to_light.z / density;
        }
    }
    albedo /= f64::from(rings * spokes);
    weak /= f64::from(rings * spokes);
    case.near("weak_furnace", weak, number(&case.expected["weak_furnace"]), 0.0, 2e-3);
    assert!((weak - 1.0).abs() < 2e-3, "{}: weak furnace {weak}", case.id);
    let noise = 4.0 * number(&case.expected["mitsuba_stderr"]);
    case.near(
        "mitsuba_albedo",
        albedo,
        number(&case.expected["mitsuba_albedo"]),
        0.0,
        3e-3 + noise,
    );
    // Height-correlated shadowing is another model: it loses less.
    assert!(albedo <= number(&case.expected["albedo_correlated"]) + 2e-3, "{}", case.id);
    case.near("albedo_separable", albedo, number(&case.expected["albedo_separable"]), 0.0, 2e-3);
    &["albedo_separable", "albedo_correlated", "weak_furnace", "mitsuba_albedo", "mitsuba_stderr"]
}
