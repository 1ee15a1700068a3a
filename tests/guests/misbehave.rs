//! Guests that misbehave in whole rehearsals, in every part: each pass ends as documented, nothing is
//! left running, the ledger is whole.

use std::fmt::Write as _;

use dryturn_record::ledger::Line;
use dryturn_rehearsal::Verdict;

use super::{lines, scene};
use crate::help;

/// Answers that never come are waited for so long, ms; others, and those to goodbye of guests that
/// go on after their fault, so long.
const SHORT_MS: u32 = 400;
const PATIENT_MS: u32 = 3000;

/// Part, what it does (`tests/guests/bad.py` of the crate `guests`), and the kind of its fault.
const BAD: [(&str, &str, &str); 45] = [
    ("planner", "dies_at_start", "exited"),
    ("planner", "never_says_hello", "too_late"),
    ("planner", "wrong_version", "wrong_version"),
    ("planner", "answers_before_asked", "unasked"),
    ("planner", "never_reads", "too_late"),
    ("planner", "ignores_the_end", "too_late"),
    ("planner", "ends_badly", "exited"),
    ("planner", "stays_on", "bad_field"),
    ("planner", "dies_mid_answer", "exited"),
    ("planner", "dies_by_signal", "exited"),
    ("planner", "stops_itself", "too_late"),
    ("planner", "floods", "too_long"),
    ("planner", "nan", "not_json"),
    ("planner", "huge", "not_json"),
    ("planner", "large", "bad_field"),
    ("planner", "thousand_turns", "too_many_turns"),
    ("planner", "closes_stdout", "closed_output"),
    ("planner", "leaves_a_child", "exited"),
    ("planner", "keeps_a_child", "too_late"),
    ("planner", "wrong_id", "wrong_id"),
    ("planner", "not_utf8", "not_utf8"),
    ("planner", "no_line_end", "too_late"),
    ("planner", "empty_line", "not_json"),
    ("planner", "prose", "not_json"),
    ("planner", "notification", "not_a_response"),
    ("planner", "no_version", "not_a_response"),
    ("planner", "unknown_field", "bad_field"),
    ("planner", "no_turns", "bad_field"),
    ("planner", "solves_nothing", "does_not_solve"),
    ("planner", "error_once", "error_answer"),
    ("controller", "record_nan", "bad_record"),
    ("controller", "record_huge", "bad_record"),
    ("controller", "record_other_tick", "bad_record"),
    ("controller", "record_no_magic", "bad_record"),
    ("controller", "record_short", "exited"),
    ("controller", "record_gives_up", "gave_up"),
    ("controller", "never_reads", "too_late"),
    ("controller", "dies_by_signal", "exited"),
    ("host", "nan", "not_json"),
    ("host", "stops_itself", "too_late"),
    ("host", "wrong_id", "wrong_id"),
    ("reader", "illegal_cube", "illegal_cube"),
    ("reader", "prose", "not_json"),
    ("reader", "never_reads", "too_late"),
    ("reader", "floods", "too_long"),
];

/// Live processes of a group: `/proc/PID/stat` is number, (name), state, parent, group (proc(5)).
fn group(leader: &str) -> Vec<String> {
    let stats = std::fs::read_dir("/proc")
        .unwrap()
        .filter_map(|entry| std::fs::read_to_string(entry.ok()?.path().join("stat")).ok());
    let in_group = |stat: &String| {
        let mut fields = stat.rsplit(')').next().unwrap_or_default().split_whitespace();
        fields.next() != Some("Z") && fields.nth(1) == Some(leader)
    };
    stats.filter(in_group).collect()
}

#[test]
fn each_ends_its_pass_as_documented() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    scene(at, &[]);
    let bad = help::root().join("engine/front/guests/tests/guests/bad.py");
    let mut script = "let bench = scene(\"bench.ron\");\n\
                      let colours = calibrate(build(bench));\n\
                      let cube = cube_after(\"R U2 F'\");\n"
        .to_owned();
    for (number, (role, mode, kind)) in BAD.iter().enumerate() {
        let (limit, value) = match (*kind, *mode) {
            ("too_late", "never_says_hello") => ("start_limit_ms", SHORT_MS),
            ("too_late", _) => ("limit_ms", SHORT_MS),
            _ => ("limit_ms", PATIENT_MS),
        };
        writeln!(
            script,
            "let bad = bench.changed(\"guests.{role}.command\", [\"python3\", {:?}, \"{mode}\", \
             \"pid-{number}\"]).changed(\"guests.{role}.{limit}\", {value});\n\
             let pass = rehearse(build(bad), colours, cube);\n\
             expect(pass.verdict == \"guest\", \"{role} {mode}\");\n\
             expect(pass.guest_fault.kind == \"{kind}\", \"{role} {mode}: \" + pass.guest_fault);",
            bad.to_str().unwrap(),
        )
        .unwrap();
    }
    std::fs::write(at.join("bad.rhai"), script).unwrap();
    let call = help::call(at, &["rehearse", "bad.rhai", "--out", "out", "--allow-guests"]);
    assert_eq!(call.code, 0, "{}{}", call.stdout, call.stderr);
    let (_, lines) = lines(at);
    let judged = lines.iter().filter_map(|line| match line {
        Line::Judge(line) => Some((line.verdict, line.guest_fault.clone()?)),
        _ => None,
    });
    let judged: Vec<_> = judged.collect();
    assert_eq!(judged.len(), BAD.len());
    for ((verdict, fault), (role, mode, kind)) in judged.iter().zip(BAD) {
        assert_eq!((*verdict, fault.role.word()), (Verdict::Guest, role), "{mode}");
        assert_eq!(fault.fault.kind, kind, "{mode}");
        assert!(fault.fault.stderr.len() <= 10);
    }
    for (number, guest) in BAD.iter().enumerate() {
        let leader = std::fs::read_to_string(at.join(format!("pid-{number}"))).unwrap();
        let left = group(&leader);
        assert!(left.is_empty(), "{guest:?} left {left:?}");
    }
}
