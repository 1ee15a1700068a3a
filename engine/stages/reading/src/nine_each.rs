//! Every colour nine times: the cheapest way to give 54 readings their colours.

use pathfinding::kuhn_munkres::kuhn_munkres_min;
use pathfinding::matrix::Matrix;

/// Steps in which costs are told apart.
const STEPS: f64 = 1e9;
/// Costs beyond this, in steps, are all alike: sums of 54 stay within 64 bits.
const MOST: f64 = 1e17;

/// For each reading its colour, so that each colour is taken equally often and the
/// summed cost is least; `cost[reading][colour]`. Readings must be a multiple of six.
/// Costs are compared in steps of 10⁻⁹.
#[must_use]
pub fn nine_each(cost: &[[f64; 6]]) -> Vec<usize> {
    let each = cost.len() / 6;
    // The assignment wants whole numbers: a column for each place of a colour.
    let weight = |reading: usize, place: usize| {
        (cost[reading][place / each] * STEPS).clamp(-MOST, MOST).round() as i64
    };
    let cells = (0..cost.len()).flat_map(|r| (0..cost.len()).map(move |p| (r, p)));
    let weights: Vec<i64> = cells.map(|(r, p)| weight(r, p)).collect();
    let square = Matrix::from_vec(cost.len(), cost.len(), weights).expect("a square");
    let (_, places) = kuhn_munkres_min(&square);
    places.into_iter().map(|place| place / each).collect()
}
