//! What a beat costs after another: by simulated rows of beats on a rig without errors,
//! whatever the hand-over's policy makes of them. It predicts a plan's time to a part in
//! 300 without simulating it.

use dryturn_cube::{Amount, Face, Turn};
use dryturn_handoff::{Beat, End, Plan};

use super::Timing;
use crate::control::kind;

/// Beats of a row: all faces twice, each kind in every place.
const BEATS: usize = 12;
/// What is charged for a turn that does not get past the one before it, µs: a second, more
/// than any plan that avoids it.
pub const STUCK_US: u32 = 1_000_000;

/// Times of beats in a row on one drive if nothing is off, µs, whole numbers so that sums
/// compare alike everywhere. By half or quarter turn, `[quarter, half]`, and by sense: two
/// turns have the same where both are clockwise or both anticlockwise, each seen from
/// outside its own face; a half turn is clockwise.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Transitions {
    /// From the first command to the first start.
    pub first_us: u32,
    /// `[first kind][second kind][0: opposite senses, 1: the same]`: from the start of a turn
    /// to the start of one in the next beat. Beats of two wait for the slowest of all pairs.
    pub between_us: [[[u32; 2]; 2]; 2],
    /// What a beat of two takes longer than its slower turn alone, `[quarter turns, with a
    /// half turn]`; negative where it is quicker.
    pub pair_us: [i32; 2],
    /// From the start of the last beat's turn to its stop.
    pub last_us: [u32; 2],
}

fn clockwise(turn: Turn) -> bool {
    turn.amount != Amount::Counter
}

impl Transitions {
    /// From the start of a beat to the start of the next, µs.
    #[must_use]
    pub fn between_us(&self, beat: &Beat, next: &Beat) -> u32 {
        let pairs = beat.turns.iter().flat_map(|a| next.turns.iter().map(move |b| (*a, *b)));
        let slowest = pairs.map(|(a, b)| {
            let same = usize::from(clockwise(a) == clockwise(b));
            self.between_us[kind(a.amount)][kind(b.amount)][same]
        });
        slowest.max().unwrap_or(0).saturating_add_signed(self.longer_us(beat))
    }

    /// What a beat takes longer for being one of two, µs.
    fn longer_us(&self, beat: &Beat) -> i32 {
        let half = beat.turns.iter().map(|turn| kind(turn.amount)).max().unwrap_or(0);
        if beat.turns.len() > 1 { self.pair_us[half] } else { 0 }
    }

    /// From the first command to the last stop, µs.
    #[must_use]
    pub fn total_us(&self, plan: &Plan) -> u32 {
        let Some(last) = plan.beats.last() else { return 0 };
        let rows = plan.beats.windows(2).map(|row| self.between_us(&row[0], &row[1]));
        let slowest =
            last.turns.iter().map(|turn| self.last_us[kind(turn.amount)]).max().unwrap_or(0);
        rows.fold(self.first_us + slowest, u32::saturating_add)
            .saturating_add_signed(self.longer_us(last))
    }
}

/// What alternates in a row.
#[derive(Clone, Copy)]
struct Row {
    /// Whether the even and the odd beats are half turns.
    halves: [bool; 2],
    /// Whether neighbouring turns have the same sense.
    same: bool,
    /// Whether opposite faces turn together.
    pairs: bool,
}

/// What a row took, s.
struct Took {
    first_s: f64,
    /// From start to start: from even beats and from odd ones.
    between_s: [f64; 2],
    /// From the start of the last beat to its stop.
    last_s: f64,
}

impl Row {
    fn amount(&self, place: usize) -> Amount {
        let odd = place % 2;
        // A half turn is always clockwise, so its neighbour is what turns the other way.
        match self.halves[odd] {
            true => Amount::Half,
            false if !self.same && (self.halves[1 - odd] || odd == 1) => Amount::Counter,
            false => Amount::Clockwise,
        }
    }

    fn plan(&self) -> Plan {
        let beat = |place: usize| {
            let amount = self.amount(place);
            let face = [Face::U, Face::R, Face::F][place % 3];
            let faces = [face, face.opposite()];
            let turns = faces[..1 + usize::from(self.pairs)].iter();
            Beat { turns: turns.map(|&face| Turn { face, amount }).collect() }
        };
        Plan { beats: (0..BEATS).map(beat).collect() }
    }
}

impl Timing {
    fn took(&self, row: Row) -> Option<Took> {
        let run = self.run(&row.plan());
        let last = run.beats.last().filter(|_| run.end == End::Completed)?;
        let mean_s = |odd: usize| {
            let steps: Vec<f64> = run
                .beats
                .windows(2)
                .skip(odd)
                .step_by(2)
                .map(|beats| beats[1].start_s() - beats[0].start_s())
                .collect();
            steps.iter().sum::<f64>() / steps.len() as f64
        };
        Some(Took {
            first_s: run.beats[0].start_s(),
            between_s: [mean_s(0), mean_s(1)],
            last_s: last.stop_s() - last.start_s(),
        })
    }

    /// What beats cost after one another, from simulated rows of twelve beats: quarter
    /// turns, half turns, both in turn, of the same sense and of opposite ones, and pairs.
    /// What this drive does not get through costs [`STUCK_US`].
    #[must_use]
    pub fn transitions(&self) -> Transitions {
        let row =
            |halves: [bool; 2], same: bool, pairs: bool| self.took(Row { halves, same, pairs });
        let us = |seconds: f64| (seconds * 1e6).round() as u32;
        let between = |took: &Option<Took>| {
            took.as_ref().map_or([STUCK_US; 2], |took| took.between_s.map(us))
        };
        let [quarters, halves] = [false, true].map(|half| row([half; 2], true, false));
        let last = |took: &Option<Took>| took.as_ref().map_or(STUCK_US, |took| us(took.last_s));
        let mut table = Transitions {
            first_us: quarters.as_ref().map_or(0, |took| us(took.first_s)),
            between_us: [[[0; 2]; 2]; 2],
            pair_us: [0; 2],
            last_us: [last(&quarters), last(&halves)],
        };
        for same in [false, true] {
            let mixed = between(&row([false, true], same, false));
            let alike =
                if same { between(&quarters) } else { between(&row([false; 2], same, false)) };
            let own = usize::from(same);
            table.between_us[0][0][own] = (alike[0] + alike[1]) / 2;
            table.between_us[0][1][own] = mixed[0];
            table.between_us[1][0][own] = mixed[1];
            // Half turns are all clockwise.
            let both = between(&halves);
            table.between_us[1][1][own] = (both[0] + both[1]) / 2;
        }
        for (half, alone) in [quarters, halves].into_iter().enumerate() {
            let both = row([half == 1; 2], true, true);
            if let (Some(alone), Some(both)) = (alone, both) {
                let longer_s =
                    both.between_s[0] + both.between_s[1] - alone.between_s[0] - alone.between_s[1];
                table.pair_us[half] = (0.5e6 * longer_s).round() as i32;
            }
        }
        table
    }
}

#[cfg(test)]
mod tests {
    use dryturn_cube::notation;

    use super::*;

    const TIMES: Transitions = Transitions {
        first_us: 1000,
        between_us: [[[50, 40], [51, 41]], [[80, 70], [81, 71]]],
        pair_us: [3, -2],
        last_us: [60, 90],
    };

    fn total(turns: &str) -> u32 {
        TIMES.total_us(&Plan::of_turns(&notation::parse(turns).unwrap()))
    }

    #[test]
    fn beats_add_up() {
        assert_eq!((total(""), total("R"), total("R2"), total("R L")), (0, 1060, 1090, 1063));
        // Same sense, opposite senses; a half turn is clockwise.
        assert_eq!((total("R U"), total("R U'"), total("R' U'")), (1100, 1110, 1100));
        assert_eq!((total("R2 U"), total("R2 U'"), total("R U2")), (1130, 1140, 1131));
        // Of a beat of two the slower pair counts, and what pairs take longer.
        assert_eq!((total("R L' U"), total("U R L'")), (1113, 1113));
        assert_eq!(total("R2 L U"), 1000 + 70 - 2 + 60);
    }
}
