//! What stages hand over is stored as JSON, and read back the same.

use core::fmt::Debug;

use dryturn_cube::{CubeState, Face, Facelet, Turn, notation};
use dryturn_handoff::{
    AngleBudget, AxisLoad, AxisLog, BeatRun, Blame, CameraFound, Cause, ColourPlane, Cue, CueSheet,
    CuedBeat, CuedTurn, End, Energy, FaceletLabel, FaceletReading, Frame, GuestFault, GuestRole,
    Jam, JamVerdict, Labels, LateReason, Meeting, NEIGHBOURS, Outcome, Plan, Power, Reading,
    RefusalKind, Run, RunLimits, RunLog, RunnerUp, Scan, SeatFault, SimulationLimit, Source, Stop,
    Trace, TurnRun,
};
use dryturn_units::colour::EncodedRgb8;
use schemars::{JsonSchema, SchemaGenerator};
use serde::Serialize;
use serde::de::DeserializeOwned;
use serde_json::Value;

/// As text; its schema names every key that it has, and no type twice.
fn stored<T: Serialize + JsonSchema>(value: &T) -> String {
    let schema = SchemaGenerator::default().into_root_schema_for::<T>();
    let written = serde_json::to_value(value).unwrap();
    let named = schema.get("properties").and_then(Value::as_object);
    if let (Some(own), Some(named)) = (written.as_object(), named) {
        assert!(own.keys().all(|key| named.contains_key(key)), "{schema:?}");
    }
    let types = schema.get("$defs").and_then(Value::as_object);
    assert!(types.is_none_or(|types| types.keys().all(|name| !name.ends_with('2'))), "{types:?}");
    serde_json::to_string(value).unwrap()
}

fn there_and_back<T>(value: &T) -> String
where
    T: Serialize + DeserializeOwned + JsonSchema + PartialEq + Debug,
{
    let text = stored(value);
    assert_eq!(&serde_json::from_str::<T>(&text).unwrap(), value, "{text}");
    text
}

fn turn(text: &str) -> Turn {
    notation::parse(text).unwrap()[0]
}

fn facelet(name: &str) -> Facelet {
    Facelet::from_name(name).unwrap()
}

fn meeting() -> Meeting {
    Meeting {
        late_face: Face::U,
        late_angle_deg: -2.5,
        allowed_deg: 1.3,
        blocked_face: Face::B,
        blocked_angle_deg: 40.25,
    }
}

fn jam() -> Jam {
    Jam {
        time_s: 0.1,
        beat: 3,
        met: meeting(),
        strained_face: Face::L,
        peak_torque_n_m: 0.75,
        safety_factor_ratio: 0.9,
        verdict: JamVerdict::ShaftBroken,
        noticed_s: Some(0.11),
        blame: Blame { reason: LateReason::WoundUp, off_deg: 3.0 },
    }
}

fn run(end: End) -> Run {
    let turned = |text: &str, stop_s: f64| TurnRun { turn: turn(text), start_s: 0.001, stop_s };
    let axis = AxisLoad {
        peak_torque_n_m: 0.5,
        ultimate_torque_n_m: 2.5,
        peak_current_a: 8.0,
        winding_c: 31.5,
        budget: AngleBudget { encoder_deg: 0.1, jam_deg: 14.0, ..AngleBudget::default() },
    };
    Run {
        beats: vec![BeatRun {
            beat: 0,
            turns: vec![turned("U'", 1.0 / 3.0), turned("D2", f64::INFINITY)],
            worst_offset_deg: 1.5,
        }],
        trace: Trace {
            step_s: 5e-4,
            angles_deg: vec![[0.0; 6], [0.1, -0.2, 0.3, -0.4, 0.5, -0.6]],
            encoders_deg: vec![[0.0; 6]; 2],
            speeds_rad_s: vec![[1.5; 6]; 2],
            currents_a: vec![[-2.25; 6]; 2],
            gaps_mm: vec![[0.4; NEIGHBOURS]; 2],
            bus_v: vec![48.0, 47.5],
            resistor_c: vec![25.0, 25.5],
            winding_c: vec![25.0, 26.0],
        },
        total_s: 0.4,
        end,
        pushed: vec![jam()],
        free_deg: 2.0,
        jam_deg: 14.0,
        bound_s: 0.1 + 0.2,
        resent: 1,
        limits: RunLimits { beat_s: 1.1, run_s: 2.2, axis_steps: 40_000_000 },
        axis_steps: 12_345,
        energy: Energy { supply_j: 3.5, kinetic_j: -0.5, ..Energy::default() },
        axes: [axis; 6],
        power: Power { lowest_v: 46.0, highest_v: 49.0, peak_w: 300.0, resistor_c: 25.5 },
        rest_deg: [0.0, -0.1, 0.2, -0.3, 0.4, -0.5],
        final_state: CubeState::SOLVED.turned(turn("U'")),
    }
}

#[test]
fn plans_and_cues() {
    let plan = Plan::of_turns(&notation::parse("U D R2 F'").unwrap());
    there_and_back(&plan);
    assert_eq!(there_and_back(&Cue::Settled(Face::U)), r#"{"settled":"U"}"#);
    assert_eq!(there_and_back(&Cue::Above(Face::R, 82.3)), r#"{"above":["R",82.3]}"#);
    let beat = CuedBeat {
        turns: vec![CuedTurn { turn: turn("R2"), to_deg: 180.125 }],
        cues: vec![Cue::Settled(Face::U), Cue::Below(Face::D, -82.3)],
        time_out_ms: 250.0,
    };
    let end = CuedBeat { turns: Vec::new(), ..beat.clone() };
    there_and_back(&CueSheet { window_deg: 2.5, dwell_ms: 3.0, beats: vec![beat], end });
}

#[test]
fn pictures_and_labels() {
    let frame = Frame {
        camera: "left".to_owned(),
        width: 2,
        height: 1,
        pixels: vec![0, 127, 255, 1, 2, 3],
    };
    let label = FaceletLabel {
        facelet: facelet("URF"),
        colour: Face::L,
        polygon_px: vec![[0.5, 1.5], [2.5, 1.25], [2.0, 3.0]],
        visible_px: 1,
        visible_share: 0.25,
        glare_share: 0.0,
        clipped_share: 1.0,
        mean_linear: [0.1, 0.2, 0.3],
        mean_encoded: [10.0, 20.0, 30.0],
    };
    let labels = Labels {
        width: 2,
        height: 1,
        codes: vec![0, 9],
        depth_mm: vec![f32::INFINITY, 123.4],
        clipped: vec![false, true],
        facelets: vec![label],
    };
    assert!(there_and_back(&labels).contains(r#""depth_mm":[null,123.4]"#));
    there_and_back(&Scan { frames: vec![frame], labels: vec![labels] });
}

#[test]
fn logs() {
    let axis = AxisLog {
        time_s: vec![0.0, 0.000125],
        angle_deg: vec![0.0, -0.5],
        speed_rad_s: None,
        current_a: Some(vec![1.0, 1.5]),
    };
    there_and_back(&axis);
    let short = r#"{"time_s":[0.0],"angle_deg":[1.0]}"#;
    assert_eq!(serde_json::from_str::<AxisLog>(short).unwrap().current_a, None);
    let run = RunLog { time_s: vec![0.0], angles_deg: vec![[1.0; 6]], currents_a: None };
    there_and_back(&run);
    there_and_back(&RunLog { currents_a: Some(vec![[-0.5; 6]]), ..run });
}

#[test]
fn readings() {
    let state = CubeState::SOLVED.turned(turn("R"));
    let seen = Source::Seen {
        camera: 1,
        colour: EncodedRgb8([200, 30, 0]),
        margin: 0.75,
        runner_up: Face::L,
        saturated_share: 0.125,
        log_likelihoods: [-1.5, -2.0, f64::NEG_INFINITY, -9.0, -1e3, 0.0],
    };
    assert_eq!(there_and_back(&Source::Inferred), r#""inferred""#);
    let text = there_and_back(&seen);
    assert!(text.contains(r#""colour":[200,30,0]"#), "{text}");
    assert!(text.contains(r#""log_likelihoods":[-1.5,-2.0,null,"#), "{text}");
    there_and_back(&Source::Told { log_likelihoods: Some([-0.5; 6]) });
    there_and_back(&Source::Told { log_likelihoods: None });
    there_and_back(&RunnerUp { state, log_odds: f64::INFINITY });
    let found = CameraFound { shift_mm: [0.1, 0.2, -0.3], ..CameraFound::default() };
    let mut reading = Reading {
        most_probable: Some(state),
        probability: Some(0.999),
        runner_up: Some(RunnerUp { state: CubeState::SOLVED, log_odds: 7.25 }),
        cameras: vec![found; 2],
        steps: 9_588,
        plane: Some(ColourPlane {
            samples: vec![(facelet("UF"), [0.5, -0.5])],
            classes: [([0.1, 0.2], [0.01, 0.0, 0.02]); 6],
        }),
        ..Reading::told(Outcome::Read(state), 2)
    };
    reading.facelets[0] = FaceletReading { colour: Some(Face::U), source: seen };
    reading.facelets[1] = FaceletReading { colour: None, source: Source::Unknown };
    there_and_back(&reading);
    let refused = Outcome::Unreadable {
        refusal: RefusalKind::TooDark,
        because: "most of it is dark".to_owned(),
        weakest: vec![facelet("U"), facelet("URF")],
    };
    let text = there_and_back(&Reading::told(refused, 1));
    assert!(text.contains(r#""outcome":{"unreadable":{"refusal":"too_dark","#), "{text}");
}

/// A turn that never settled among them.
#[test]
fn runs() {
    let stop = Stop { time_s: 0.2, beat: 1, cause: Cause::NoShaft(Face::D) };
    let text = there_and_back(&run(End::Stopped(stop)));
    assert!(text.contains(r#""turn":"D2","start_s":0.001,"stop_s":null"#), "{text}");
    assert!(text.contains(r#""cause":{"no_shaft":"D"}"#), "{text}");
    assert!(there_and_back(&run(End::Completed)).contains(r#""end":"completed""#));
    there_and_back(&run(End::Jammed(jam())));
}

#[test]
fn causes_and_faults() {
    let plain = [Cause::EmergencyStop, Cause::Watchdog, Cause::ResistorHot, Cause::HostStopped];
    plain.iter().for_each(|cause| drop(there_and_back(cause)));
    there_and_back(&Cause::NotSteady(Face::F));
    let ended = Cause::Simulation(SimulationLimit::BeatTime);
    assert_eq!(there_and_back(&ended), r#"{"simulation":"beat_time"}"#);
    assert_eq!(there_and_back(&Cause::Guest(GuestRole::Host)), r#"{"guest":"host"}"#);
    let fault = SeatFault::new("tick", "no_json", "it answered no JSON");
    there_and_back(&GuestFault::of(GuestRole::Host, "my host", fault));
}

/// What JSON cannot hold is null; where the largest is told, that is infinity, and so nothing looks
/// safer for having been stored.
#[test]
fn a_motion_beyond_all_numbers() {
    let (inf, nan) = (f64::INFINITY, f64::NAN);
    let mut far = run(End::Completed);
    far.beats[0].worst_offset_deg = inf;
    far.trace.angles_deg[1] = [nan; 6];
    far.energy.jam_j = nan;
    far.axes[2].peak_torque_n_m = inf;
    far.power = Power { lowest_v: -inf, highest_v: inf, peak_w: inf, resistor_c: inf };
    far.rest_deg[5] = nan;
    let blame = Blame { off_deg: nan, ..jam().blame };
    let met = Meeting { late_angle_deg: nan, blocked_angle_deg: nan, ..meeting() };
    far.pushed = vec![Jam { met, blame, peak_torque_n_m: inf, ..jam() }];
    let read: Run = serde_json::from_str(&stored(&far)).unwrap();
    // Debug, for what is no number differs from itself.
    assert_eq!(format!("{read:?}"), format!("{far:?}"));
    assert!(read.safety_factor_ratio() == 0.0 && read.peak_torque_n_m() == inf);
}

#[test]
fn what_is_none_is_refused() {
    assert!(serde_json::from_str::<Cue>(r#"{"settled":"X"}"#).is_err());
    assert!(serde_json::from_str::<Cause>(r#"{"no_shaft":null}"#).is_err());
    assert!(serde_json::from_str::<Source>(r#""guessed""#).is_err());
    // Null is a number only where it is written.
    assert!(serde_json::from_str::<TurnRun>(r#"{"turn":"U","start_s":0.0}"#).is_err());
    assert!(serde_json::from_str::<TurnRun>(r#"{"turn":"U","start_s":null,"stop_s":1}"#).is_err());
}
