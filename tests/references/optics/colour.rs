//! Tristimulus values, colour temperatures, camera signals, colour differences.

use dryturn_geometry::{DMat3, DVec3};
use dryturn_optics::spectrum::{
    OBSERVER, black_body, camera_signal, cct_mccamy, daylight, daylight_xy, tristimulus,
    wavelength_nm,
};
use dryturn_units::colour::{decode_srgb, encode_srgb};
use dryturn_units::{Lab, Xyz};

use super::super::{number, numbers};
use super::{Case, Keys};

/// Tristimulus values by our integrator on the file's tables, on two grids, and from
/// them CIELAB; then Bradford (K. M. Lam 1985; matrix from memory) and the file's sRGB
/// matrix, and our encoding: what is checked of it is the integrator and the transfer
/// function.
pub(super) fn tristimulus_values(case: &Case<'_>) -> Keys {
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
    // Every second wavelength from 400 to 700 nm: the others get no light.
    let coarse: Vec<f64> = lamp
        .iter()
        .enumerate()
        .map(|(k, power)| {
            let nm = wavelength_nm(k);
            let counts = (400.0..=700.0).contains(&nm) && nm % 10.0 == 0.0;
            if counts { *power } else { 0.0 }
        })
        .collect();
    let on_coarse = tristimulus(&coarse, surface.as_deref(), observer);
    case.all_near("XYZ_sum10_400_700", &on_coarse, 1e-7, 0.0);
    if case.has("XYZ_1nm") {
        // Not reproducible from 5 nm tables: as far off as the file measured.
        let deviations = &case.group["measured_deviation_from_1nm"];
        let name = case.input["illuminant"].as_str().unwrap();
        let allowed = 1.01 * number(&deviations[name]["max_dXYZ_5nm"]);
        case.all_near("XYZ_1nm", &found, 0.0, allowed);
    }
    if case.has("Lab") {
        let lab = Xyz(found).to_lab(Xyz(tristimulus(&lamp, None, observer)));
        case.all_near("Lab", &lab.0, 0.0, 1e-5);
    }
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
    &["XYZ_sum5", "XYZ_sum10_400_700", "XYZ_1nm", "Lab", "xy", "srgb_linear", "srgb_bradford"]
}

pub(super) fn temperatures(case: &Case<'_>) -> Keys {
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
    if case.has("cct_mccamy") {
        let found = cct_mccamy(xy);
        case.near("cct_mccamy", found, number(&case.expected["cct_mccamy"]), 0.0, 0.05);
    }
    &["xy", "sd", "cct_mccamy"]
}

pub(super) fn camera_rgb(case: &Case<'_>) -> Keys {
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

/// The published table of Sharma, Wu and Dalal (2005), and random pairs.
pub(super) fn differences(case: &Case<'_>) -> Keys {
    let lab = |key: &str| Lab(numbers(&case.input[key]).try_into().unwrap());
    let found = lab("lab1").difference(lab("lab2"));
    let wanted = number(&case.expected["dE00"]);
    let allowed = if case.id.starts_with("sharma") { 1e-4 } else { 1e-8 };
    // Where two hues are half a turn apart the last bit of atan2 decides.
    let other = case.expected.get("dE00_also_accepted").map(number);
    let wanted = other.filter(|other| (found - other).abs() <= allowed).unwrap_or(wanted);
    case.near("dE00", found, wanted, 0.0, allowed);
    let back = lab("lab2").difference(lab("lab1"));
    assert!((back - found).abs() < 1e-9, "{}: not symmetric", case.id);
    &["dE00", "dE00_also_accepted"]
}

/// IEC 61966-2-1.
pub(super) fn srgb_transfer(case: &Case<'_>) -> Keys {
    let value = number(&case.input["value"]);
    case.near("encoded", encode_srgb(value), number(&case.expected["encoded"]), 0.0, 1e-12);
    case.near("decoded", decode_srgb(value), number(&case.expected["decoded"]), 0.0, 1e-12);
    &["encoded", "decoded"]
}
