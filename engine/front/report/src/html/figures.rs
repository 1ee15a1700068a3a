//! Numbers as text.

use dryturn_statistics::{Z_95, wilson};
use dryturn_units::maths;

/// Stands for what there is no figure of.
pub(crate) const DASH: &str = "–";
/// Ends a figure that is too low.
pub(crate) const LOW: &str = "▼";

/// A number with so many decimals; a dash where it is none. No minus before nothing.
pub(crate) fn figure(value: f64, decimals: usize) -> String {
    if !value.is_finite() {
        return DASH.to_owned();
    }
    let text = format!("{value:.decimals$}");
    match text.strip_prefix('-') {
        Some(rest) if rest.bytes().all(|b| matches!(b, b'0' | b'.')) => rest.to_owned(),
        Some(rest) => format!("−{rest}"),
        None => text,
    }
}

/// The same, a dash where there is nothing.
pub(crate) fn figure_or_dash(value: Option<f64>, decimals: usize) -> String {
    figure(value.unwrap_or(f64::NAN), decimals)
}

/// Seconds in milliseconds, to a tenth.
pub(crate) fn ms(seconds: f64) -> String {
    figure(seconds * 1e3, 1)
}

/// The same, a dash where there is nothing.
pub(crate) fn ms_or_dash(seconds: Option<f64>) -> String {
    ms(seconds.unwrap_or(f64::NAN))
}

/// The ends of an interval.
pub(crate) fn between((low, high): (f64, f64), decimals: usize) -> String {
    format!("{} to {}", figure(low, decimals), figure(high, decimals))
}

/// A number with its power of ten where it is small, else with so many decimals.
pub(crate) fn small_or(value: f64, decimals: usize) -> String {
    if value != 0.0 && value.abs() < 1e-2 {
        format!("{value:.3e}")
    } else {
        figure(value, decimals)
    }
}

/// A value at a tick, with as many decimals as `step` needs.
pub(crate) fn tick_text(value: f64, step: f64) -> String {
    let decimals = (-maths::log10(step).floor()).clamp(0.0, 6.0) as usize;
    figure(value, decimals)
}

/// A share in per cent.
pub(crate) fn in_percent(count: usize, all: usize) -> f64 {
    100.0 * count as f64 / all.max(1) as f64
}

/// The same with Wilson's interval, as two cells.
pub(crate) fn share_cells(count: usize, trials: usize) -> [String; 2] {
    let (low, high) = wilson(count, trials, Z_95);
    [figure(in_percent(count, trials), 1), between((100.0 * low, 100.0 * high), 2)]
}

/// A safety factor: the strength of a shaft over the torque in it; marked where it is
/// under 2.
pub(crate) fn safety(ratio: f64) -> String {
    match ratio {
        ratio if ratio > 100.0 => "over 100".to_owned(),
        ratio if ratio < 2.0 => format!("{} {LOW} under 2", figure(ratio, 2)),
        ratio => figure(ratio, 2),
    }
}

/// A probability, to as many nines as it has.
#[must_use]
pub fn percent(probability: f64) -> String {
    match 1.0 - probability {
        rest if rest < 1e-6 => "over 99.9999 %".to_owned(),
        rest if rest < 0.01 => format!("{:.4} %", 100.0 * probability),
        _ => format!("{:.1} %", 100.0 * probability),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn figures_are_numbers_or_a_dash() {
        assert_eq!(figure(1.005, 1), "1.0");
        assert_eq!(figure(-2.25, 2), "−2.25");
        assert_eq!(figure(-0.001, 2), "0.00");
        assert_eq!(figure(f64::NAN, 2), DASH);
        assert_eq!(figure(f64::NEG_INFINITY, 2), DASH);
        assert_eq!(figure_or_dash(None, 2), DASH);
        assert_eq!(ms_or_dash(Some(0.25)), "250.0");
    }

    #[test]
    fn low_factors_are_marked() {
        assert_eq!(safety(1.5), "1.50 ▼ under 2");
        assert_eq!(safety(2.0), "2.00");
        assert_eq!(safety(1e9), "over 100");
        assert_eq!(safety(f64::NAN), DASH);
    }
}
