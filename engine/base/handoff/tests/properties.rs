//! What holds of every plan, beat, load, trace and log. What is told in words has `words.rs`,
//! readings and maps have `readings.rs`.

use dryturn_cube::{ALL_TURNS, CubeState, Turn, notation};
use dryturn_handoff::{
    AngleBudget, AxisLoad, AxisLog, BeatRun, CameraFound, Energy, Plan, RunLog, Trace, TurnRun,
};
use dryturn_units::table;
use proptest::prelude::*;

fn cases(cases: u32) -> ProptestConfig {
    ProptestConfig { cases, failure_persistence: None, ..ProptestConfig::default() }
}

fn turn() -> impl Strategy<Value = Turn> {
    prop::sample::select(ALL_TURNS.to_vec())
}

/// By place: what the supply gave, then what took it.
fn unaccounted_j(terms: [f64; 9]) -> f64 {
    let energy = Energy {
        supply_j: terms[0],
        source_j: terms[1],
        copper_j: terms[2],
        friction_j: terms[3],
        brake_j: terms[4],
        jam_j: terms[5],
        detent_j: terms[6],
        kinetic_j: terms[7],
        stored_j: terms[8],
    };
    energy.unaccounted_j()
}

/// By place: five that add up, then two that do not.
fn sum_deg(terms: [f64; 7]) -> f64 {
    let budget = AngleBudget {
        encoder_deg: terms[0],
        homing_deg: terms[1],
        backlash_deg: terms[2],
        wind_up_deg: terms[3],
        window_deg: terms[4],
        free_deg: terms[5],
        jam_deg: terms[6],
    };
    budget.sum_deg()
}

/// Whether a table has these columns, and in each row these values but for their last digit.
fn holds(csv: &str, columns: &[String], rows: &[Vec<f64>]) -> Result<(), TestCaseError> {
    let mut found = table::rows(csv);
    let header = found.next().unwrap();
    prop_assert_eq!(&header.cells, columns);
    for wanted in rows {
        let row = found.next().unwrap();
        prop_assert_eq!(row.cells.len(), wanted.len());
        for (cell, value) in wanted.iter().enumerate() {
            let near = row.number(cell, value - 5.1e-5, value + 5.1e-5);
            prop_assert!(near.is_some(), "{value} in {}", row.text);
        }
    }
    prop_assert_eq!(found.next(), None);
    Ok(())
}

proptest! {
    #![proptest_config(cases(128))]

    /// A plan has its turns in their order, turns together all that can, and it does not matter
    /// which of two that turn together is the first.
    #[test]
    fn plans_keep_their_turns(turns in prop::collection::vec(turn(), 0..40)) {
        let plan = Plan::of_turns(&turns);
        prop_assert_eq!(&plan.turns(), &turns);
        prop_assert_eq!(&Plan::of_turns(&plan.turns()), &plan);
        prop_assert_eq!(&notation::parse(&plan.notation()).unwrap(), &turns);
        let mut swapped = Vec::new();
        for beat in &plan.beats {
            let alone = beat.turns.len() == 1;
            let paired = beat.turns.len() == 2
                && beat.turns[0].face.opposite() == beat.turns[1].face;
            prop_assert!(alone || paired, "{beat:?}");
            swapped.extend(beat.turns.iter().rev().copied());
        }
        for pair in plan.beats.windows(2) {
            let [last, next] = [&pair[0].turns, &pair[1].turns];
            prop_assert!(last.len() == 2 || last[0].face.opposite() != next[0].face);
        }
        let end = CubeState::SOLVED.turned_by(&turns);
        prop_assert_eq!(CubeState::SOLVED.turned_by(&swapped), end);
    }

    /// A beat lasts from its first shaft's start to its last one's stop.
    #[test]
    fn beats_hold_their_turns(
        turns in prop::collection::vec((turn(), 0.0..10.0f64, 0.0..1.0f64), 1..3),
        worst_offset_deg in 0.0..10.0f64,
    ) {
        let run = |(turn, start_s, long_s): (Turn, f64, f64)| {
            TurnRun { turn, start_s, stop_s: start_s + long_s }
        };
        let turns: Vec<TurnRun> = turns.into_iter().map(run).collect();
        let beat = BeatRun { beat: 0, turns, worst_offset_deg };
        for turn in &beat.turns {
            prop_assert!(beat.start_s() <= turn.start_s && turn.stop_s <= beat.stop_s());
        }
        prop_assert!(beat.turns.iter().any(|turn| turn.start_s == beat.start_s()));
        prop_assert!(beat.turns.iter().any(|turn| turn.stop_s == beat.stop_s()));
    }

    /// What the supply gives and one term takes is accounted for; free and jam angles are no
    /// part of a budget's sum.
    #[test]
    fn terms_add_up(
        terms in prop::array::uniform9(-1e3..1e3f64),
        angles in prop::array::uniform7(0.0..10.0f64),
        (term, angle) in (1usize..9, 0usize..7),
        more in 0.1..100.0f64,
    ) {
        let mut taken = terms;
        taken[term] += more;
        let short = unaccounted_j(taken) - unaccounted_j(terms);
        prop_assert!((short + more).abs() <= 1e-9, "{short}");
        taken[0] += more;
        let even = unaccounted_j(taken) - unaccounted_j(terms);
        prop_assert!(even.abs() <= 1e-9, "{even}");
        let mut wider = angles;
        wider[angle] += more;
        let wanted = if angle < 5 { more } else { 0.0 };
        let grown = sum_deg(wider) - sum_deg(angles);
        prop_assert!((grown - wanted).abs() <= 1e-9, "{grown}");
    }

    /// A shaft is as safe as it is stronger than its load; a camera is as far off whichever way.
    #[test]
    fn ratios_and_lengths_scale(
        (peak_torque_n_m, strength_n_m) in (0.01..10.0f64, 0.01..10.0f64),
        (shift_mm, turn_deg) in any::<([i8; 3], [i8; 3])>(),
        times in 0.1..10.0f64,
    ) {
        let safety = |peak_torque_n_m: f64, ultimate_torque_n_m: f64| {
            let load = AxisLoad { peak_torque_n_m, ultimate_torque_n_m, ..AxisLoad::default() };
            load.safety_factor_ratio()
        };
        let own = safety(peak_torque_n_m, strength_n_m);
        prop_assert!((own * peak_torque_n_m - strength_n_m).abs() <= 1e-12);
        let scaled = safety(times * peak_torque_n_m, times * strength_n_m);
        prop_assert!((scaled / own - 1.0).abs() <= 1e-12);
        prop_assert!(safety(0.0, strength_n_m).is_finite());
        let off = |times: f64| {
            let [shift_mm, turn_deg] =
                [shift_mm, turn_deg].map(|v| v.map(|part| times * f64::from(part)));
            CameraFound { shift_mm, turn_deg, ..CameraFound::default() }.off_drawing()
        };
        let (own, opposite, scaled) = (off(1.0), off(-1.0), off(times));
        prop_assert_eq!(own, opposite);
        prop_assert!((scaled.0 - times * own.0).abs() <= 1e-9);
        prop_assert!((scaled.1 - times * own.1).abs() <= 1e-9);
        prop_assert_eq!(own.0 == 0.0, shift_mm == [0; 3]);
    }

    /// A thinned trace has its samples at the times at which they were taken.
    #[test]
    fn thinned_traces_keep_their_times(samples in 0usize..60, step_s in 1e-4..1e-2f64) {
        let six = |k: usize| [k as f64; 6];
        let one: Vec<f64> = (0..samples).map(|k| k as f64).collect();
        let before = Trace {
            step_s,
            angles_deg: (0..samples).map(six).collect(),
            bus_v: one.clone(),
            winding_c: one,
            ..Trace::default()
        };
        let mut after = before.clone();
        after.thin_out();
        prop_assert_eq!(after.angles_deg.len(), samples.div_ceil(2));
        prop_assert_eq!(after.bus_v.len(), samples.div_ceil(2));
        prop_assert_eq!(after.winding_c.len(), samples.div_ceil(2));
        for (k, angles_deg) in after.angles_deg.iter().enumerate() {
            let old = 2 * k;
            prop_assert_eq!(angles_deg, &before.angles_deg[old]);
            prop_assert_eq!((after.bus_v[k], after.winding_c[k]), (old as f64, old as f64));
            prop_assert!((after.step_s * k as f64 - step_s * old as f64).abs() <= 1e-12);
        }
        prop_assert!(after.encoders_deg.is_empty() && after.gaps_mm.is_empty());
    }

    /// Logs are tables that hold what was logged.
    #[test]
    fn logs_are_tables(
        samples in prop::collection::vec(
            (
                0.0..10.0f64,
                prop::array::uniform6(-720.0..720.0f64),
                prop::array::uniform6(-20.0..20.0f64),
            ),
            0..12,
        ),
        (with_speed, with_current) in any::<(bool, bool)>(),
    ) {
        let time_s: Vec<f64> = samples.iter().map(|sample| sample.0).collect();
        let pick = |of: fn(&[f64; 6], &[f64; 6]) -> f64| -> Vec<f64> {
            samples.iter().map(|(_, angles, currents)| of(angles, currents)).collect()
        };
        let axis = AxisLog {
            time_s: time_s.clone(),
            angle_deg: pick(|angles, _| angles[0]),
            speed_rad_s: with_speed.then(|| pick(|angles, _| angles[1])),
            current_a: with_current.then(|| pick(|_, currents| currents[0])),
        };
        let always = [("time_s", &axis.time_s), ("angle_deg", &axis.angle_deg)];
        let lists: Vec<(&str, &Vec<f64>)> = always
            .into_iter()
            .chain(axis.speed_rad_s.iter().map(|list| ("speed_rad_s", list)))
            .chain(axis.current_a.iter().map(|list| ("current_a", list)))
            .collect();
        let columns: Vec<String> = lists.iter().map(|list| list.0.to_owned()).collect();
        let rows: Vec<Vec<f64>> =
            (0..axis.len()).map(|k| lists.iter().map(|list| list.1[k]).collect()).collect();
        holds(&axis.csv(), &columns, &rows)?;
        let run = RunLog {
            time_s,
            angles_deg: samples.iter().map(|sample| sample.1).collect(),
            currents_a: with_current.then(|| samples.iter().map(|sample| sample.2).collect()),
        };
        let logged = if with_current { 13 } else { 7 };
        let row = |(time_s, angles, currents): &(f64, [f64; 6], [f64; 6])| {
            [&[*time_s][..], &angles[..], &currents[..]].concat()[..logged].to_vec()
        };
        let rows: Vec<Vec<f64>> = samples.iter().map(row).collect();
        holds(&run.csv(), &RunLog::columns()[..logged], &rows)?;
    }
}
