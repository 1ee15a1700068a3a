//! What cube colours look like in a camera's channels, and how that moves when the light changes,
//! as measured.
//!
//! Over pairs of 33 measured or standard lights and mixtures of two of them (CIE standard
//! illuminants A, D50 to D75, FL1 to FL12, HP1 to HP5, LED-B1 to LED-V2; black bodies), five
//! camera sensitivities whose channels overlap as usual (a measured one, shifted and narrowed too,
//! and one made of the CIE 1931 observer) and the six colours' patches of a measured chart, shifted
//! and in more and less contrast. `tests/reference/light_prior.py` computes them with colour-science
//! 0.4.7, which ships all of these; `tests/light_prior.json` names the sources and holds more
//! digits. Cameras whose channels overlap more are brought to these by [`super::overlap`].

use dryturn_geometry::DVec3;
use dryturn_scene::file::Pigment;
use dryturn_units::maths;

/// Covariance of the logarithms of what white does in red, green and blue, its green being the
/// same in both lights: red, red and blue, blue.
pub(crate) const WHITE: [f64; 3] = [0.1411, -0.1379, 0.1796];

/// Lower triangle of the covariance of what the others do besides: yellow, red, orange, green,
/// blue, each in red, green and blue.
#[rustfmt::skip]
pub(crate) const OTHERS: [&[f64]; 15] = [
    &[0.0008],
    &[0.0019, 0.0086],
    &[0.0037, 0.0067, 0.0274],
    &[0.0030, -0.0024, 0.0195, 0.0508],
    &[0.0031, 0.0088, 0.0163, 0.0061, 0.0172],
    &[0.0012, 0.0031, 0.0077, 0.0052, 0.0065, 0.0036],
    &[0.0013, 0.0027, 0.0059, 0.0062, 0.0046, 0.0019, 0.0024],
    &[0.0030, 0.0145, 0.0119, -0.0111, 0.0179, 0.0055, 0.0038, 0.0308],
    &[0.0025, 0.0070, 0.0159, 0.0066, 0.0123, 0.0060, 0.0039, 0.0126, 0.0122],
    &[-0.0012, -0.0007, -0.0069, -0.0152, -0.0032, -0.0020, -0.0026, 0.0016, -0.0032, 0.0054],
    &[0.0000, -0.0016, 0.0008, 0.0068, -0.0026, -0.0003, 0.0003, -0.0065, -0.0010, -0.0019, 0.0033],
    &[0.0020, 0.0013, 0.0185, 0.0167, 0.0090, 0.0043, 0.0034, 0.0033, 0.0085, -0.0052, 0.0010, 0.0148],
    &[-0.0033, -0.0084, -0.0143, -0.0069, -0.0131, -0.0050, -0.0049, -0.0150, -0.0106, 0.0034, 0.0010, -0.0075, 0.0138],
    &[-0.0038, -0.0154, -0.0166, -0.0002, -0.0180, -0.0069, -0.0055, -0.0262, -0.0150, 0.0025, 0.0026, -0.0058, 0.0166, 0.0297],
    &[-0.0014, -0.0022, -0.0117, -0.0080, -0.0070, -0.0034, -0.0023, -0.0040, -0.0067, 0.0030, -0.0004, -0.0086, 0.0057, 0.0063, 0.0064],
];

/// Logarithm of what each of the others throws back as a multiple of what white does, in red,
/// green and blue: the mean over the lights and cameras.
const RATIOS: [[f64; 3]; 5] = [
    [-0.2569, -0.5233, -1.9414],
    [-1.1753, -2.6011, -2.9053],
    [-0.5582, -1.4051, -2.5400],
    [-1.8799, -1.2846, -2.0242],
    [-2.9908, -2.5273, -1.3363],
];

/// Lower triangle of the covariance of these.
#[rustfmt::skip]
pub(crate) const RATIO_SPREAD: [&[f64]; 15] = [
    &[0.0010],
    &[0.0023, 0.0099],
    &[0.0005, 0.0023, 0.1534],
    &[0.0035, 0.0123, 0.0399, 0.0546],
    &[0.0031, 0.0109, 0.0907, 0.0351, 0.0767],
    &[0.0041, 0.0077, 0.0440, 0.0189, 0.0525, 0.0562],
    &[0.0021, 0.0054, 0.0048, 0.0106, 0.0086, 0.0090, 0.0050],
    &[0.0031, 0.0156, 0.0392, 0.0242, 0.0429, 0.0258, 0.0079, 0.0378],
    &[0.0027, 0.0070, 0.0871, 0.0269, 0.0700, 0.0529, 0.0073, 0.0341, 0.0684],
    &[0.0015, -0.0002, 0.0133, -0.0069, 0.0234, 0.0350, 0.0021, 0.0076, 0.0274, 0.0301],
    &[0.0029, 0.0046, -0.0067, 0.0074, 0.0081, 0.0208, 0.0059, 0.0042, 0.0099, 0.0139, 0.0153],
    &[0.0021, 0.0043, 0.1048, 0.0342, 0.0687, 0.0423, 0.0073, 0.0308, 0.0663, 0.0164, 0.0037, 0.0776],
    &[0.0019, 0.0039, 0.0443, 0.0179, 0.0518, 0.0551, 0.0056, 0.0224, 0.0522, 0.0368, 0.0191, 0.0422, 0.0653],
    &[-0.0004, -0.0117, 0.0511, -0.0050, 0.0383, 0.0463, -0.0010, -0.0016, 0.0467, 0.0394, 0.0124, 0.0428, 0.0556, 0.0789],
    &[0.0025, 0.0037, -0.0272, -0.0027, -0.0002, 0.0198, 0.0044, 0.0016, 0.0016, 0.0180, 0.0162, -0.0101, 0.0204, 0.0134, 0.0240],
];

/// Linear sRGB of the others' patches under D65, white being 1 in each.
const CHART: [[f64; 3]; 5] = [
    [0.9351, 0.6277, 0.0097],
    [0.4692, 0.0353, 0.0461],
    [0.7811, 0.2179, 0.0313],
    [0.0720, 0.3290, 0.0747],
    [0.0253, 0.0541, 0.3341],
];

/// A pigment's place in the tables; `None` of white.
pub(crate) fn place(pigment: Pigment) -> Option<usize> {
    match pigment {
        Pigment::White => None,
        Pigment::Yellow => Some(0),
        Pigment::Red => Some(1),
        Pigment::Orange => Some(2),
        Pigment::Green => Some(3),
        Pigment::Blue => Some(4),
    }
}

/// What a pigment throws back as a multiple of what white does, in the mean of lights and cameras.
pub(crate) fn ratio(pigment: Pigment) -> DVec3 {
    place(pigment).map_or(DVec3::ONE, |place| DVec3::from_array(RATIOS[place].map(maths::exp)))
}

/// A pigment in linear sRGB under D65, as a multiple of white.
pub(crate) fn in_daylight(pigment: Pigment) -> DVec3 {
    place(pigment).map_or(DVec3::ONE, |place| DVec3::from_array(CHART[place]))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The tables are those that `tests/reference/light_prior.py` computes with
    /// colour-science.
    #[test]
    fn the_tables_are_what_was_computed() {
        let text = include_str!("../../tests/light_prior.json");
        let all: serde_json::Value = serde_json::from_str(text).unwrap();
        let at = |table: &str, i: usize, j: usize| all[table][i][j].as_f64().unwrap();
        let white = [(0, 0), (0, 2), (2, 2)].map(|(i, j)| at("white_shift", i, j));
        for (ours, wanted) in WHITE.iter().zip(white) {
            assert!((ours - wanted).abs() <= 0.5e-4 + 1e-9, "{ours} {wanted}");
        }
        let tables = [(OTHERS, "colour_deviation"), (RATIO_SPREAD, "colour_ratio_covariance")];
        for (table, name) in tables {
            for (i, row) in table.iter().enumerate() {
                assert_eq!(row.len(), i + 1);
                for (j, ours) in row.iter().enumerate() {
                    // White comes first there.
                    let wanted = at(name, 3 + i, 3 + j);
                    assert!((ours - wanted).abs() <= 0.5e-4 + 1e-9, "{i} {j}: {ours} {wanted}");
                }
            }
        }
        for (k, ours) in RATIOS.as_flattened().iter().enumerate() {
            let wanted = all["colour_ratio"][3 + k].as_f64().unwrap();
            assert!((ours - wanted).abs() <= 0.5e-4 + 1e-9, "{k}: {ours} {wanted}");
        }
        for (k, ours) in CHART.as_flattened().iter().enumerate() {
            let wanted = at("chart", 1 + k / 3, k % 3) / at("chart", 0, k % 3);
            assert!((ours - wanted).abs() <= 0.5e-4 + 1e-9, "{k}: {ours} {wanted}");
        }
    }
}
