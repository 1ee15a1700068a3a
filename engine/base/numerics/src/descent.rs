//! Damped least squares (K. Levenberg, Quart. Appl. Math. 2, 1944; D. W. Marquardt, SIAM J. Appl.
//! Math. 11, 1963; from memory): steps of Gauss and Newton where those gain, shorter and steeper
//! ones where they do not.

use crate::NormalEquations;

/// Damping at the start; above so much no step is tried. A step that gains makes it a tenth, one
/// that does not ten times as much.
const FIRST_DAMPING: f64 = 1e-3;
const MOST_DAMPING: f64 = 1e12;

/// A sum of squares to be made least.
pub trait LeastSquares {
    /// A place: all that is sought.
    type At;

    /// The sum of squares at a place; `None` where there is none.
    fn sum(&self, at: &Self::At) -> Option<f64>;

    /// The equations of a step from a place; `None` where there are none.
    fn equations(&self, at: &Self::At) -> Option<NormalEquations>;

    /// The place a step away; `None` where it is none.
    fn moved(&self, at: &Self::At, step: &[f64]) -> Option<Self::At>;
}

/// When a descent ends.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rules {
    /// Rounds at most, each with equations of its own.
    pub most_rounds: usize,
    /// A round that gains no more than this share of the sum is the last.
    pub settled_share: f64,
    /// Damping does not fall below this; 0 or more. More than 0 where unknowns may be as good
    /// as open.
    pub least_damping: f64,
}

/// The least sum of squares near a place, and where it is. `None` where the start has no sum, or
/// a place on the way no equations.
pub fn descend<P: LeastSquares>(problem: &P, start: P::At, rules: &Rules) -> Option<(P::At, f64)> {
    let mut sum = problem.sum(&start)?;
    let mut at = start;
    let mut damping = FIRST_DAMPING;
    for _ in 0..rules.most_rounds {
        let equations = problem.equations(&at)?;
        let mut better = None;
        while better.is_none() && damping < MOST_DAMPING {
            better = equations.damped(damping).and_then(|step| {
                let next = problem.moved(&at, &step)?;
                let next_sum = problem.sum(&next)?;
                (next_sum <= sum).then_some((next, next_sum))
            });
            damping = if better.is_some() {
                (damping * 0.1).max(rules.least_damping)
            } else {
                damping * 10.0
            };
        }
        let Some((next, next_sum)) = better else { break };
        let settled = sum - next_sum <= rules.settled_share * sum;
        (at, sum) = (next, next_sum);
        if settled {
            break;
        }
    }
    Some((at, sum))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// H. H. Rosenbrock's valley (Comput. J. 3, 1960; from memory): squares of `10 (y − x²)` and
    /// `1 − x`, least, 0, at (1, 1). There is no place beyond `wall`.
    struct Valley {
        wall: f64,
    }

    impl LeastSquares for Valley {
        type At = [f64; 2];

        fn sum(&self, [x, y]: &[f64; 2]) -> Option<f64> {
            let (a, b) = (10.0 * (y - x * x), 1.0 - x);
            Some(a * a + b * b)
        }

        fn equations(&self, [x, y]: &[f64; 2]) -> Option<NormalEquations> {
            let mut equations = NormalEquations::new(2);
            equations.add(&[[-20.0 * x, -1.0], [10.0, 0.0]], [-10.0 * (y - x * x), x - 1.0]);
            Some(equations)
        }

        fn moved(&self, [x, y]: &[f64; 2], step: &[f64]) -> Option<[f64; 2]> {
            let next = [x + step[0], y + step[1]];
            (next[0] < self.wall).then_some(next)
        }
    }

    const RULES: Rules = Rules { most_rounds: 200, settled_share: 1e-15, least_damping: 0.0 };

    #[test]
    fn a_valley_is_followed_to_its_end() {
        let ([x, y], sum) = descend(&Valley { wall: 9.0 }, [-1.2, 1.0], &RULES).unwrap();
        assert!((x - 1.0).abs() < 1e-7 && (y - 1.0).abs() < 1e-7 && sum < 1e-14, "{x} {y} {sum}");
    }

    /// Steps that lead nowhere are damped, and what is reached is no worse than the start.
    #[test]
    fn a_wall_is_not_passed() {
        let valley = Valley { wall: 0.5 };
        let (at, sum) = descend(&valley, [-1.2, 1.0], &RULES).unwrap();
        assert!(at[0] < 0.5 && sum <= valley.sum(&[-1.2, 1.0]).unwrap(), "{at:?} {sum}");
        let none = Rules { most_rounds: 0, ..RULES };
        assert_eq!(descend(&valley, [-1.2, 1.0], &none).unwrap().0, [-1.2, 1.0]);
    }
}
