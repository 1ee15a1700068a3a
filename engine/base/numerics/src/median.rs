//! The middle of some values.

/// The median of some values, of an even number the upper of the two middle ones, so that it is
/// always a value that was there; `None` of none. Values that are no numbers count as larger, or
/// smaller where they have a sign, than all numbers.
#[must_use]
pub fn upper_median(values: impl IntoIterator<Item = f64>) -> Option<f64> {
    let mut values: Vec<f64> = values.into_iter().collect();
    let middle = values.len() / 2;
    // The order is total, so that equals have the same bits.
    (!values.is_empty()).then(|| *values.select_nth_unstable_by(middle, f64::total_cmp).1)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_middle_one_or_the_upper_of_two() {
        assert_eq!(upper_median([3.0, 1.0, 2.0]), Some(2.0));
        assert_eq!(upper_median([4.0, 1.0, 3.0, 2.0]), Some(3.0));
        assert_eq!(upper_median([f64::NAN, 1.0, -f64::INFINITY]), Some(1.0));
        assert_eq!(upper_median([]), None);
    }
}
