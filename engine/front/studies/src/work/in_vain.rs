//! Trials in which guests play: a guest that never answers does not cost all of them their limit.

use dryturn_guests::Invited;
use dryturn_units::stop::carried;
use rayon::prelude::*;

/// Where guests play and no answer came in time in any of so many first trials, the others are left
/// out: each of them would wait as long.
const TRIED: usize = 5;

/// Runs trials 0 to `count` − 1 on all threads; the first few alone where guests play and these were
/// all `in_vain`. `None` where somebody broke them off.
///
/// # Errors
/// The first trial's that has one, in order of number.
pub(crate) fn all_unless_in_vain<T: Send, E: Send>(
    count: usize,
    invited: &Invited,
    trial: impl Fn(usize) -> Result<Option<T>, E> + Sync,
    in_vain: impl Fn(&T) -> bool,
) -> Result<Option<Vec<T>>, E> {
    let some = |from: usize, to: usize| -> Result<Option<Vec<T>>, E> {
        let trials: Vec<Result<Option<T>, E>> =
            (from..to).into_par_iter().map(carried(&trial)).collect();
        trials.into_iter().collect()
    };
    let tried = if invited.anybody() { TRIED.min(count) } else { 0 };
    let Some(mut trials) = some(0, tried)? else { return Ok(None) };
    if tried == 0 || !trials.iter().all(in_vain) {
        let Some(others) = some(tried, count)? else { return Ok(None) };
        trials.extend(others);
    }
    Ok(Some(trials))
}

#[cfg(test)]
mod tests {
    use std::convert::Infallible;

    use super::*;

    #[test]
    fn the_others_are_left_out_where_the_first_were_in_vain() {
        let trial = |number: usize| Ok::<_, Infallible>(Some(number));
        let played = |invited: &Invited, in_vain: &dyn Fn(&usize) -> bool| {
            all_unless_in_vain(12, invited, trial, in_vain).unwrap().unwrap()
        };
        let all: Vec<usize> = (0..12).collect();
        let guests = Invited { of_scenes: true, ..Invited::default() };
        assert_eq!(played(&guests, &|_| true), all[..TRIED]);
        assert_eq!(played(&guests, &|number| *number != 4), all);
        assert_eq!(played(&guests, &|_| false), all);
        // Where nobody may play there is nobody to wait for.
        assert_eq!(played(&Invited::default(), &|_| true), all);
        let stopped = |number: usize| Ok::<_, Infallible>((number < 7).then_some(number));
        assert_eq!(all_unless_in_vain(12, &guests, stopped, |_| false), Ok(None));
    }
}
