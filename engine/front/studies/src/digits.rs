//! Figures with as many digits as a person wants.

use dryturn_units::maths;

/// A number with four significant digits, large and small ones with their power of ten.
pub(crate) fn number(value: f64) -> String {
    if value == 0.0 {
        return "0".to_owned();
    }
    if !(1e-2..1e5).contains(&value.abs()) {
        return format!("{value:.3e}");
    }
    let whole = maths::log10(value.abs()).floor() as i32;
    format!("{value:.*}", usize::try_from(3 - whole).unwrap_or(0))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn numbers_have_four_digits() {
        let shown = [8e-5, 0.1703, 2.0, -91.26, 4553.2, 0.0].map(number);
        assert_eq!(shown, ["8.000e-5", "0.1703", "2.000", "-91.26", "4553", "0"]);
    }
}
