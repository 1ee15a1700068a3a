//! What a plan is made of: single turns, or beats with a cost.
//!
//! A *step* is what the search does at once. For the fewest turns it is one turn of
//! cost 1; for the least machine time it is a beat (one face, or two opposite faces
//! that run together) that costs what the slower of its turns costs.

use dryturn_cube::{ALL_TURNS, Amount, Face, Turn};

/// What a beat costs, in any unit: the time from its start to the start of the next.
/// A half turn costs from one to two quarter turns; beyond that two beats of one
/// axis in a row could be cheaper than one, and they are never tried.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Weights {
    /// A beat of quarter turns.
    pub quarter: u32,
    /// A beat with a half turn in it.
    pub half: u32,
}

impl Weights {
    /// Half turns cost one and a half quarter turns: what tables are built for.
    pub const TWO_TO_THREE: Self = Self { quarter: 2, half: 3 };

    /// Small whole numbers whose ratio is near to that of half and quarter turns' times,
    /// 1 to 2: a half turn can always be made as two quarter turns, so it never costs
    /// more. What is no number counts as 1.
    #[must_use]
    pub fn of_ratio(half_per_quarter: f64) -> Self {
        let number = if half_per_quarter.is_nan() { 1.0 } else { half_per_quarter };
        let wanted = number.clamp(1.0, 2.0);
        let near =
            |quarter: u32| Self { quarter, half: (f64::from(quarter) * wanted).round() as u32 };
        let off =
            |weights: &Self| (f64::from(weights.half) / f64::from(weights.quarter) - wanted).abs();
        // The first of equals: the smallest numbers.
        (2..=5).map(near).min_by(|a, b| off(a).total_cmp(&off(b))).unwrap_or(Self::TWO_TO_THREE)
    }

    /// The weights to search with where half turns take so many quarter turns' time: 2 to 3
    /// from 1.25 to 1.75. Tables are built for these; others, though nearer to the ratio,
    /// take more time to search with than their plans save (measured).
    #[must_use]
    pub fn to_search(half_per_quarter: f64) -> Self {
        if (1.25..=1.75).contains(&half_per_quarter) {
            Self::TWO_TO_THREE
        } else {
            Self::of_ratio(half_per_quarter)
        }
    }

    /// Cost of one turn alone.
    #[must_use]
    pub fn of(self, turn: Turn) -> u32 {
        if turn.amount == Amount::Half { self.half } else { self.quarter }
    }

    /// Cost of a beat: of its slower turn.
    #[must_use]
    pub fn of_beat(self, turns: impl IntoIterator<Item = Turn>) -> u32 {
        turns.into_iter().map(|turn| self.of(turn)).max().unwrap_or(0)
    }
}

/// One step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct Step {
    pub(crate) first: Turn,
    /// The opposite face, in a beat of two.
    pub(crate) second: Option<Turn>,
    pub(crate) cost: u32,
}

impl Step {
    pub(crate) fn turns(&self) -> impl Iterator<Item = Turn> + use<> {
        core::iter::once(self.first).chain(self.second)
    }

    /// Whether arranging can make it: it keeps the subgroup of U, D and half turns.
    pub(crate) fn in_subgroup(&self) -> bool {
        self.turns().all(|turn| turn.face.same_axis(Face::U) || turn.amount == Amount::Half)
    }
}

/// One turn as a step.
pub(crate) fn alone(turn: Turn) -> Step {
    Step { first: turn, second: None, cost: 1 }
}

/// All steps of an objective, and which may follow which.
pub(crate) struct StepSet {
    pub(crate) steps: Vec<Step>,
    /// `after[class]`: steps worth trying after a step of that class, by number;
    /// the last class stands for the start.
    after: Vec<Vec<u8>>,
    /// Class of each step.
    class: Vec<u8>,
    /// Those of arranging.
    after_in_subgroup: Vec<Vec<u8>>,
}

/// Faces in the order of their index, one of each axis first.
fn axis(face: Face) -> usize {
    face.index() % 3
}

impl StepSet {
    fn new(
        steps: Vec<Step>,
        classes: usize,
        class: Vec<u8>,
        wasted: fn(u8, &Step) -> bool,
    ) -> Self {
        let follow = |class: usize, keep: &dyn Fn(&Step) -> bool| {
            let worth =
                |step: &Step| (class == classes || !wasted(class as u8, step)) && keep(step);
            (0..steps.len()).filter(|&i| worth(&steps[i])).map(|i| i as u8).collect()
        };
        Self {
            after: (0..=classes).map(|class| follow(class, &|_| true)).collect(),
            after_in_subgroup: (0..=classes).map(|c| follow(c, &Step::in_subgroup)).collect(),
            steps,
            class,
        }
    }

    /// The 18 turns. Of two turns of opposite faces in a row only one order is tried.
    pub(crate) fn turns() -> Self {
        let steps = ALL_TURNS.map(alone);
        let class = ALL_TURNS.iter().map(|turn| turn.face.index() as u8).collect();
        Self::new(steps.to_vec(), 6, class, |last, step| {
            let (last, next) = (usize::from(last), step.first.face.index());
            last == next || (last % 3 == next % 3 && last > next)
        })
    }

    /// The 45 beats, at the costs that tables are built for. No axis comes twice in a row: that
    /// would be one beat.
    pub(crate) fn beats() -> Self {
        let cost = |turns: &[Turn]| Weights::TWO_TO_THREE.of_beat(turns.iter().copied());
        let single = |first: Turn| Step { first, second: None, cost: cost(&[first]) };
        let pair = |first: Turn, second: Turn| Step {
            first,
            second: Some(second),
            cost: cost(&[first, second]),
        };
        let mut steps: Vec<Step> = ALL_TURNS.into_iter().map(single).collect();
        for first in ALL_TURNS.into_iter().filter(|turn| turn.face.index() < 3) {
            let opposite = first.face.opposite();
            steps.extend(Amount::ALL.map(|amount| pair(first, Turn { face: opposite, amount })));
        }
        let class = steps.iter().map(|step| axis(step.first.face) as u8).collect();
        Self::new(steps, 3, class, |last, step| usize::from(last) == axis(step.first.face))
    }

    /// Class of "nothing yet".
    pub(crate) fn start(&self) -> u8 {
        (self.after.len() - 1) as u8
    }

    pub(crate) fn class(&self, step: u8) -> u8 {
        self.class[usize::from(step)]
    }

    /// Class of the last of a path's steps.
    #[inline]
    pub(crate) fn class_of(&self, path: &[u8]) -> u8 {
        path.last().map_or(self.start(), |&step| self.class(step))
    }

    /// Steps worth trying after a class.
    pub(crate) fn after(&self, class: u8) -> &[u8] {
        &self.after[usize::from(class)]
    }

    /// The same as a set: bit `step` is set.
    pub(crate) fn allowed(&self, class: u8) -> u64 {
        self.after(class).iter().fold(0, |set, &step| set | 1 << step)
    }

    /// The same, within the subgroup that is arranged.
    pub(crate) fn after_in_subgroup(&self, class: u8) -> &[u8] {
        &self.after_in_subgroup[usize::from(class)]
    }

    /// The turns of a path of steps, first to last.
    pub(crate) fn turns_of(&self, path: &[u8]) -> Vec<Turn> {
        path.iter().flat_map(|&step| self.steps[usize::from(step)].turns()).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn ratios_become_small_numbers() {
        let of = |ratio| {
            let Weights { quarter, half } = Weights::of_ratio(ratio);
            (quarter, half)
        };
        assert_eq!([of(1.5), of(1.4), of(1.34), of(2.0)], [(2, 3), (5, 7), (3, 4), (2, 4)]);
        assert_eq!([of(9.0), of(f64::NAN)], [(2, 4), (2, 2)]);
        for ratio in [1.25, 1.38, 1.5, 1.75] {
            assert_eq!(Weights::to_search(ratio), Weights::TWO_TO_THREE);
        }
        for ratio in [1.0, 1.2, 1.8, 2.0, f64::NAN] {
            assert_eq!(Weights::to_search(ratio), Weights::of_ratio(ratio));
        }
    }

    /// 18 single turns and 27 pairs: 24 of quarter turns alone.
    #[test]
    fn there_are_45_beats() {
        let set = StepSet::beats();
        assert_eq!(set.steps.len(), 45);
        assert_eq!(set.steps.iter().filter(|step| step.cost == 2).count(), 24);
        assert_eq!(set.after(set.start()).len(), 45);
        assert!((0..45).all(|step| set.after(set.class(step)).len() == 30));
        assert_eq!(set.after_in_subgroup(set.start()).len(), 21);
    }

    /// As many pairs of turns as there are states at distance two (OEIS A080601,
    /// second term after the solved cube: 243).
    #[test]
    fn sequences_of_turns_are_not_repeated() {
        let set = StepSet::turns();
        let followers: usize = (0..18).map(|step| set.after(set.class(step)).len()).sum();
        assert_eq!(followers, 243);
    }
}
