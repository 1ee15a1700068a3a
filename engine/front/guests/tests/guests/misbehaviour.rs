//! Every misbehaviour gives its own fault, and leaves no process.

use std::sync::atomic::{AtomicUsize, Ordering};

use dryturn_cube::CubeState;
use dryturn_guests::{
    ControlView, FaultKind, GuestCommand, GuestController, GuestPlanner, GuestReader, Limits,
    ProcessFault, Question,
};
use dryturn_units::stop::{Stop, Stopped};

use crate::help::{COSTS, PATIENT, SHORT, Stage, axis, known, scene};

/// Starts a planner and asks it for the plan of a solved cube, until something is wrong.
fn planner(stage: &Stage, limits: Limits) -> Result<(), ProcessFault> {
    let mut guest = GuestPlanner::start(&stage.command(), limits)?;
    guest.plan(&CubeState::SOLVED, &COSTS)?;
    guest.plan(&CubeState::SOLVED, &COSTS)?;
    guest.goodbye()
}

/// Where a mode goes wrong, and how.
fn fault(mode: &str, limits: Limits) -> ProcessFault {
    let stage = Stage::of("bad.py", mode);
    let fault = planner(&stage, limits).expect_err(mode);
    stage.assert_gone();
    assert!(fault.stderr_tail.len() <= 10, "{mode}");
    fault
}

#[track_caller]
fn assert_fault(mode: &str, limits: Limits, question: Question, name: &str) -> ProcessFault {
    let fault = fault(mode, limits);
    assert_eq!((fault.question, fault.kind.name()), (question, name), "{mode}: {fault}");
    let sentence = fault.to_string();
    assert!(!sentence.contains(char::is_control) && sentence.len() < 700, "{mode}: {sentence}");
    fault
}

#[test]
fn what_cannot_start_says_so() {
    let command = GuestCommand::parse("./no-such-program --fast").unwrap();
    let fault = GuestPlanner::start(&command, PATIENT).err().unwrap();
    assert_eq!((fault.question, fault.kind.name()), (Question::Start, "not_started"));
    assert!(fault.to_string().contains("no-such-program"), "{fault}");
}

#[test]
fn guests_that_end() {
    let start = assert_fault("dies_at_start", PATIENT, Question::Hello, "exited");
    assert_eq!(start.kind, FaultKind::Exited { code: Some(3), signal: None });
    assert_eq!(start.stderr_tail, [r"first words\u{1b}[31m", "last words"]);
    let mid = assert_fault("dies_mid_answer", PATIENT, Question::Plan, "exited");
    assert_eq!(mid.kind, FaultKind::Exited { code: Some(4), signal: None });
    let killed = assert_fault("dies_by_signal", PATIENT, Question::Plan, "exited");
    assert_eq!(killed.kind, FaultKind::Exited { code: None, signal: Some(9) });
    // What it left behind holds its pipes open.
    assert_fault("leaves_a_child", PATIENT, Question::Plan, "exited");
}

#[test]
fn guests_that_hang() {
    let start = Limits { start: SHORT.answer, ..PATIENT };
    assert_fault("never_says_hello", start, Question::Hello, "too_late");
    assert_fault("never_reads", SHORT, Question::Plan, "too_late");
    assert_fault("stops_itself", SHORT, Question::Plan, "too_late");
    assert_fault("ignores_the_end", SHORT, Question::Plan, "too_late");
    assert_fault("keeps_a_child", SHORT, Question::Plan, "too_late");
    let open = assert_fault("no_line_end", SHORT, Question::Plan, "too_late");
    let FaultKind::TooLate { limit_ms: 150, begun_bytes } = open.kind else { panic!("{open}") };
    assert!(begun_bytes > 30, "{open}");
}

#[test]
fn guests_that_do_not_read_a_long_question() {
    let (stage, scene) = (Stage::of("bad.py", "never_reads"), scene());
    let mut guest = GuestReader::start(&stage.command(), SHORT, &scene).unwrap();
    let scans = vec![known(&scene, &CubeState::SOLVED); 300];
    let fault = guest.calibrate(&scans).unwrap_err();
    assert_eq!((fault.question, fault.kind.name()), (Question::Calibrate, "not_taken"));
    stage.assert_gone();
}

#[test]
fn guests_that_close_a_pipe() {
    assert_fault("closes_stdout", PATIENT, Question::Plan, "closed_output");
    assert_fault("stops_listening", PATIENT, Question::Plan, "closed_input");
}

#[test]
fn guests_that_flood() {
    let long = assert_fault("floods", PATIENT, Question::Plan, "too_long");
    assert_eq!(long.kind, FaultKind::TooLong { most_bytes: 1 << 20 });
    assert_fault("floods_lines", PATIENT, Question::Plan, "unasked");
    let much = assert_fault("talks_much", PATIENT, Question::Plan, "not_json");
    assert_eq!(much.stderr_tail.len(), 10);
    assert_eq!(much.stderr_tail[9], "that was all");
    assert_eq!(much.stderr_tail[0], "a word to nobody");
    // VmHWM is the most memory that this process has held (proc(5)).
    let status = std::fs::read_to_string("/proc/self/status").unwrap();
    let most = status.lines().find_map(|line| line.strip_prefix("VmHWM:")).unwrap();
    let most_kb: u64 = most.trim().trim_end_matches(" kB").parse().unwrap();
    assert!(most_kb < 400_000, "{most_kb} kB for a gigabyte");
}

#[test]
fn guests_that_answer_something_else() {
    let plan = |mode, name| assert_fault(mode, PATIENT, Question::Plan, name);
    assert_fault("wrong_version", PATIENT, Question::Hello, "wrong_version");
    assert_fault("answers_before_asked", PATIENT, Question::Hello, "unasked");
    plan("wrong_id", "wrong_id");
    plan("two_answers", "unasked");
    plan("not_utf8", "not_utf8");
    plan("nan", "not_json");
    plan("huge", "not_json");
    plan("empty_line", "not_json");
    let prose = plan("prose", "not_json");
    assert!(prose.to_string().contains("solving now, please wait"), "{prose}");
    plan("notification", "not_a_response");
    plan("no_version", "not_a_response");
    let large = plan("large", "bad_field");
    assert!(large.to_string().contains("operations of its answer is 1e+300"), "{large}");
    let unknown = plan("unknown_field", "bad_field");
    assert!(unknown.to_string().contains("moves of its answer is 0"), "{unknown}");
}

#[test]
fn plans_that_are_none() {
    let plan = |mode, name| assert_fault(mode, PATIENT, Question::Plan, name);
    let many = plan("thousand_turns", "too_many_turns");
    assert_eq!(many.kind, FaultKind::TooManyTurns { count: 1000, most: 200 });
    plan("solves_nothing", "does_not_solve");
    let none = plan("no_turns", "bad_field");
    assert!(none.to_string().contains("whole-cube rotation"), "{none}");
}

#[test]
fn a_cube_that_cannot_be() {
    let (stage, scene) = (Stage::of("bad.py", "illegal_cube"), scene());
    let mut guest = GuestReader::start(&stage.command(), PATIENT, &scene).unwrap();
    let scan = known(&scene, &CubeState::SOLVED);
    guest.calibrate(core::slice::from_ref(&scan)).unwrap();
    let fault = guest.read(&scan.frames).unwrap_err();
    assert_eq!((fault.question, fault.kind.name()), (Question::Read, "illegal_cube"));
    drop(guest);
    stage.assert_gone();
}

#[test]
fn an_error_is_an_answer_and_the_guest_goes_on() {
    let stage = Stage::of("bad.py", "error_once");
    let mut guest = GuestPlanner::start(&stage.command(), PATIENT).unwrap();
    let fault = guest.plan(&CubeState::SOLVED, &COSTS).unwrap_err();
    let message = r"not now\u{7}".to_owned();
    assert_eq!(fault.kind, FaultKind::ErrorAnswer { code: -32000, message });
    guest.plan(&CubeState::SOLVED, &COSTS).unwrap();
    guest.goodbye().unwrap();
    stage.assert_gone();
}

#[test]
fn a_guest_that_broke_stays_broken() {
    let stage = Stage::of("bad.py", "prose");
    let mut guest = GuestPlanner::start(&stage.command(), PATIENT).unwrap();
    let first = guest.plan(&CubeState::SOLVED, &COSTS).unwrap_err();
    // It has ended at once, not only when it is dropped.
    stage.assert_gone();
    assert_eq!(guest.plan(&CubeState::SOLVED, &COSTS).unwrap_err(), first);
    assert_eq!(guest.goodbye().unwrap_err(), first);
}

#[test]
fn goodbyes_that_go_wrong() {
    for (mode, name) in [("ends_badly", "exited"), ("stays_on", "stays_on")] {
        let stage = Stage::of("bad.py", mode);
        let limits = if mode == "stays_on" { SHORT } else { PATIENT };
        let guest = GuestPlanner::start(&stage.command(), limits).unwrap();
        let fault = guest.goodbye().unwrap_err();
        assert_eq!((fault.question, fault.kind.name()), (Question::Goodbye, name), "{mode}");
        stage.assert_gone();
    }
}

#[test]
fn records_that_are_none() {
    let ask = |mode: &str| {
        let stage = Stage::of("bad.py", mode);
        let mut guest = GuestController::start(&stage.command(), PATIENT).unwrap();
        guest.begin(&axis()).unwrap();
        let answer = guest.tick(&ControlView { tick: 41, ..ControlView::default() });
        drop(guest);
        stage.assert_gone();
        answer
    };
    for (mode, name, told) in [
        ("record_nan", "bad_record", "axes[0].a of its record is NaN"),
        ("record_huge", "bad_record", "axes[0].a of its record is 1e300"),
        ("record_other_tick", "bad_record", "tick of its record is 42: must be 41"),
        ("record_no_magic", "bad_record", "magic of its record is 0x00000000"),
        ("record_short", "exited", "exit code 5"),
        ("record_twice", "unasked", "nobody had asked"),
        ("record_gives_up", "gave_up", "it gave up"),
    ] {
        let fault = ask(mode).expect_err(mode);
        assert_eq!((fault.question, fault.kind.name()), (Question::Record, name), "{mode}");
        assert!(fault.to_string().contains(told), "{mode}: {fault}");
    }
}

/// Whoever lets go of a guest ends it, and what it has started.
#[test]
fn a_dropped_guest_is_gone() {
    let stage = Stage::of("bad.py", "ignores_the_end");
    let guest = GuestPlanner::start(&stage.command(), PATIENT).unwrap();
    assert_eq!(stage.group().len(), 1);
    drop(guest);
    stage.assert_gone();
}

/// Ctrl-C in the middle of an answer that never comes.
#[test]
fn a_work_that_is_broken_off_ends_its_guest() {
    let stage = Stage::of("bad.py", "never_reads");
    let asked = AtomicUsize::new(0);
    let stop = Stop::new(move |_| asked.fetch_add(1, Ordering::Relaxed) > 3);
    assert_eq!(stop.watch(|| planner(&stage, PATIENT)), Err(Stopped));
    stage.assert_gone();
}
