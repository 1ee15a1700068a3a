//! Pieces of a long work that are kept when they are done, so that the work goes on where it
//! was broken off, with the same results to the bit.
//!
//! A piece is a list of results; pieces are numbered in the order in which the work comes to
//! them, which is the same every time.

use std::sync::atomic::{AtomicUsize, Ordering};

use super::stored::Stored;

/// Keeps pieces for whoever starts a work.
pub trait Keeper: Sync {
    /// The piece of this number as it was kept; `None` where it was not, or is damaged.
    fn recall(&self, piece: usize) -> Option<Vec<u8>>;

    /// Told that so many results of a piece are taken as they were kept.
    fn recalled(&self, _items: usize) {}

    /// Keeps a piece of so many results; whether the work goes on.
    fn keep(&self, piece: usize, bytes: &[u8], items: usize) -> bool;
}

/// The pieces of one work, counted as it comes to them.
pub struct NumberedPieces<'a> {
    keeper: &'a dyn Keeper,
    next: AtomicUsize,
}

impl<'a> NumberedPieces<'a> {
    /// From the first one on.
    #[must_use]
    pub fn of(keeper: &'a dyn Keeper) -> Self {
        Self { keeper, next: AtomicUsize::new(0) }
    }

    /// The next piece, of so many results: as it was kept, or made and kept; whether it is
    /// kept, beside it. `None` where it was broken off.
    pub(crate) fn next<T: Stored>(
        &self,
        count: usize,
        make: impl FnOnce() -> Option<Vec<T>>,
    ) -> Option<(Vec<T>, bool)> {
        let piece = self.next.fetch_add(1, Ordering::Relaxed);
        let kept = self.keeper.recall(piece).and_then(|bytes| T::read_all(&bytes));
        if let Some(all) = kept.filter(|all| all.len() == count) {
            self.keeper.recalled(count);
            return Some((all, true));
        }
        let all = make()?;
        let mut bytes = Vec::new();
        all.iter().for_each(|one| one.store(&mut bytes));
        self.keeper.keep(piece, &bytes, count).then_some((all, false))
    }
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;
    use std::ops::ControlFlow;
    use std::sync::{Arc, Mutex};

    use dryturn_cube::notation;
    use dryturn_handoff::Plan;
    use dryturn_scene::Scene;
    use dryturn_units::noise::Seed;

    use super::*;
    use crate::TurningDrill;
    use dryturn_rehearsal::Rehearser;

    #[derive(Default)]
    struct Kept(Mutex<BTreeMap<usize, Vec<u8>>>);

    impl Keeper for Kept {
        fn recall(&self, piece: usize) -> Option<Vec<u8>> {
            self.0.lock().unwrap().get(&piece).cloned()
        }

        fn keep(&self, piece: usize, bytes: &[u8], _: usize) -> bool {
            self.0.lock().unwrap().insert(piece, bytes.to_vec());
            true
        }
    }

    /// A drill that is broken off, whose record is then damaged, ends up the same.
    #[test]
    fn a_drill_goes_on() {
        let text = std::fs::read_to_string("../../../scenes/foyer_morning.ron").unwrap();
        let scene = Arc::new(Scene::parse(&text, "foyer_morning.ron").unwrap());
        let plans = Arc::new(vec![Plan::of_turns(&notation::parse("R").unwrap())]);
        let rehearser = Rehearser::new(Seed::new(4));
        let go_on = |_| ControlFlow::Continue(());
        let whole = TurningDrill::of(&rehearser, &scene, &plans, 200, &go_on).unwrap();
        let kept = Kept::default();
        let drill = |progress: &(dyn Fn(usize) -> ControlFlow<()> + Sync)| {
            let pieces = NumberedPieces::of(&kept);
            TurningDrill::kept(&rehearser, &scene, &plans, 200, progress, &pieces)
        };
        let ends =
            |done| if done < 150 { ControlFlow::Continue(()) } else { ControlFlow::Break(()) };
        assert!(drill(&ends).is_none());
        assert!((1..4).contains(&kept.0.lock().unwrap().len()));
        kept.0.lock().unwrap().insert(0, vec![1, 2, 3]);
        assert_eq!(drill(&go_on).unwrap().executions, whole.executions);
        // All of it is there now.
        assert_eq!(kept.0.lock().unwrap().len(), 4);
        assert_eq!(drill(&go_on).unwrap().executions, whole.executions);
    }
}
