//! Minima of a function of one number.

/// What is left of a section by the golden ratio.
const GOLDEN: f64 = 0.618_033_988_749_894_9;

/// Golden sections of a range, so many (J. Kiefer, Proc. AMS 4, 1953): the two inner points of
/// what is left, each with its value. Of a function that falls to a minimum and rises from there,
/// what is left holds it, and is `0.618^sections` of the range.
pub fn golden_section(
    mut from: f64,
    mut to: f64,
    sections: usize,
    of: impl Fn(f64) -> f64,
) -> [(f64, f64); 2] {
    let lower = |from: f64, to: f64| to - GOLDEN * (to - from);
    let upper = |from: f64, to: f64| from + GOLDEN * (to - from);
    let valued = |at: f64| (at, of(at));
    let mut inner = [valued(lower(from, to)), valued(upper(from, to))];
    for _ in 0..sections {
        if inner[0].1 <= inner[1].1 {
            to = inner[1].0;
            inner = [valued(lower(from, to)), inner[0]];
        } else {
            from = inner[0].0;
            inner = [inner[1], valued(upper(from, to))];
        }
    }
    inner
}
