//! Least squares over simulated moves: numbers that all moves share, and each move's own.
//!
//! Levenberg's and Marquardt's damped steps (K. Levenberg, Quart. Appl. Math. 2, 1944; D. W.
//! Marquardt, SIAM J. Appl. Math. 11, 1963; from memory), each move's own numbers
//! eliminated first (Schur's complement). What is drawn only so surely is drawn towards its
//! drawing by its standard deviation.

use dryturn_numerics::{Cholesky, dot};

use super::drawn::Drawn;
use super::guess::Own;
use super::model::{MAIN, OWN, SHARED, Trip};

const MOST_ROUNDS: usize = 25;
const FIRST_ROUNDS: usize = 5;
/// A round that gains less than this share ends the search.
const GAIN_SHARE: f64 = 1e-5;
/// Steps for slopes: of shared numbers, and of a move's own.
const STEP: [f64; SHARED] =
    [3e-3, 3e-3, 3e-3, 3e-3, 0.03, 0.05, 0.05, 0.05, 0.05, 0.05, 0.02, 0.02, 0.05, 0.05, 0.02];
const OWN_STEP: [f64; OWN] = [2e-5, -1e-3, -1e-3, 5e-3, 0.05];
/// Damped steps and trials take turns until one gains less than this leaves, or so often.
const MOST_TURNS: usize = 6;
const TURN_SHARE: f64 = 0.995;
/// Trials of a move's own numbers.
const OWN_TRY: [f64; OWN] = [1e-4, 0.01, 0.01, 0.03, 0.5];
const TRIES: [f64; 5] = [3.0, 1.0, 0.3, 0.1, 1.0];
/// Weakly, for what a move may not tell: shares of speed and torque.
const SHARE_SIGMAS: [f64; 2] = [1.0, 0.03];

/// Where the fit pulls, and how hard: centre and standard deviation, of each shared number.
#[derive(Clone, Copy, Debug)]
pub(super) struct Pull {
    pub(super) centre: [f64; SHARED],
    pub(super) sigma: [f64; SHARED],
}

/// What is being looked for.
#[derive(Clone, Debug)]
pub(super) struct Guess {
    pub(super) shared: [f64; SHARED],
    pub(super) own: Vec<Own>,
}

/// A problem: moves, sigmas of angle and current by move, and pulls.
pub(super) struct Problem<'a> {
    pub(super) drawn: &'a Drawn,
    pub(super) trips: &'a [Trip],
    pub(super) sigmas: [f64; 2],
    pub(super) pull: Pull,
    /// Which shared numbers are free.
    pub(super) free: [bool; SHARED],
    /// As the moves' own were guessed first.
    pub(super) first: &'a [Own],
}

/// The equations of one move, its own numbers eliminated.
#[derive(Clone, Debug)]
pub(super) struct Part {
    /// `SHARED²`, row by row.
    pub(super) normal: Vec<f64>,
    pub(super) right: Vec<f64>,
    /// Back to its own numbers: `OWN × SHARED`, and `OWN`.
    back: Vec<f64>,
    step: Vec<f64>,
}

/// Residuals of every move.
pub(super) struct Seen {
    pub(super) residuals: Vec<Vec<f64>>,
    pub(super) cost: f64,
}

impl Problem<'_> {
    fn own_sigma(&self) -> [f64; OWN] {
        let friction = self.drawn.friction_spread_share.max(0.02);
        [f64::INFINITY, SHARE_SIGMAS[0], SHARE_SIGMAS[1], friction, 1.0]
    }

    fn own_off(&self, own: &Own, m: usize) -> [f64; OWN] {
        let first = &self.first[m].command;
        let (speed, torque) = (own.command.speed_share, own.command.torque_share);
        let sigma = self.own_sigma();
        [
            0.0,
            (speed - first.speed_share) / sigma[1],
            (torque - first.torque_share) / sigma[2],
            own.friction_off / sigma[3],
            own.wound_off,
        ]
    }

    /// Simulates all moves.
    pub(super) fn seen(&self, guess: &Guess) -> Seen {
        let mut residuals = Vec::with_capacity(self.trips.len());
        let mut cost = 0.0;
        for (m, (trip, own)) in self.trips.iter().zip(&guess.own).enumerate() {
            let left = trip.residuals(&trip.logged(self.drawn, &guess.shared, own), self.sigmas);
            cost += left.iter().map(|r| r * r).sum::<f64>();
            cost += self.own_off(own, m).iter().map(|off| off * off).sum::<f64>();
            residuals.push(left);
        }
        for k in 0..SHARED {
            let off = (guess.shared[k] - self.pull.centre[k]) / self.pull.sigma[k];
            cost += off * off;
        }
        Seen { residuals, cost: if cost.is_finite() { cost } else { f64::INFINITY } }
    }

    /// The equations of a move; `damping` on its own numbers.
    pub(super) fn part(&self, guess: &Guess, seen: &Seen, m: usize, damping: f64) -> Option<Part> {
        let (trip, own) = (&self.trips[m], &guess.own[m]);
        let here = &seen.residuals[m];
        let slope = |shared: &[f64; SHARED], own: &Own, by: f64| -> Vec<f64> {
            let there = trip.residuals(&trip.logged(self.drawn, shared, own), self.sigmas);
            // Of what is simulated, hence the sign.
            here.iter().zip(there).map(|(a, b)| (a - b) / by).collect()
        };
        let across: Vec<Vec<f64>> = (0..SHARED)
            .map(|k| {
                if !self.free[k] {
                    return vec![0.0; here.len()];
                }
                let mut shared = guess.shared;
                shared[k] += STEP[k];
                slope(&shared, own, STEP[k])
            })
            .collect();
        let mut along: Vec<Vec<f64>> = (0..OWN)
            .map(|k| slope(&guess.shared, &own.stepped(k, OWN_STEP[k]), OWN_STEP[k]))
            .collect();
        // At the highest speed there is no higher one.
        if own.command.speed_share >= 1.0 && dot(&along[1], here) > 0.0 {
            along[1].iter_mut().for_each(|slope| *slope = 0.0);
        }
        let sigma = self.own_sigma();
        let off = self.own_off(own, m);
        let mut inner = vec![0.0; OWN * OWN];
        for i in 0..OWN {
            for j in 0..OWN {
                inner[i * OWN + j] = dot(&along[i], &along[j]);
            }
            inner[i * OWN + i] += 1.0 / (sigma[i] * sigma[i]);
            inner[i * OWN + i] *= 1.0 + damping;
        }
        let inner = Cholesky::of(inner, OWN)?;
        let right_own: Vec<f64> =
            (0..OWN).map(|i| dot(&along[i], here) - off[i] / sigma[i]).collect();
        let step = inner.solve(&right_own);
        let mut back = vec![0.0; OWN * SHARED];
        let mixed: Vec<Vec<f64>> =
            across.iter().map(|a| along.iter().map(|c| dot(a, c)).collect()).collect();
        for k in 0..SHARED {
            let column = inner.solve(&mixed[k]);
            (0..OWN).for_each(|i| back[i * SHARED + k] = column[i]);
        }
        let mut normal = vec![0.0; SHARED * SHARED];
        let mut right = vec![0.0; SHARED];
        for i in 0..SHARED {
            for j in 0..SHARED {
                let less: f64 = (0..OWN).map(|o| mixed[i][o] * back[o * SHARED + j]).sum();
                normal[i * SHARED + j] = dot(&across[i], &across[j]) - less;
            }
            right[i] = dot(&across[i], here) - dot(&mixed[i], &step);
        }
        Some(Part { normal, right, back, step })
    }

    /// Sums of the moves' equations with the pulls; what is not free stands still.
    pub(super) fn whole<'b>(
        &self,
        parts: impl Iterator<Item = &'b Part>,
        shared: &[f64; SHARED],
    ) -> (Vec<f64>, Vec<f64>) {
        let mut normal = vec![0.0; SHARED * SHARED];
        let mut right = vec![0.0; SHARED];
        for part in parts {
            normal.iter_mut().zip(&part.normal).for_each(|(sum, own)| *sum += own);
            right.iter_mut().zip(&part.right).for_each(|(sum, own)| *sum += own);
        }
        for k in 0..SHARED {
            let weight = 1.0 / (self.pull.sigma[k] * self.pull.sigma[k]);
            normal[k * SHARED + k] += weight;
            right[k] -= weight * (shared[k] - self.pull.centre[k]);
            if !self.free[k] {
                normal[k * SHARED + k] += 1.0;
                right[k] = 0.0;
            }
        }
        (normal, right)
    }

    /// The nearest from a guess on: damped steps, and where those find no more, each move's own
    /// numbers by trial, in turns.
    pub(super) fn solved(&self, mut guess: Guess) -> Option<(Guess, Seen)> {
        let mut last = f64::INFINITY;
        for _ in 0..MOST_TURNS {
            let (next, seen) = self.descended(guess, MOST_ROUNDS)?;
            guess = next;
            if seen.cost > TURN_SHARE * last {
                return Some((guess, seen));
            }
            last = seen.cost;
            self.tried(&mut guess);
        }
        self.descended(guess, MOST_ROUNDS)
    }

    /// A few steps, to see which start is best.
    pub(super) fn begun(&self, mut guess: Guess) -> Option<(Guess, Seen)> {
        self.tried(&mut guess);
        self.descended(guess, FIRST_ROUNDS)
    }

    /// Each move's own numbers, one after the other, a little to either side: what kinks in
    /// the course hide from slopes.
    fn tried(&self, guess: &mut Guess) {
        for (m, trip) in self.trips.iter().enumerate() {
            let cost = |own: &Own| {
                let left =
                    trip.residuals(&trip.logged(self.drawn, &guess.shared, own), self.sigmas);
                let off = self.own_off(own, m);
                left.iter().chain(&off).map(|r| r * r).sum::<f64>()
            };
            let mut best = (cost(&guess.own[m]), guess.own[m]);
            for scale in TRIES {
                for (k, size) in OWN_TRY.into_iter().enumerate() {
                    for by in [scale, -scale] {
                        let own = best.1.stepped(k, by * size);
                        let there = cost(&own);
                        if there < best.0 {
                            best = (there, own);
                        }
                    }
                }
            }
            guess.own[m] = best.1;
        }
    }

    fn descended(&self, mut guess: Guess, rounds: usize) -> Option<(Guess, Seen)> {
        let mut seen = self.seen(&guess);
        let mut damping = 1e-2;
        for _ in 0..rounds {
            let before = seen.cost;
            let mut better = false;
            for _ in 0..6 {
                let parts = (0..self.trips.len()).map(|m| self.part(&guess, &seen, m, damping));
                let parts = parts.collect::<Option<Vec<_>>>()?;
                let (mut normal, right) = self.whole(parts.iter(), &guess.shared);
                (0..SHARED).for_each(|k| normal[k * SHARED + k] *= 1.0 + damping);
                let step = Cholesky::of(normal, SHARED)?.solve(&right);
                let next = self.stepped(&guess, &parts, &step);
                let there = self.seen(&next);
                if there.cost < seen.cost {
                    (guess, seen) = (next, there);
                    damping = (damping * 0.2).max(1e-7);
                    better = true;
                    break;
                }
                damping *= 8.0;
            }
            if !better || before - seen.cost < GAIN_SHARE * before {
                break;
            }
        }
        seen.cost.is_finite().then_some((guess, seen))
    }

    fn stepped(&self, guess: &Guess, parts: &[Part], step: &[f64]) -> Guess {
        let mut next = guess.clone();
        next.shared.iter_mut().zip(step).for_each(|(own, by)| *own += by);
        next.shared[0] = next.shared[0].max(0.05);
        (MAIN..SHARED).for_each(|k| next.shared[k] = next.shared[k].clamp(-5.0, 5.0));
        for ((own, part), trip) in next.own.iter_mut().zip(parts).zip(self.trips) {
            let mut moved = *own;
            for k in 0..OWN {
                let less: f64 = (0..SHARED).map(|s| part.back[k * SHARED + s] * step[s]).sum();
                let by = part.step[k] - less;
                let most = [trip.cut.step_s, 0.1, 0.1, 0.3, 2.0][k];
                moved = moved.stepped(k, by.clamp(-most, most));
            }
            *own = moved;
        }
        next
    }
}
