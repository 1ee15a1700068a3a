//! Where a function of one number passes zero.

/// Halvings after which no bracket of doubles has a number left inside.
const MOST_HALVINGS: usize = 200;

/// A bracket of a root of an increasing function, from `[low, high]` by so many halvings: below
/// its lower end the function is below 0, from its upper end on it is not. Fewer where no
/// number is left inside.
#[must_use]
pub fn bracket_increasing(
    mut low: f64,
    mut high: f64,
    halvings: usize,
    f: impl Fn(f64) -> f64,
) -> [f64; 2] {
    for _ in 0..halvings {
        let middle = 0.5 * (low + high);
        if middle <= low || middle >= high {
            break;
        }
        if f(middle) < 0.0 {
            low = middle;
        } else {
            high = middle;
        }
    }
    [low, high]
}

/// A root of an increasing function in `[low, high]` by bisection, to the last
/// bit that the bracket can hold (at most 200 halvings).
#[must_use]
pub fn bisect_increasing(low: f64, high: f64, f: impl Fn(f64) -> f64) -> f64 {
    let [low, high] = bracket_increasing(low, high, MOST_HALVINGS, f);
    0.5 * (low + high)
}
