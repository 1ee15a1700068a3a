//! Whoever plays the stages of a rehearsal: what they see, and what becomes of their answers.

use std::sync::Arc;

use dryturn_cube::{CubeState, Face, Facelet, MOUNTINGS, Stickering, notation, random_state};
use dryturn_driving::{HostAnswer, HostBrief, HostSeat, HostSees};
use dryturn_handoff::{
    Beat, CameraFound, Cause, FaceletReading, Frame, GuestRole, Outcome, Plan, Reading,
    RefusalKind, SeatFault, Source,
};
use dryturn_planning::{Objective, Planner};
use dryturn_reading::KnownScan;
use dryturn_rehearsal::{
    GuestCost, LatencyMs, Pass, PlanCosts, PlannerSeat, Reader, ReaderSeat, Rehearser, SeatPlan,
    Stages, StartToStop, Verdict,
};
use dryturn_scene::Scene;
use dryturn_units::noise::Seed;

/// The workbench with small pictures.
fn bench() -> Arc<Scene> {
    let text = include_str!("../../../../scenes/workbench.ron");
    let scene = Scene::parse(text, "workbench.ron").unwrap();
    let mut file = scene.file().clone();
    for camera in &mut file.cameras {
        (camera.width_px, camera.height_px) = (64, 64);
    }
    Arc::new(scene.with_file(file).unwrap())
}

/// A reading as a guest tells it.
fn told(outcome: Result<CubeState, &str>, cameras: usize, steps: u64) -> Reading {
    let colours = outcome.ok().map(|state| state.colours());
    let facelet = |facelet: Facelet| FaceletReading {
        colour: colours.map(|colours| colours[facelet.index()]),
        source: Source::Told { log_likelihoods: None },
    };
    Reading {
        facelets: Facelet::all().map(facelet).collect(),
        outcome: match outcome {
            Ok(state) => Outcome::Read(state),
            Err(because) => Outcome::Unreadable {
                refusal: RefusalKind::Told,
                because: because.to_owned(),
                weakest: Vec::new(),
            },
        },
        most_probable: None,
        probability: None,
        runner_up: None,
        centres: Face::ALL,
        cameras: vec![CameraFound::default(); cameras],
        steps,
        without_calibration: false,
        plane: None,
    }
}

/// A reader that answers what it was given, and remembers what it saw.
struct Tells {
    answer: Result<Reading, SeatFault>,
    taught: Vec<String>,
    saw: usize,
}

impl Tells {
    fn new(answer: Result<Reading, SeatFault>) -> Self {
        Self { answer, taught: Vec::new(), saw: 0 }
    }
}

fn names(frames: &[Frame]) -> String {
    frames.iter().map(|frame| frame.camera.as_str()).collect::<Vec<_>>().join(" ")
}

impl ReaderSeat for Tells {
    fn name(&self) -> &str {
        "tells"
    }

    fn begin(&mut self, drawing: &Arc<Scene>) -> Result<(), SeatFault> {
        self.taught.push(format!("{} cameras", drawing.file().cameras.len()));
        Ok(())
    }

    fn learn(&mut self, scan: &KnownScan) -> Result<(), SeatFault> {
        let mounting = MOUNTINGS.iter().position(|own| scan.shown == Stickering::solved_in(own));
        self.taught.push(format!("{mounting:?}: {}", names(&scan.frames)));
        Ok(())
    }

    fn learnt(&mut self) -> Result<(), SeatFault> {
        self.taught.push("learnt".to_owned());
        Ok(())
    }

    fn read(&mut self, frames: &[Frame]) -> Result<Reading, SeatFault> {
        self.saw += frames.len();
        self.answer.clone()
    }
}

/// A planner that is a function of the cube.
struct Plans<F>(F);

impl<F: FnMut(&CubeState, &PlanCosts) -> Result<SeatPlan, SeatFault>> PlannerSeat for Plans<F> {
    fn name(&self) -> &str {
        "plans"
    }

    fn plan(&mut self, read: &CubeState, costs: &PlanCosts) -> Result<SeatPlan, SeatFault> {
        (self.0)(read, costs)
    }
}

/// A host that does one thing, whatever it sees.
struct Does(Result<HostAnswer, SeatFault>);

impl HostSeat for Does {
    fn name(&self) -> &str {
        "does"
    }

    fn begin(&mut self, _: &HostBrief<'_>) -> Result<(), SeatFault> {
        Ok(())
    }

    fn tick(&mut self, _: &HostSees) -> Result<HostAnswer, SeatFault> {
        self.0.clone()
    }
}

/// One pass of the built-in stages but for those that `sit` puts somewhere, read by `reader`.
fn pass<'a>(reader: &'a mut dyn ReaderSeat, sit: impl FnOnce(&mut Stages<'a>, CubeState)) -> Pass {
    let rehearser = Rehearser::new(Seed::new(1));
    let rig = rehearser.build(&bench(), 0);
    let truth = rehearser.random_cube(0);
    let mut stages = Stages::read_by(Reader::Guest(reader));
    sit(&mut stages, truth);
    rehearser.rehearse_with(&rig, &truth, &mut stages).unwrap()
}

fn truth() -> CubeState {
    Rehearser::new(Seed::new(1)).random_cube(0)
}

fn reads_right() -> Tells {
    Tells::new(Ok(told(Ok(truth()), bench().file().cameras.len(), 5000)))
}

fn nobody(_: &mut Stages<'_>, _: CubeState) {}

#[test]
fn a_reader_is_taught_one_scan_after_the_other() {
    let rehearser = Rehearser::new(Seed::new(1));
    let rig = rehearser.build(&bench(), 0);
    let mut reader = reads_right();
    rig.teach(&mut reader, rig.scan_solved()).unwrap();
    let pictures = bench().file().picture_names().join(" ");
    let mut wanted = vec![format!("{} cameras", bench().file().cameras.len())];
    wanted.extend((0..6).map(|number| format!("Some({number}): {pictures}")));
    wanted.push("learnt".to_owned());
    assert_eq!(reader.taught, wanted);
}

/// A right reading is planned for and turned by the built-in stages, and its answer is charged:
/// 20 ms, and 5000 steps at the host's pace.
#[test]
fn a_reading_from_the_seat_is_turned_and_charged() {
    let mut reader = reads_right();
    let pass = pass(&mut reader, |stages, _| stages.latency_ms.reader = 20.0);
    assert_eq!((pass.verdict, pass.score.right()), (Verdict::Solved, true));
    assert_eq!(pass.guests.played(GuestRole::Reader), Some("tells"));
    assert_eq!(pass.guests.played(GuestRole::Host), None);
    assert_eq!(reader.saw, bench().file().picture_names().len());
    let clock = pass.start_to_stop().unwrap();
    let scene = bench();
    let host = &scene.file().host;
    let wanted_s = 0.020 + 5000.0 / host.reading_steps_per_ms * 1e-3;
    assert!((clock.reading_s - wanted_s).abs() < 1e-12, "{clock:?}");
    let cost = GuestCost { latency_ms: 3.0, operations: 700 };
    let planned = StartToStop::of(&bench(), 1.0).planned_by_guest(&bench(), cost);
    let wanted_s = 0.003 + 700.0 / host.search_nodes_per_ms * 1e-3;
    assert!((planned.search_s - wanted_s).abs() < 1e-12, "{planned:?}");
}

/// A refusal is unreadable, another cube a misreading; only a fault is the guest's end.
#[test]
fn readers_may_refuse_err_and_fail() {
    let cameras = bench().file().cameras.len();
    let refused = pass(&mut Tells::new(Ok(told(Err("too dark"), cameras, 0))), nobody);
    assert_eq!((refused.verdict, refused.fault), (Verdict::Unreadable, None));
    let other = random_state(&mut Seed::new(9).stream("test", 0, 0));
    let misread = pass(&mut Tells::new(Ok(told(Ok(other), cameras, 0))), nobody);
    assert_eq!((misread.verdict, misread.fault.clone()), (Verdict::Misread, None));
    let failed = pass(&mut Tells::new(Err(SeatFault::new("read", "ended", "it ended"))), nobody);
    assert_eq!((failed.verdict, failed.plan.is_some()), (Verdict::Guest, false));
    let fault = failed.fault.unwrap();
    assert_eq!((fault.role, fault.guest.as_str()), (GuestRole::Reader, "tells"));
    assert_eq!(failed.reading.refusal(), Some(RefusalKind::Fault));
    // A reading that the other stages could not go by.
    let mut short = told(Ok(truth()), cameras, 0);
    short.facelets.pop();
    let mut strange = told(Ok(truth()), cameras, 0);
    strange.facelets[0].colour = None;
    for (reading, kind) in [(short, "other_counts"), (strange, "other_colours")] {
        let failed = pass(&mut Tells::new(Ok(reading)), nobody);
        assert_eq!(
            (failed.verdict, failed.fault.unwrap().fault.kind.as_str()),
            (Verdict::Guest, kind)
        );
    }
}

#[test]
fn a_plan_from_the_seat_is_turned() {
    let built_in = Planner::new();
    let mut seen = None;
    let mut planner = Plans(|read: &CubeState, costs: &PlanCosts| {
        seen = Some((*read, costs.half_turn_s > costs.quarter_turn_s, costs.beats.is_some()));
        let plan = built_in.plan(read, Objective::FewestTurns, 1000).plan;
        Ok(SeatPlan { plan, operations: 1000 })
    });
    let pass = pass(&mut reads_right(), |stages, _| {
        stages.planner = Some(&mut planner);
        stages.latency_ms = LatencyMs { planner: 5.0, ..LatencyMs::default() };
    });
    assert_eq!(pass.verdict, Verdict::Solved);
    let search_s = pass.start_to_stop().unwrap().search_s;
    let wanted_s = 0.005 + 1000.0 / bench().file().host.search_nodes_per_ms * 1e-3;
    assert!((search_s - wanted_s).abs() < 1e-12, "{search_s}");
    assert_eq!(pass.guests.played(GuestRole::Planner), Some("plans"));
    assert_eq!(seen, Some((truth(), true, true)));
}

/// A plan that does not solve what was read is the guest's fault, not a wrong verdict.
#[test]
fn plans_that_do_not_solve_are_faults() {
    let turns = |text: &str| notation::parse(text).unwrap();
    let solving = Planner::new().plan(&truth(), Objective::FewestTurns, 1000).plan;
    // Two hundred and one turns, and a beat of two faces beside each other.
    let mut long = solving.clone();
    while long.turns().len() <= 200 {
        long.beats.push(Beat { turns: turns("R2") });
    }
    let mut beside = solving.clone();
    beside.beats.insert(0, Beat { turns: turns("R U") });
    let fault = || Err(SeatFault::new("plan", "ended", "it ended"));
    let plan = |plan: Plan| Ok(SeatPlan { plan, operations: 0 });
    for (answer, kind) in [
        (plan(Plan::of_turns(&turns("R U"))), "does_not_solve"),
        (plan(Plan::default()), "does_not_solve"),
        (plan(long), "too_many_turns"),
        (plan(beside), "no_beat"),
        (fault(), "ended"),
    ] {
        let mut planner = Plans(|_: &CubeState, _: &PlanCosts| answer.clone());
        let pass = pass(&mut reads_right(), |stages, _| stages.planner = Some(&mut planner));
        assert_eq!((pass.verdict, pass.run.is_some()), (Verdict::Guest, false));
        let fault = pass.fault.unwrap();
        assert_eq!((fault.role, fault.fault.kind.as_str()), (GuestRole::Planner, kind));
    }
}

/// A host that fails is a guest's end, one that stops everything a stop.
#[test]
fn hosts_fail_and_stop() {
    let mut fails = Does(Err(SeatFault::new("tick", "ended", "it ended")));
    let failed = pass(&mut reads_right(), |stages, _| stages.host = Some(&mut fails));
    assert_eq!(failed.verdict, Verdict::Guest);
    assert_eq!(failed.run.unwrap().stop().unwrap().cause, Cause::Guest(GuestRole::Host));
    assert_eq!(failed.fault.unwrap().to_string(), "the host “does” at “tick”: it ended");
    let mut stops = Does(Ok(HostAnswer::Stop("a hand is in the way".to_owned())));
    let stopped = pass(&mut reads_right(), |stages, _| stages.host = Some(&mut stops));
    assert_eq!((stopped.verdict, stopped.fault), (Verdict::Stopped, None));
    assert_eq!(stopped.stopped_because.as_deref(), Some("a hand is in the way"));
    // Done before anything was turned: the cube is not solved, though it was read right.
    let mut done = Does(Ok(HostAnswer::Done));
    let lost = pass(&mut reads_right(), |stages, _| stages.host = Some(&mut done));
    assert_eq!((lost.verdict, lost.fault), (Verdict::Lost, None));
}
