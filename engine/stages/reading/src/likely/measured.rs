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
        for (i, row) in OTHERS.iter().enumerate() {
            assert_eq!(row.len(), i + 1);
            for (j, ours) in row.iter().enumerate() {
                // White comes first there.
                let wanted = at("colour_deviation", 3 + i, 3 + j);
                assert!((ours - wanted).abs() <= 0.5e-4 + 1e-9, "{i} {j}: {ours} {wanted}");
            }
        }
    }
}
