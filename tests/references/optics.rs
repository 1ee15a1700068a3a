//! Colour, projection and radiometry.

use core::f64::consts::PI;

use dryturn_geometry::{DMat3, DVec2, DVec3, Distortion, Lens, rotation};
use dryturn_optics::ReadOut;
use dryturn_optics::lamp::Panel;
use dryturn_optics::spectrum::{
    OBSERVER, black_body, camera_signal, daylight, daylight_xy, tristimulus, wavelength_nm,
};
use dryturn_optics::surface::ggx;
use dryturn_units::colour::{decode_srgb, encode_srgb};
use dryturn_units::noise::Seed;
use serde_json::Value as Json;

use super::{Checked, near, number, numbers, vector};

/// Keys of `expected` that a check compared.
type Keys = &'static [&'static str];

struct Case<'a> {
    id: &'a str,
    input: &'a Json,
    expected: &'a Json,
    group: &'a Json,
    groups: &'a Json,
}

impl Case<'_> {
    fn near(&self, key: &str, found: f64, wanted: f64, relative: f64, absolute: f64) {
        near(self.id, key, found, wanted, relative, absolute);
    }

    fn all_near(&self, key: &str, found: &[f64], relative: f64, absolute: f64) {
        let wanted = numbers(&self.expected[key]);
        assert_eq!(found.len(), wanted.len(), "{}, {key}", self.id);
        for (found, wanted) in found.iter().zip(wanted) {
            self.near(key, *found, wanted, relative, absolute);
        }
    }

    fn has(&self, key: &str) -> bool {
        self.expected.get(key).is_some()
    }

    /// A table of group `colour`, by name and entry.
    fn colour_table(&self, name: &str, entry: &str) -> Vec<f64> {
        numbers(&self.groups["colour"]["tables"][name][entry])
    }
}

pub(crate) fn check(groups: &Json) -> Vec<(String, Checked)> {
    let groups_by_name = groups.as_object().into_iter().flatten();
    groups_by_name.map(|(name, group)| (name.clone(), check_group(name, group, groups))).collect()
}

fn check_group(name: &str, group: &Json, groups: &Json) -> Checked {
    let check: fn(&Case<'_>) -> Keys = match name {
        "colour" => colour,
        "cct" => cct,
        "camera_rgb" => camera_rgb,
        "projection" => projection,
        "lamp" => lamp,
        "radiance" => radiance,
        "furnace" => furnace,
        "sensor" => sensor,
        "srgb_transfer" => srgb_transfer,
        _ => return Checked::NotYet { cases: group["cases"].as_array().map_or(0, Vec::len) },
    };
    let mut left = Vec::new();
    let cases = group["cases"].as_array().cloned().unwrap_or_default();
    for case in &cases {
        let (input, expected) = (&case["input"], &case["expected"]);
        let id = case["id"].as_str().unwrap_or("?");
        let compared = check(&Case { id, input, expected, group, groups });
        let keys = expected.as_object().into_iter().flatten().map(|(key, _)| key.clone());
        left.extend(keys.filter(|key| !compared.contains(&key.as_str())));
    }
    left.sort();
    left.dedup();
    Checked::All { cases: cases.len(), keys_left: left }
}

/// Tristimulus values by our integrator on the file's tables, then Bradford
/// (K. M. Lam 1985; matrix from memory) and the file's sRGB matrix, and our
/// encoding: what is checked of it is the integrator and the transfer function.
fn colour(case: &Case<'_>) -> Keys {
    let tables = &case.group["tables"];
    let observer: Vec<Vec<f64>> =
        ["cmf_x", "cmf_y", "cmf_z"].iter().map(|key| numbers(&tables[key])).collect();
    let observer = [&observer[0][..], &observer[1], &observer[2]];
    let lamp = case.colour_table("illuminant", case.input["illuminant"].as_str().unwrap());
    let surface = case.input["reflectance"].as_str().map(|n| case.colour_table("reflectance", n));
    let found = tristimulus(&lamp, surface.as_deref(), observer);
    case.all_near("XYZ_sum5", &found, 1e-7, 0.0);
    // Our own copy of the observer is the same table.
    let own = tristimulus(&lamp, surface.as_deref(), OBSERVER.each_ref().map(|c| &c[..]));
    case.all_near("XYZ_sum5", &own, 1e-7, 0.0);
    if case.has("xy") {
        let sum: f64 = found.iter().sum();
        case.all_near("xy", &[found[0] / sum, found[1] / sum], 0.0, 1e-6);
    }
    if case.has("srgb_bradford") {
        let white = DVec3::from(tristimulus(&lamp, None, observer)) / 100.0;
        let to_cone = DMat3::from_cols_array(&[
            0.8951, 0.2664, -0.1614, -0.7502, 1.7135, 0.0367, 0.0389, -0.0685, 1.0296,
        ])
        .transpose();
        let d65 = DVec3::new(0.3127 / 0.3290, 1.0, (1.0 - 0.3127 - 0.3290) / 0.3290);
        let ratio = (to_cone * d65) / (to_cone * white);
        let adapt = to_cone.inverse() * DMat3::from_diagonal(ratio) * to_cone;
        let rows: Vec<f64> =
            tables["srgb_matrix_xyz_to_rgb"].as_array().unwrap().iter().flat_map(numbers).collect();
        let to_rgb = DMat3::from_cols_slice(&rows).transpose();
        let linear = to_rgb * (DVec3::from(found) / 100.0);
        case.all_near("srgb_linear", &linear.to_array(), 0.0, 1e-6);
        let adapted = to_rgb * (adapt * (DVec3::from(found) / 100.0));
        case.all_near("srgb_bradford", &adapted.to_array().map(encode_srgb), 0.0, 1e-6);
    }
    &["XYZ_sum5", "xy", "srgb_linear", "srgb_bradford"]
}

fn cct(case: &Case<'_>) -> Keys {
    let temperature = number(&case.input["T"]);
    let (curve, xy) = match case.input["kind"].as_str().unwrap() {
        "daylight" => (daylight(temperature), daylight_xy(temperature)),
        "planck" => {
            let curve = black_body(temperature);
            let xyz = tristimulus(&curve, None, OBSERVER.each_ref().map(|c| &c[..]));
            let sum: f64 = xyz.iter().sum();
            (curve, [xyz[0] / sum, xyz[1] / sum])
        }
        other => panic!("kind is {other}"),
    };
    case.all_near("xy", &xy, 0.0, 1e-6);
    let nodes = numbers(&case.input["nodes_nm"]);
    let at_nodes: Vec<f64> = nodes
        .iter()
        .map(|node| {
            let index = (0..curve.len()).find(|&i| wavelength_nm(i) == *node);
            curve[index.unwrap_or_else(|| panic!("{node} nm is not on the grid"))]
        })
        .collect();
    case.all_near("sd", &at_nodes, 1e-6, 0.0);
    &["xy", "sd"]
}

fn camera_rgb(case: &Case<'_>) -> Keys {
    let tables = &case.group["tables"];
    let sensor: Vec<Vec<f64>> = ["sensitivity_r", "sensitivity_g", "sensitivity_b"]
        .iter()
        .map(|key| numbers(&tables[key]))
        .collect();
    let sensor = [&sensor[0][..], &sensor[1], &sensor[2]];
    let lamp = case.colour_table("illuminant", case.input["illuminant"].as_str().unwrap());
    let surface = case.colour_table("reflectance", case.input["reflectance"].as_str().unwrap());
    let raw = camera_signal(&lamp, &surface, sensor);
    case.all_near("raw", &raw, 1e-6, 0.0);
    let white = camera_signal(&lamp, &[1.0; 81], sensor);
    let balanced: Vec<f64> = raw.iter().zip(white).map(|(signal, white)| signal / white).collect();
    case.all_near("balanced", &balanced, 1e-6, 0.0);
    &["raw", "balanced"]
}

fn projection(case: &Case<'_>) -> Keys {
    let k: Vec<Vec<f64>> = case.input["K"].as_array().unwrap().iter().map(numbers).collect();
    let dist = numbers(&case.input["dist"]);
    let lens = Lens {
        focal_px: DVec2::new(k[0][0], k[1][1]),
        centre_px: DVec2::new(k[0][2], k[1][2]),
        distortion: Distortion { k1: dist[0], k2: dist[1], p1: dist[2], p2: dist[3], k3: dist[4] },
    };
    let turn = rotation(vector(&case.input["rvec"]));
    let shift = vector(&case.input["tvec"]);
    let points = case.input["points"].as_array().unwrap();
    let pixels = case.expected["pixels"].as_array().unwrap();
    let normalised = case.expected["normalised"].as_array().unwrap();
    for (point, wanted) in points.iter().zip(pixels) {
        let found = lens.project(turn * vector(point) + shift).unwrap();
        for (found, wanted) in found.to_array().iter().zip(numbers(wanted)) {
            case.near("pixels", *found, wanted, 0.0, 1e-6);
        }
    }
    // The inverse starts from the file's noisy pixels, as its reference did.
    let noisy = case.input["pixels_noisy"].as_array().unwrap();
    let exact_or_noisy = [pixels, noisy].into_iter().find(|list| {
        let pixel = DVec2::from_slice(&numbers(&list[0]));
        let found = lens.normalise(pixel).unwrap();
        let wanted = DVec2::from_slice(&numbers(&normalised[0]));
        (found - wanted).length() < 1e-7
    });
    let start = exact_or_noisy.unwrap_or_else(|| panic!("{}: normalised differs", case.id));
    for (pixel, wanted) in start.iter().zip(normalised) {
        let found = lens.normalise(DVec2::from_slice(&numbers(pixel))).unwrap();
        for (found, wanted) in found.to_array().iter().zip(numbers(wanted)) {
            case.near("normalised", *found, wanted, 0.0, 1e-9);
        }
    }
    &["pixels", "normalised"]
}

fn panel(lamp: &Json) -> Panel {
    let (half_up, half_across) = (vector(&lamp["v"]), vector(&lamp["u"]));
    let normal = half_across.cross(half_up).normalize();
    Panel { centre: vector(&lamp["center"]), half_across, half_up, normal }
}

/// Our lamps are sums over points of the panel, as rendering takes them; finer
/// here, and finer still where the receiver's horizon cuts the panel.
fn lamp(case: &Case<'_>) -> Keys {
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
fn radiance(case: &Case<'_>) -> Keys {
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
    &["quadrature", "radiance", "stderr"]
}

/// Directional albedo of the lobe without Fresnel loss, by a sum over half
/// vectors that are spread as the lobe is.
fn furnace(case: &Case<'_>) -> Keys {
    let alpha = number(&case.input["alpha"]);
    let view = number(&case.input["view_deg"]).to_radians();
    let to_eye = DVec3::new(view.sin(), 0.0, view.cos());
    let (rings, spokes) = (600, 600);
    let mut albedo = 0.0;
    for ring in 0..rings {
        let u = (f64::from(ring) + 0.5) / f64::from(rings);
        let cos2 = (1.0 - u) / (1.0 + (alpha * alpha - 1.0) * u);
        let (cos, sin) = (cos2.sqrt(), (1.0 - cos2).sqrt());
        for spoke in 0..spokes {
            let phi = (f64::from(spoke) + 0.5) / f64::from(spokes) * core::f64::consts::TAU;
            let half = DVec3::new(sin * phi.cos(), sin * phi.sin(), cos);
            let eye_on_half = half.dot(to_eye);
            let to_light = half * (2.0 * eye_on_half) - to_eye;
            if eye_on_half <= 0.0 || to_light.z <= 0.0 {
                continue;
            }
            let base = (alpha * alpha - 1.0) * cos2 + 1.0;
            let density = alpha * alpha / (PI * base * base) * cos / (4.0 * eye_on_half);
            albedo += ggx(DVec3::Z, to_eye, to_light, alpha, None) * to_light.z / density;
        }
    }
    albedo /= f64::from(rings * spokes);
    case.near("albedo_separable", albedo, number(&case.expected["albedo_separable"]), 0.0, 2e-3);
    &["albedo_separable"]
}

/// Mean, variance and gain of simulated pixels against the exact sums: EMVA 1288.
fn sensor(case: &Case<'_>) -> Keys {
    const PIXELS: u32 = 307_200;
    let input = |key: &str| number(&case.input[key]);
    let read_out = ReadOut {
        codes_per_e: input("K"),
        black_code: input("offset"),
        highest_code: input("bits").exp2() - 1.0,
        read_noise_e: input("sigma_d"),
        full_well_e: f64::INFINITY,
    };
    let list = |key: &str| numbers(&case.expected[key]);
    let (mean_exact, var_exact) = (list("mean_exact"), list("var_exact"));
    let kurtosis = list("kurtosis_exact");
    let n = f64::from(PIXELS);
    let mut moments = Vec::new();
    for (level, mean_e) in numbers(&case.input["mu_e"]).into_iter().enumerate() {
        let mut noise = Seed::new(1288).stream(case.id, 0, level as u64);
        let codes: Vec<f64> = (0..PIXELS).map(|_| read_out.draw(mean_e, &mut noise)).collect();
        let mean = codes.iter().sum::<f64>() / n;
        let variance = codes.iter().map(|c| (c - mean) * (c - mean)).sum::<f64>() / n;
        let (wanted, spread) = (mean_exact[level], var_exact[level]);
        case.near("mean_exact", mean, wanted, 0.0, 4.0 * (spread / n).sqrt());
        // Four standard errors of the variance, and 2 % for levels at which rounding
        // and clipping leave hardly any.
        let error = 4.0 * ((kurtosis[level] - 1.0) / n).sqrt();
        case.near("var_exact", variance, spread, error.max(0.02), 0.0);
        moments.push((mean, variance));
    }
    // Photon transfer: the slope of variance over mean, up to 70 % of saturation.
    let (dark_mean, dark_variance) = moments[0];
    let limit = dark_mean + 0.7 * (read_out.highest_code - read_out.black_code);
    let (mut up, mut across) = (0.0, 0.0);
    for (mean, variance) in moments.iter().filter(|(mean, _)| *mean <= limit) {
        up += (mean - dark_mean) * (variance - dark_variance);
        across += (mean - dark_mean) * (mean - dark_mean);
    }
    case.near("K_ptc_exact", up / across, number(&case.expected["K_ptc_exact"]), 0.02, 0.0);
    &["mean_exact", "var_exact", "kurtosis_exact", "K_ptc_exact"]
}

/// IEC 61966-2-1.
fn srgb_transfer(case: &Case<'_>) -> Keys {
    let value = number(&case.input["value"]);
    case.near("encoded", encode_srgb(value), number(&case.expected["encoded"]), 0.0, 1e-12);
    case.near("decoded", decode_srgb(value), number(&case.expected["decoded"]), 0.0, 1e-12);
    &["encoded", "decoded"]
}
