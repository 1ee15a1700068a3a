//! How cube colours move in a camera's channels when the light changes, as measured.
//!
//! Over pairs of 33 measured or standard lights and mixtures of two of them (CIE standard
//! illuminants A, D50 to D75, FL1 to FL12, HP1 to HP5, LED-B1 to LED-V2; black bodies), nine
//! camera sensitivities (two measured ones, shifted and narrowed too, and one made of the CIE
//! 1931 observer) and the six colours' patches of a measured chart, shifted and in more and
//! less contrast. `tests/reference/light_prior.py` computes them with colour-science 0.4.7,
//! which ships all of these; `tests/reference/light_prior.json` names the sources and holds
//! more digits.

/// Covariance of the logarithms of what white does in red, green and blue, its green being the
/// same in both lights: red, red and blue, blue.
pub(super) const WHITE: [f64; 3] = [0.0886, -0.0849, 0.1080];

/// Lower triangle of the covariance of what the others do besides: yellow, red, orange, green,
/// blue, each in red, green and blue.
#[rustfmt::skip]
pub(super) const OTHERS: [&[f64]; 15] = [
    &[0.0009],
    &[0.0021, 0.0078],
    &[0.0041, 0.0094, 0.0263],
    &[0.0035, 0.0013, 0.0161, 0.0530],
    &[0.0047, 0.0108, 0.0208, 0.0302, 0.0427],
    &[0.0043, 0.0098, 0.0205, 0.0291, 0.0390, 0.0422],
    &[0.0018, 0.0040, 0.0079, 0.0092, 0.0108, 0.0107, 0.0041],
    &[0.0037, 0.0133, 0.0167, 0.0004, 0.0224, 0.0193, 0.0070, 0.0269],
    &[0.0043, 0.0119, 0.0245, 0.0118, 0.0242, 0.0271, 0.0091, 0.0218, 0.0295],
    &[-0.0018, -0.0027, -0.0085, -0.0179, -0.0139, -0.0143, -0.0047, -0.0042, -0.0089, 0.0077],
    &[-0.0008, -0.0029, -0.0037, -0.0010, -0.0087, -0.0090, -0.0021, -0.0078, -0.0069, 0.0020, 0.0043],
    &[0.0010, 0.0005, 0.0097, 0.0090, 0.0043, 0.0012, 0.0015, 0.0010, 0.0036, -0.0024, 0.0013, 0.0088],
    &[-0.0030, -0.0078, -0.0136, -0.0068, -0.0134, -0.0110, -0.0054, -0.0137, -0.0139, 0.0043, 0.0026, -0.0038, 0.0112],
    &[-0.0047, -0.0159, -0.0232, -0.0058, -0.0238, -0.0234, -0.0089, -0.0274, -0.0281, 0.0070, 0.0064, -0.0025, 0.0167, 0.0347],
    &[-0.0041, -0.0106, -0.0250, -0.0140, -0.0244, -0.0302, -0.0093, -0.0193, -0.0303, 0.0101, 0.0073, -0.0035, 0.0125, 0.0270, 0.0358],
];

/// Logarithm of what each of the others throws back as a multiple of what white does, in red,
/// green and blue: the mean over the lights and cameras.
pub(super) const RATIOS: [[f64; 3]; 5] = [
    [-0.2652, -0.4667, -1.3394],
    [-1.1522, -2.1350, -2.4406],
    [-0.6062, -1.1847, -1.9256],
    [-1.8176, -1.4062, -1.8245],
    [-2.9929, -2.5898, -1.7324],
];

/// Lower triangle of the covariance of these.
#[rustfmt::skip]
pub(super) const RATIO_SPREAD: [&[f64]; 15] = [
    &[0.0013],
    &[0.0017, 0.0114],
    &[-0.0049, 0.0466, 0.5434],
    &[0.0046, 0.0126, 0.0439, 0.0525],
    &[-0.0005, 0.0438, 0.4086, 0.0523, 0.3367],
    &[-0.0003, 0.0421, 0.3837, 0.0398, 0.3232, 0.3292],
    &[0.0032, 0.0019, -0.0310, 0.0116, -0.0166, -0.0173, 0.0092],
    &[0.0012, 0.0276, 0.1928, 0.0274, 0.1617, 0.1529, -0.0047, 0.0881],
    &[-0.0032, 0.0514, 0.5185, 0.0391, 0.4088, 0.4021, -0.0289, 0.1963, 0.5221],
    &[0.0002, 0.0039, 0.0542, -0.0065, 0.0475, 0.0570, -0.0028, 0.0216, 0.0646, 0.0338],
    &[0.0037, -0.0055, -0.0954, 0.0017, -0.0655, -0.0580, 0.0123, -0.0299, -0.0871, 0.0065, 0.0345],
    &[0.0003, 0.0180, 0.2098, 0.0289, 0.1586, 0.1437, -0.0051, 0.0751, 0.1930, 0.0313, -0.0216, 0.0997],
    &[0.0021, 0.0028, 0.0245, 0.0119, 0.0333, 0.0388, 0.0056, 0.0151, 0.0324, 0.0373, 0.0240, 0.0348, 0.0644],
    &[0.0002, -0.0129, -0.0215, -0.0080, -0.0166, -0.0093, 0.0026, -0.0198, -0.0235, 0.0341, 0.0288, 0.0181, 0.0571, 0.0773],
    &[0.0055, -0.0281, -0.3184, -0.0147, -0.2354, -0.2250, 0.0261, -0.1114, -0.3094, -0.0079, 0.0805, -0.0958, 0.0320, 0.0617, 0.2328],
];

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
    }
}
