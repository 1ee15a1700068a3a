//! What holds of all that is written, read back and told in words.

use core::fmt::Debug;

use dryturn_cube::{ALL_TURNS, CubeState, Face};
use dryturn_handoff::{
    AxisLoad, Blame, CameraFound, Cause, Cue, CueSheet, CuedBeat, CuedTurn, End, Energy,
    GuestFault, GuestRole, Jam, JamVerdict, LateReason, Meeting, Plan, Power, Run, RunLimits,
    SeatFault, SimulationLimit, Stop, Trace,
};
use proptest::prelude::*;
use serde::Serialize;
use serde::de::DeserializeOwned;

fn cases(cases: u32) -> ProptestConfig {
    ProptestConfig { cases, failure_persistence: None, ..ProptestConfig::default() }
}

fn face() -> impl Strategy<Value = Face> {
    prop::sample::select(Face::ALL.to_vec())
}

fn cue() -> impl Strategy<Value = Cue> {
    (0..3u8, face(), -400.0..400.0f64).prop_map(|(kind, face, deg)| match kind {
        0 => Cue::Settled(face),
        1 => Cue::Above(face, deg),
        _ => Cue::Below(face, deg),
    })
}

fn beat() -> impl Strategy<Value = CuedBeat> {
    let turn = (prop::sample::select(ALL_TURNS.to_vec()), -400.0..400.0f64);
    let turn = turn.prop_map(|(turn, to_deg)| CuedTurn { turn, to_deg });
    let parts = (prop::collection::vec(turn, 1..3), prop::collection::vec(cue(), 0..4));
    parts.prop_map(|(turns, cues)| CuedBeat { turns, cues, time_out_ms: 100.0 })
}

fn meeting() -> impl Strategy<Value = Meeting> {
    let angles = (-45.0..45.0f64, 0.0..45.0f64, -90.0..90.0f64);
    let parts = (face(), face(), angles);
    parts.prop_map(|(late_face, blocked_face, (late_angle_deg, allowed_deg, blocked_angle_deg))| {
        Meeting { late_face, late_angle_deg, allowed_deg, blocked_face, blocked_angle_deg }
    })
}

fn jam() -> impl Strategy<Value = Jam> {
    let verdict = prop::sample::select(vec![
        JamVerdict::PushedThrough,
        JamVerdict::Stalled,
        JamVerdict::ShaftBroken,
    ]);
    let reason = prop::sample::select(vec![
        LateReason::ReleasedEarly,
        LateReason::HeldOff,
        LateReason::WoundUp,
        LateReason::EncoderOff,
    ]);
    let parts = (meeting(), verdict, reason, 0.0..10.0f64, 0usize..40);
    parts.prop_map(|(met, verdict, reason, figure, beat)| Jam {
        time_s: figure,
        beat,
        met,
        strained_face: met.blocked_face,
        peak_torque_n_m: figure,
        safety_factor_ratio: figure,
        verdict,
        noticed_s: None,
        blame: Blame { reason, off_deg: figure },
    })
}

fn cause() -> impl Strategy<Value = Cause> {
    (face(), any::<prop::sample::Index>()).prop_map(|(face, index)| {
        let limit = SimulationLimit::Numbers;
        *index.get(&[
            Cause::NoShaft(face),
            Cause::LinkLost(face),
            Cause::FollowingError(face),
            Cause::Stalled(face),
            Cause::NotSettled(face),
            Cause::NotSteady(face),
            Cause::ShaftBroken(face),
            Cause::Refused(face),
            Cause::EmergencyStop,
            Cause::OverVoltage,
            Cause::Simulation(limit),
            Cause::Guest(GuestRole::Host),
        ])
    })
}

fn end() -> impl Strategy<Value = End> {
    let stop = (cause(), 0.0..10.0f64, 0usize..40);
    let stop = stop.prop_map(|(cause, time_s, beat)| Stop { time_s, beat, cause });
    prop_oneof![Just(End::Completed), jam().prop_map(End::Jammed), stop.prop_map(End::Stopped)]
}

fn same<T>(value: &T) -> Result<(), TestCaseError>
where
    T: Serialize + DeserializeOwned + PartialEq + Debug,
{
    let text = serde_json::to_string(value).unwrap();
    let read: T = serde_json::from_str(&text).unwrap();
    prop_assert_eq!(&read, value, "{}", text);
    Ok(())
}

proptest! {
    #![proptest_config(cases(128))]

    #[test]
    fn what_is_written_is_read_back(
        turns in prop::collection::vec(prop::sample::select(ALL_TURNS.to_vec()), 0..20),
        figures in prop::array::uniform3(-1e6..1e6f64),
        met in meeting(),
        role in prop::sample::select(GuestRole::ALL.to_vec()),
        words in prop::collection::vec(".{0,20}", 4..8),
    ) {
        same(&Plan::of_turns(&turns))?;
        same(&met)?;
        let [supply_j, copper_j, kinetic_j] = figures;
        same(&Energy { supply_j, copper_j, kinetic_j, ..Energy::default() })?;
        let (winding_c, peak_current_a) = (figures[0], figures[1]);
        same(&AxisLoad { winding_c, peak_current_a, ..AxisLoad::default() })?;
        same(&Power { lowest_v: figures[0], highest_v: figures[1], ..Power::default() })?;
        same(&CameraFound { shift_mm: figures, ..CameraFound::default() })?;
        let fault = SeatFault {
            stderr: words[3..].to_vec(),
            ..SeatFault::new(&words[0], &words[1], words[2].clone())
        };
        let told = GuestFault::of(role, &words[3], fault);
        same(&told)?;
        let sentence = told.to_string();
        let parts = [role.word(), &words[3], &words[0], &words[2]];
        prop_assert!(parts.iter().all(|part| sentence.contains(part)), "{sentence}");
        prop_assert_eq!(GuestRole::named(role.word()), Some(role));
    }

    /// A cue is written with its face and its angle, and only what waits for no settling overlaps.
    #[test]
    fn cue_sheets_say_what_they_wait_for(
        beats in prop::collection::vec(beat(), 0..8),
        cue in cue(),
        place in any::<prop::sample::Index>(),
    ) {
        let text = cue.to_string();
        let words: Vec<&str> = text.split(' ').collect();
        prop_assert_eq!(words[0], cue.face().letter().to_string());
        let shown = words.get(2).map(|deg| deg.parse::<f64>().unwrap());
        let meant = match cue {
            Cue::Settled(_) => None,
            Cue::Above(_, deg) | Cue::Below(_, deg) => Some(deg),
        };
        prop_assert_eq!(shown.is_some(), meant.is_some());
        prop_assert!((shown.unwrap_or(0.0) - meant.unwrap_or(0.0)).abs() <= 5.01e-4, "{text}");

        let end = CuedBeat { turns: Vec::new(), cues: vec![cue], time_out_ms: 100.0 };
        let mut sheet = CueSheet { window_deg: 0.5, dwell_ms: 0.0, beats, end };
        let turns = sheet.beats.iter().flat_map(|beat| beat.turns.iter().map(|cued| cued.turn));
        prop_assert_eq!(sheet.plan().turns(), turns.collect::<Vec<_>>());
        prop_assert_eq!(sheet.plan().beats.len(), sheet.beats.len());
        for cue in sheet.beats.iter_mut().flat_map(|beat| &mut beat.cues) {
            *cue = Cue::Settled(cue.face());
        }
        prop_assert_eq!(sheet.overlaps(), false);
        if !sheet.beats.is_empty() {
            let beat = place.index(sheet.beats.len());
            sheet.beats[beat].cues.push(cue);
            prop_assert_eq!(sheet.overlaps(), meant.is_some());
        }
    }

    /// A run is as loaded as its most loaded axis, as safe as its least safe one, and tells why it
    /// ended if it did not complete.
    #[test]
    fn runs_tell_the_worst_and_why(
        loads in prop::array::uniform6((0.01..10.0f64, 0.01..10.0f64, 20.0..200.0f64)),
        end in end(),
    ) {
        let axes = loads.map(|(peak_torque_n_m, ultimate_torque_n_m, winding_c)| AxisLoad {
            peak_torque_n_m,
            ultimate_torque_n_m,
            winding_c,
            ..AxisLoad::default()
        });
        let run = Run {
            beats: Vec::new(),
            trace: Trace::default(),
            total_s: 0.1,
            end,
            pushed: Vec::new(),
            free_deg: 1.0,
            jam_deg: 5.0,
            bound_s: 0.05,
            resent: 0,
            limits: RunLimits { beat_s: 1.0, run_s: 10.0, axis_steps: 1000 },
            axis_steps: 100,
            energy: Energy::default(),
            axes,
            power: Power::default(),
            rest_deg: [0.0; 6],
            final_state: CubeState::SOLVED,
        };
        let (peak, safety, warmest) =
            (run.peak_torque_n_m(), run.safety_factor_ratio(), run.winding_c());
        prop_assert!(axes.iter().all(|axis| axis.peak_torque_n_m <= peak));
        prop_assert!(axes.iter().all(|axis| axis.safety_factor_ratio() >= safety));
        prop_assert!(axes.iter().all(|axis| axis.winding_c <= warmest));
        prop_assert!(axes.iter().any(|axis| axis.peak_torque_n_m == peak));
        prop_assert!(axes.iter().any(|axis| axis.safety_factor_ratio() == safety));
        prop_assert!(axes.iter().any(|axis| axis.winding_c == warmest));

        let completed = run.end == End::Completed;
        let ends = usize::from(run.jam().is_some()) + usize::from(run.stop().is_some());
        prop_assert_eq!(ends, usize::from(!completed));
        prop_assert_eq!(run.failure().is_none(), completed);
        let said = run.failure().unwrap_or_default();
        prop_assert!(said.lines().count() == ends && !said.ends_with('.'), "{said}");
        let faces: Vec<Face> = match (run.jam(), run.stop()) {
            (Some(jam), _) => vec![jam.met.late_face, jam.met.blocked_face, jam.strained_face],
            (_, stop) => stop.and_then(|stop| stop.cause.face()).into_iter().collect(),
        };
        for face in faces {
            let named = said.split([' ', ',', ':']).any(|word| word == face.to_string());
            prop_assert!(named, "{face}: {said}");
        }
    }
}
