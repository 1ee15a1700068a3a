//! Scales with round ticks: from values to pixels.

use dryturn_units::maths;

/// The greatest power of ten that is no larger.
fn power_of_ten(value: f64) -> f64 {
    let exponent = maths::log10(value).floor() as i32;
    let power = maths::whole_pow(10.0, exponent.unsigned_abs());
    if exponent < 0 { 1.0 / power } else { power }
}

/// The smallest of 1, 2, 5 × a power of ten that divides `span` into at most `most` parts.
pub(crate) fn round_step(span: f64, most: usize) -> f64 {
    let wanted = span / most.max(1) as f64;
    if !wanted.is_finite() || wanted <= 0.0 {
        return 1.0;
    }
    let power = power_of_ten(wanted);
    // A hair of room for the division.
    let parts = [1.0, 2.0, 5.0, 10.0].into_iter();
    power * parts.into_iter().find(|part| part * power >= wanted * 0.999_999).unwrap_or(10.0)
}

/// The next round figure from `value` on, for the end of a scale.
pub(crate) fn round_up(value: f64) -> f64 {
    if !value.is_finite() || value <= 0.0 {
        return 1.0;
    }
    let step = round_step(value, 5);
    (value / step * 0.999_999).ceil() * step
}

/// From values to pixels.
pub(crate) struct Scale {
    low: f64,
    high: f64,
    from_px: f64,
    to_px: f64,
    log: bool,
}

impl Scale {
    /// Equal steps for equal differences. A span of nothing is widened.
    pub(crate) fn linear((low, high): (f64, f64), (from_px, to_px): (f64, f64)) -> Self {
        let (low, high) = match (low.is_finite(), high.is_finite()) {
            (true, true) if low < high => (low, high),
            (true, true) => (high.min(low) - 0.5, high.max(low) + 0.5),
            _ => (0.0, 1.0),
        };
        Self { low, high, from_px, to_px, log: false }
    }

    /// Equal steps for equal ratios; both ends above 0, else linear.
    pub(crate) fn logarithmic((low, high): (f64, f64), pixels: (f64, f64)) -> Self {
        if low > 0.0 && low < high && high.is_finite() {
            Self {
                log: true,
                low: maths::ln(low),
                high: maths::ln(high),
                ..Self::linear((0.0, 1.0), pixels)
            }
        } else {
            Self::linear((low, high), pixels)
        }
    }

    /// Where a value stands; what is beyond an end stands there, and at the first end what
    /// is no number.
    pub(crate) fn px(&self, value: f64) -> f64 {
        let value = if self.log { maths::ln(value.max(f64::MIN_POSITIVE)) } else { value };
        let share = ((value - self.low) / (self.high - self.low)).clamp(0.0, 1.0);
        let share = if share.is_nan() { 0.0 } else { share };
        self.from_px + (self.to_px - self.from_px) * share
    }

    /// At most about `most` round values within a linear scale, and their step.
    pub(crate) fn ticks(&self, most: usize) -> (Vec<f64>, f64) {
        let step = round_step(self.high - self.low, most);
        let first = (self.low / step - 1e-6).ceil() as i64;
        let last = (self.high / step + 1e-6).floor() as i64;
        ((first..=last).map(|k| k as f64 * step).collect(), step)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn steps_are_round_and_few() {
        for (span, most, step) in
            [(1.0, 10, 0.1), (0.7, 10, 0.1), (701.0, 14, 100.0), (30.0, 6, 5.0), (0.003, 3, 0.001)]
        {
            let found = round_step(span, most);
            assert!((found / step - 1.0).abs() < 1e-9, "{span} in {most}: {found}");
        }
        assert_eq!(round_step(f64::NAN, 4), 1.0);
        assert_eq!(round_step(0.0, 4), 1.0);
        assert!((round_up(0.23) - 0.25).abs() < 1e-12);
        assert_eq!(round_up(40.0), 40.0);
        assert_eq!(round_up(-3.0), 1.0);
    }

    #[test]
    fn scales_stay_finite() {
        let px = (10.0, 110.0);
        let same = Scale::linear((3.0, 3.0), px);
        assert_eq!(same.px(3.0), 60.0);
        assert_eq!(Scale::linear((f64::NAN, 1.0), px).px(9.0), 110.0);
        let log = Scale::logarithmic((1.0, 100.0), px);
        assert!((log.px(10.0) - 60.0).abs() < 1e-9);
        assert_eq!(log.px(0.0), 10.0);
        assert_eq!(Scale::logarithmic((0.0, 4.0), px).px(2.0), 60.0);
        let (ticks, step) = Scale::linear((-0.1, 1.0), px).ticks(5);
        assert_eq!((ticks.len(), step), (3, 0.5));
    }
}
