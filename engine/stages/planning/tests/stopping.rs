//! Building the tables is a work that can be broken off, and that nobody waits for.

use core::time::Duration;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering::Relaxed};
use std::sync::{Arc, mpsc};

use dryturn_cube::random_state;
use dryturn_planning::{Objective, Planner, Weights};
use dryturn_units::noise::Seed;
use dryturn_units::stop::{Stop, Stopped};

const TIME: Objective = Objective::LeastTime(Weights::TWO_TO_THREE);

/// How often a work asks whether to stop, if nobody wants it to.
fn asked(work: impl FnOnce()) -> usize {
    let count = Arc::new(AtomicUsize::new(0));
    let counter = count.clone();
    let stop = Stop::new(move |_| {
        counter.fetch_add(1, Relaxed);
        false
    });
    assert_eq!(stop.watch(work), Ok(()));
    count.load(Relaxed)
}

/// The same work, with a yes to the question number `at`.
fn broken_off(at: usize, work: impl FnOnce()) -> Result<(), Stopped> {
    let count = AtomicUsize::new(0);
    Stop::new(move |_| count.fetch_add(1, Relaxed) >= at).watch(work)
}

/// Small tables are some tenths of a second's work: it asks hundreds of times, in all its parts.
/// Wherever it is broken off, nothing of it is kept, and the next one gives the same plans.
#[test]
fn building_small_tables_can_be_broken_off() {
    let tables = |planner: &Planner| {
        let _ = planner.serves(TIME);
    };
    let planner = Planner::new();
    let all = asked(|| tables(&planner));
    assert!(all > 400, "tables: {all}");
    assert_eq!(asked(|| tables(&planner)), 0, "they are kept");
    let ways = asked(|| planner.prepare(TIME));
    assert!(ways > 1000, "the ends of orienting: {ways}");
    let state = random_state(&mut Seed::new(2).stream("stop-test", 0, 0));
    let wanted = planner.plan(&state, TIME, 1000).plan;
    let planner = Planner::new();
    for at in [0, all / 10, all / 3, 2 * all / 3, all - 1] {
        assert_eq!(broken_off(at, || tables(&planner)), Err(Stopped), "question {at} of {all}");
    }
    assert_eq!(broken_off(all, || tables(&planner)), Ok(()));
    for at in [0, ways / 2, ways - 1] {
        assert_eq!(broken_off(at, || planner.prepare(TIME)), Err(Stopped), "{at} of {ways}");
    }
    assert_eq!(planner.plan(&state, TIME, 1000).plan, wanted);
}

/// While one thread builds tables another that asks for them does not wait for it: the first may
/// be waiting for the other's help.
#[test]
fn nobody_waits_for_who_builds_tables() {
    let (done, finished) = mpsc::channel();
    std::thread::spawn(move || {
        let planner = Arc::new(Planner::new());
        let (shared, asked) = (planner.clone(), AtomicBool::new(false));
        // In the midst of building.
        let stop = Stop::new(move |_| {
            if !asked.swap(true, Relaxed) {
                let other = shared.clone();
                let _ = std::thread::spawn(move || other.serves(TIME)).join();
            }
            false
        });
        let built = stop.watch(|| planner.prepare(TIME));
        let _ = done.send(built);
    });
    let built = finished.recv_timeout(Duration::from_secs(120));
    assert_eq!(built, Ok(Ok(())), "they wait for each other");
}
