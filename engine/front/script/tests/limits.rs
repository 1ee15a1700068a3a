//! What ends a script, and how that is told.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicUsize, Ordering};
use std::time::{Duration, Instant};

use dryturn_record::ledger::Line;
use dryturn_script::{
    ErrorKind, Host, Limits, ScriptError, Settings, run, run_kept, within_limits,
};
use dryturn_units::noise::Seed;
use dryturn_units::stop::checkpoint;

/// A host that does as it is told.
struct Odd {
    limits: Limits,
    stopped: AtomicBool,
    bytes: AtomicUsize,
}

impl Odd {
    fn new(limits: Limits) -> Arc<Self> {
        Arc::new(Self { limits, stopped: AtomicBool::new(false), bytes: AtomicUsize::new(0) })
    }
}

impl Host for Odd {
    fn read_text(&self, path: &str) -> Result<String, String> {
        match path {
            "workbench.ron" => std::fs::read_to_string("../../../scenes/workbench.ron")
                .map_err(|error| error.to_string()),
            "stop" => {
                self.stopped.store(true, Ordering::Relaxed);
                Err("stopped".to_owned())
            }
            "grow" => {
                self.bytes.store(2_000_000_000, Ordering::Relaxed);
                Err("grown".to_owned())
            }
            _ => panic!("a bug in reading {path}"),
        }
    }

    fn progress(&self, _: &str, _: usize, _: usize) {}

    fn stopped(&self) -> bool {
        self.stopped.load(Ordering::Relaxed)
    }

    fn limits(&self) -> Limits {
        self.limits
    }

    fn bytes_in_use(&self) -> Option<usize> {
        Some(self.bytes.load(Ordering::Relaxed))
    }

    fn panicked_at(&self) -> Option<String> {
        Some("odd.rs:1".to_owned())
    }
}

fn fault(text: &str, limits: Limits) -> ScriptError {
    run("s.rhai", text, Seed::new(9), Odd::new(limits)).unwrap_err()
}

#[test]
fn a_panic_ends_the_script_alone_with_all_that_is_to_be_reported() {
    let error = fault("note(1);\n try { scene(\"x\"); } catch (e) { }", Limits::default());
    assert_eq!((error.kind, error.line), (ErrorKind::Ours, Some(2)));
    for part in ["odd.rs:1", "a bug in reading x", "seed 9", "in scene(…) at line 2"] {
        assert!(error.message.contains(part), "{error}");
    }
}

#[test]
fn who_is_stopped_keeps_what_was_done() {
    let text = "expect(true, \"first\"); note(1);\n\
                try { scene(\"stop\"); } catch (e) { } expect(true, \"second\");";
    let host = Odd::new(Limits::default());
    let (record, end) = run_kept("s.rhai", text, (Seed::new(1), &Settings::new()), host);
    assert_eq!(end.unwrap_err().kind, ErrorKind::Stopped);
    assert!(record.unfinished);
    assert_eq!((record.expectations.len(), record.notes.len()), (1, 1));
    assert!(matches!(record.ledger.last(), Some(Line::End(end)) if end.unfinished));
}

#[test]
fn memory_is_asked_for_at_every_operation() {
    let error = fault("try { scene(\"grow\"); } catch (e) { }\n loop { }", Limits::default());
    assert_eq!(error.kind, ErrorKind::Script);
    assert!(
        error.message.contains(
            "took its 1 GB of memory (--memory, an 8th for the system's own): 2 GB are in use"
        ),
        "{error}"
    );
}

/// In every kind of callback the same count goes on.
#[test]
fn operations_are_counted_over_callbacks() {
    for call in [
        "[1].map(|x| f(x))",
        "[1].filter(|x| f(x))",
        "[1, 2].reduce(|a, x| f(x))",
        "[1, 2].sort(|a, b| f(a))",
        "[1].some(|x| f(x))",
        "[1].for_each(|| f(1))",
        "#{a: 1}.filter(|k, v| f(v))",
        "let a = [1]; a.retain(|x| f(x))",
    ] {
        // Less than all that is allowed in each of them, more in all together.
        let text = format!("fn f(x) {{ for i in 0..300000 {{ }} x }} loop {{ {call}; }}");
        let error = fault(&text, Limits::default());
        assert!(error.message.contains("more than 5000000 operations"), "{call}: {error}");
    }
}

#[test]
fn long_verbs_end_in_time() {
    let limits = Limits { timeout: Duration::from_millis(200), ..Limits::default() };
    let bench = "let f = scene(\"workbench.ron\").resized(320, 240)\
                 .changed(\"cameras.*.samples_px\", 1); let p = plan_of(\"R U F D L B\");";
    for call in [
        "plan(random_cube(1), 1000000000);",
        "plans(f, 1000, 1000000);",
        "survey(f, 100000);",
        "drill_rehearsals(f, 10000);",
        "drill_axes(f, 100000, p);",
        "tune(f, #{ candidates: 1000 });",
        "search_budgets(f, 10000);",
        "compare_rigs(f, f, 10000);",
        "compare_readers(\"a\", f, f, 10000);",
        "loop { costs(f.changed(\"drive.bus_voltage_v\", 24.5)); }",
        "scan(build(f.resized(2000, 2000).changed(\"cameras.*.samples_px\", 1024)), solved());",
        "let r = build(f); let l = run_log(r, execute(r, solved(), p)); \
         loop { overlay(f.changed(\"cube.tension_ratio\", 1.1), p, l); }",
        "let l = bench_log(build(f), \"R\"); loop { identify(f, [l]); }",
        "loop { calibrate(build(f)); }",
        "frames(f, 150, \"s\");",
    ] {
        let started = Instant::now();
        let error = fault(&format!("{bench} {call}"), limits);
        let took_s = started.elapsed().as_secs_f64();
        assert!(
            error.message.contains("took its 0.2 s (--timeout); it was in "),
            "{call}: {error}"
        );
        assert!(took_s < 3.0, "{call} took {took_s} s");
    }
}

#[test]
fn what_is_made_of_a_record_has_the_same_limits() {
    let limits = Limits { timeout: Duration::from_millis(20), ..Limits::default() };
    let endless = || loop {
        checkpoint();
    };
    let host = || Odd::new(limits);
    let error = within_limits::<()>("s.rhai", (Seed::new(1), host()), "report", endless);
    let message = error.unwrap_err().message;
    assert!(message.contains("it was in report(…)"), "{message}");
    let error = within_limits::<()>("s.rhai", (Seed::new(1), host()), "report", || panic!("odd"));
    assert_eq!(error.unwrap_err().kind, ErrorKind::Ours);
    assert_eq!(within_limits("s.rhai", (Seed::new(1), host()), "report", || 5).unwrap(), 5);
}

#[test]
fn who_expects_nothing_passes_only_if_allowed() {
    let strict = Limits { allow_none: false, ..Limits::default() };
    let failed =
        |text: &str, limits| run("s.rhai", text, Seed::new(1), Odd::new(limits)).unwrap().failed();
    assert_eq!(failed("note(1);", strict), 1);
    assert_eq!(failed("", strict), 1);
    assert_eq!(failed("expect(true, \"a\");", strict), 0);
    assert_eq!(failed("note(1);", Limits::default()), 0);
}
