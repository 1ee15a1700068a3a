//! The command `drill-axes`, and the verbs about the axes.

mod bad_settings;
mod failures;

use std::path::Path;

use serde_json::Value as Json;

use crate::help;

/// Calls `drill-axes` on the workbench.
fn drill(at: &Path, more: &[&str]) -> help::Call {
    let scene = help::root().join("scenes/workbench.ron").display().to_string();
    help::call(at, &[&["drill-axes", &scene], more].concat())
}

fn json(call: &help::Call) -> Json {
    assert_eq!(call.code, 0, "{}", call.stderr);
    serde_json::from_str(&call.stdout).unwrap()
}

/// Rows of a CSV by column.
struct Table {
    columns: Vec<String>,
    rows: Vec<Vec<String>>,
}

impl Table {
    fn read(path: &Path) -> Self {
        let mut reader = csv::Reader::from_path(path).unwrap();
        let text = |record: &csv::StringRecord| record.iter().map(str::to_owned).collect();
        let columns = text(reader.headers().unwrap());
        // The reader refuses rows of another length.
        let rows = reader.records().map(|record| text(&record.unwrap())).collect();
        Self { columns, rows }
    }

    fn column(&self, name: &str) -> Vec<&str> {
        let at = self.columns.iter().position(|column| column == name).expect(name);
        self.rows.iter().map(|row| row[at].as_str()).collect()
    }

    fn numbers(&self, name: &str) -> Vec<f64> {
        self.column(name).into_iter().map(|text| text.parse().expect(name)).collect()
    }
}

/// A drill in which some trials complete, some jam and some stop.
const MIXED: [&str; 6] = [
    "--plans",
    "4",
    "--set",
    "tolerances.homing_error_sigma_deg=0.7",
    "--set",
    "tolerances.tension_spread_sigma_share=0.3",
];

/// JSON, CSV and page tell the same.
#[test]
fn the_figures_of_a_drill_agree() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let call = drill(at, &[&MIXED[..], &["--trials", "80", "--json", "--out", "out"]].concat());
    let document = json(&call);
    assert!(call.stderr.contains(" a second"), "{}", call.stderr);
    let file = std::fs::read_to_string(at.join("out/drill_axes.json")).unwrap();
    assert_eq!(serde_json::from_str::<Json>(&file).unwrap(), document);
    let page = std::fs::read_to_string(at.join("out/drill_axes.html")).unwrap();
    assert!(page.contains("homing_error_sigma_deg = 0.7") && page.contains("brake resistor"));
    for text in [&file, &page] {
        assert!(!text.contains(" a second"), "what depends on the machine is in no file");
    }
    let table = Table::read(&at.join("out/drill_axes.csv"));
    assert_eq!((table.rows.len(), &document["trials"]), (80, &80.into()));
    let trials: Vec<String> = (0..80).map(|number| number.to_string()).collect();
    assert_eq!(table.column("trial"), trials);
    assert_eq!(document["plans"].as_array().unwrap().len(), 4);
    let plans = table.numbers("plan");
    assert!(plans.iter().zip(0..).all(|(&plan, number)| plan == f64::from(number % 4 + 1)));
    let ends = table.column("end");
    for end in ["completed", "jammed", "stopped"] {
        let count = ends.iter().filter(|&&e| e == end).count();
        assert_eq!(document[end]["count"], count, "{end}");
        assert!(count > 0, "{end}: the settings shall give all three");
        let bound = |key: &str| document[end][key].as_f64().unwrap();
        let share = count as f64 / 80.0;
        assert!(bound("wilson_95_low") < share && share < bound("wilson_95_high"));
    }
    let failed: Vec<usize> = (0..80).filter(|&i| ends[i] != "completed").collect();
    assert_eq!(document["failed"], Json::from(failed.clone()));
    let pushed = table.numbers("pushed");
    assert_eq!(document["pushed"]["count"], pushed.iter().filter(|&&p| p > 0.0).count());
    // All failures, split by kind, are those rows; each row names its kind.
    assert_eq!(document["failures"]["count"], failed.len());
    let kinds = document["kinds"].as_array().unwrap();
    let rows = table.column("failure_kind");
    for kind in kinds {
        let key = kind["kind"].as_str().unwrap();
        assert_eq!(kind["count"], rows.iter().filter(|row| **row == key).count(), "{key}");
        assert!(page.contains(kind["says"].as_str().unwrap()), "{key}");
    }
    let sum = |list: &Json| {
        list.as_array().unwrap().iter().map(|k| k["count"].as_u64().unwrap()).sum::<u64>()
    };
    assert_eq!(
        (sum(&document["kinds"]), sum(&document["reasons"])),
        (failed.len() as u64, failed.len() as u64)
    );
    assert!((0..80).all(|i| rows[i].is_empty() == (ends[i] == "completed")));
    // Every jam and every face that got through is somebody's blame.
    let blame = document["blame"].as_array().unwrap();
    let sum = |key: &str| blame.iter().map(|row| row[key].as_u64().unwrap()).sum::<u64>();
    assert_eq!(document["jammed"]["count"], sum("jams"));
    assert_eq!(pushed.iter().sum::<f64>(), sum("pushed") as f64);
    let axes = document["axes"].as_array().unwrap();
    let late: u64 = axes.iter().map(|axis| axis["late"].as_u64().unwrap()).sum();
    assert_eq!(document["jammed"]["count"], late);
    times_agree(&document, &table);
    let least = table.numbers("safety_factor").into_iter().fold(f64::INFINITY, f64::min);
    assert_eq!(document["safety_factor"]["least"], least);
    let most = table.numbers("peak_torque_n_m").into_iter().fold(0.0, f64::max);
    assert_eq!(document["peak_torque_n_m"], most);
    // A row says how it ended, and nothing else.
    let (verdicts, causes) = (table.column("jam_verdict"), table.column("cause"));
    for (i, &end) in ends.iter().enumerate() {
        assert_eq!(verdicts[i].is_empty(), end != "jammed", "row {i}");
        assert_eq!(causes[i].is_empty(), end != "stopped", "row {i}");
    }
}

/// No run beats its bound, and quantiles are those of the completed rows.
fn times_agree(document: &Json, table: &Table) {
    let (times, bounds) = (table.numbers("time_ms"), table.numbers("bound_ms"));
    let ends = table.column("end");
    let mut completed = Vec::new();
    for i in (0..times.len()).filter(|&i| ends[i] == "completed") {
        assert!(bounds[i] < times[i], "row {i}: {} beats {}", times[i], bounds[i]);
        completed.push(times[i]);
    }
    completed.sort_by(f64::total_cmp);
    let close = |value: &Json, wanted: f64| {
        assert!((value.as_f64().unwrap() - wanted).abs() < 1e-9 * wanted, "{value}, not {wanted}");
    };
    let n = completed.len();
    let median = 0.5 * (completed[(n - 1) / 2] + completed[n / 2]);
    let found = &document["time_ms"]["median"];
    close(&found["ms"], median);
    assert!(found["bootstrap_95_low"].as_f64().unwrap() <= median);
    assert!(median <= found["bootstrap_95_high"].as_f64().unwrap());
    close(&document["time_ms"]["longest"], completed[n - 1]);
    close(&document["bound_ms"], bounds.iter().sum::<f64>() / bounds.len() as f64);
}

/// Without a jam in n trials the exact one-sided 95 % bound is 1 − 0.05^(1/n), nearly 3/n
/// (J. A. Hanley and A. Lippman-Hand, J. Am. Med. Assoc. 249, 1983), and the upper end of
/// Wilson's interval z²/(n + z²), from his formula with no success (from memory).
#[test]
fn no_jam_is_no_proof() {
    let folder = tempfile::tempdir().unwrap();
    let document = json(&drill(folder.path(), &["--trials", "40", "--plan", "R U F'", "--json"]));
    assert_eq!(document["jammed"]["count"], 0);
    let bound = document["jams_exact_95_upper"].as_f64().unwrap();
    assert!((bound - (1.0 - 0.05f64.powf(1.0 / 40.0))).abs() < 1e-9, "{bound}");
    let z2 = 1.959_963_985f64.powi(2);
    let wilson = document["jammed"]["wilson_95_high"].as_f64().unwrap();
    assert!((wilson - z2 / (40.0 + z2)).abs() < 1e-9, "{wilson}");
}

/// The same bytes with one thread and with two, also where values are compared; another
/// seed gives others.
#[test]
fn threads_change_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    for more in [&[][..], &["--compare", "drive.bus_voltage_v=30,48"]] {
        let files = |out: &str, threads: &str, seed: &str| {
            let own = ["--trials", "30", "--threads", threads, "--seed", seed, "--out", out];
            let call = drill(at, &[&MIXED[..], &own, more].concat());
            assert_eq!(call.code, 0, "{}", call.stderr);
            let files = help::contents(&at.join(out));
            std::fs::remove_dir_all(at.join(out)).unwrap();
            (files, call.stdout)
        };
        let one = files("one", "1", "5");
        assert!(one.0.keys().len() >= 3 && one.1.contains("median"));
        assert!(one == files("two", "2", "5"), "{more:?}");
        assert!(one.0["drill_axes.csv"] != files("other", "2", "6").0["drill_axes.csv"]);
    }
}

/// One drill a value, ascending, with the same plans and the same luck.
#[test]
fn values_are_compared_fairly() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let compare = |list: &str| {
        let arguments = ["--trials", "40", "--plans", "3", "--json", "--out", "out", "--compare"];
        json(&drill(at, &[&arguments[..], &[list]].concat()))
    };
    let document = compare("drive.bus_voltage_v=48,30,36");
    let drills = document["drills"].as_array().unwrap();
    let values: Vec<f64> = drills.iter().map(|drill| drill["value"].as_f64().unwrap()).collect();
    assert_eq!(values, [30.0, 36.0, 48.0]);
    let medians: Vec<f64> =
        drills.iter().map(|d| d["time_ms"]["median"]["ms"].as_f64().unwrap()).collect();
    assert!(medians.is_sorted_by(|a, b| a > b), "more voltage is sooner done: {medians:?}");
    assert!(drills.iter().all(|drill| drill["plans"] == drills[0]["plans"]));
    let table = Table::read(&at.join("out/drill_axes.csv"));
    assert_eq!(table.rows.len(), 120);
    assert_eq!(table.numbers("value")[39..41], [30.0, 36.0]);
    // What changes nothing about the axes changes nothing about their luck.
    let document = compare("reader.certainty_share=0.9,0.99");
    let drills = document["drills"].as_array().unwrap();
    assert_eq!(drills[0]["time_ms"], drills[1]["time_ms"]);
}

/// Plans from the command line and from a file are the same plans.
#[test]
fn plans_come_from_notation_or_a_file() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    std::fs::write(at.join("plans.txt"), "# two plans\nR U2 F'\n\nL R  # together\n").unwrap();
    let typed =
        json(&drill(at, &["--trials", "6", "--json", "--plan", "R U2 F'", "--plan", "L R"]));
    let filed = json(&drill(at, &["--trials", "6", "--json", "--plans-from", "plans.txt"]));
    assert_eq!(typed, filed);
    assert_eq!(typed["plans"], serde_json::json!(["R U2 F'", "L R"]));
}

const VERBS: &str = r#"
    let bench = scene("workbench.ron");
    let costs = costs(bench);
    expect(costs.quarter_ms < costs.half_ms, "a half turn takes longer");
    expect(costs.half_ms < 2 * costs.quarter_ms, "but not twice as long");
    expect_near(costs.half_per_quarter, costs.half_ms / costs.quarter_ms, 1e-9, "ratio");
    expect_near(costs.pair_ms, costs.quarter_ms, 2, "opposite faces together cost as one");
    let plan = plan_of("R L' U2");
    expect(plan.turns == 3 && plan.beats == 2, "R and L' share a beat");

    let rig = build(bench);
    let run = rig.execute(solved(), plan);
    expect(run.completed && !run.jammed, "a tight rig turns it");
    expect(run.failure == () && run.stopped == () && run.jam == (), "nothing failed");
    expect(run.jam_verdict == () && run.noticed_ms == (), "no jam, no verdict");
    expect(run.cube == solved().turned("R L' U2"), "what was planned was turned");
    expect_at_least(run.time_ms, run.bound_ms, "nothing is faster than the bound");
    expect_at_least(run.safety_factor, 1.5, "the shafts hold");
    expect(run.lowest_v <= 48.0 && run.highest_v >= 48.0, "the bus sags and swells");
    expect(run.winding_c > 25.0 && run.resistor_c >= 25.0, "it gets warmer");
    expect(run.pushed == 0 && run.resent == 0, "no trouble");
    expect_near(run.energy.unaccounted_share, 0, 0.01, "energy is conserved");
    expect(run.energy.supply_j > run.energy.friction_j, "friction is not all of it");
    let budget = run.budget("U");
    let sum = budget.encoder + budget.homing + budget.backlash + budget.wind_up + budget.window;
    expect_near(budget.sum, sum, 1e-9, "the budget adds up");
    expect(budget.free < budget.jam, "touching comes before jamming");
    show_run(run, "three turns");
    expect(rig.square(run).ok, "squaring what stands still");

    let loose = bench.changed("tolerances.homing_error_sigma_deg", 3.0);
    let jammed = build(loose).execute(solved(), plan_of("R U F L D B R U F"));
    expect(jammed.jammed && !jammed.completed, "a rig homed so badly jams");
    expect(jammed.failure == jammed.jam, "and says so");
    expect(["stalled", "shaft broken"].contains(jammed.jam_verdict), jammed.jam);

    let plans = plans(bench, 3);
    expect(random_cube(2).turned(plans[2].notation).is_solved, "plans are for random cubes");
    let d = drill_axes(bench, 40, plans);
    expect(d.trials == 40 && d.completed + d.jammed + d.stopped == 40, "all end somehow");
    expect_near(d.jam_rate, d.jammed / 40.0, 1e-9, "rate");
    expect(d.jam_low <= d.jam_rate && d.jam_rate <= d.jam_high, "interval");
    expect(d.jams_at_most > d.jam_rate, "one-sided bound");
    expect(d.failed == d.jammed + d.stopped, "all failures");
    let by_kind = 0;
    for kind in d.kinds.values() { by_kind += kind; }
    expect(by_kind == d.failed, "kinds add up");
    expect_near(d.failure_rate, d.failed / 40.0, 1e-9, "share of failures");
    expect(d.failure_low <= d.failure_rate && d.failure_rate <= d.failure_high, "its interval");
    expect(d.failures_at_most >= d.jams_at_most, "its bound");
    expect(time_low_ms(d, 0.5) <= time_ms(d, 0.5), "interval below");
    expect(time_ms(d, 0.5) <= time_high_ms(d, 0.5), "interval above");
    expect_at_least(time_ms(d, 0), d.bound_ms * 0.8, "no wonder of speed");
    // 3/n (from memory): 299 trials without a failure for "below 1 %".
    expect(d.failed > 0 || d.further_trials(0.01) == 299 - 40, "rule of three");
    expect(d.safety_factor(0) <= d.safety_factor(0.5), "least is least");
    let sweep = [];
    for sigma in [2.0, 0.1] {
        let scene = bench.changed("tolerances.homing_error_sigma_deg", sigma);
        sweep.push([sigma, drill_axes(scene, 40, plan_of("R U F L D B R U F"))]);
    }
    show_sweep("homing", "homing error, degrees", sweep);
    expect(sweep[0][1].jammed > sweep[1][1].jammed, "worse homing, more jams");
    let first = sweep[0][1].blame[0];
    expect(first.jams + first.pushed > 0 && first.late != first.blocked, "somebody is to blame");
    expect(sweep[0][1].summary.contains("failed"), "text");

    let pass = rehearse(bench);
    let budget = pass.start_to_stop;
    let sum = budget.exposure + budget.read_out + budget.transfer + budget.reading
        + budget.search + budget.execution;
    expect_near(budget.total, sum, 1e-6, "start to stop adds up");
    expect_near(budget.execution, pass.time_ms, 1e-6, "execution is the run's time");
    expect(pass.run.completed, "a pass's run can be asked too");
    expect(drill_rehearsals(bench, 2).stopped == 0, "verdicts of a drill");
"#;

fn rehearse(at: &Path, script: &str) -> help::Call {
    std::fs::write(at.join("workbench.ron"), help::read("scenes/workbench.ron")).unwrap();
    std::fs::write(at.join("run.rhai"), script).unwrap();
    help::call(at, &["rehearse", "--allow-none", "run.rhai", "--out", "out"])
}

#[test]
fn the_verbs_about_the_axes_work() {
    let folder = tempfile::tempdir().unwrap();
    let call = rehearse(folder.path(), VERBS);
    assert_eq!(call.code, 0, "{}\n{}", call.stdout, call.stderr);
    let ledger = std::fs::read_to_string(folder.path().join("out/ledger.jsonl")).unwrap();
    let count = |stage: &str| ledger.matches(&format!("\"stage\":\"{stage}\"")).count();
    let stages = ["execute", "square", "drill_axes", "plan"].map(count);
    assert_eq!(stages, [3, 1, 3, 4]);
    crate::written::kept(&ledger);
}

/// A plan whose simulated run something stops is not for a rig either.
#[test]
fn a_stopped_run_makes_no_plan_for_a_rig() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let bench = help::read("scenes/workbench.ron");
    for (block, said) in [
        ("emergency_stop_at_ms: 20.0", "emergency stop"),
        ("link_cut_at_ms: 20.0", "watchdogs let go"),
    ] {
        let faulty = bench.replacen("drive: ()", &format!("drive: (), faults: ({block})"), 1);
        assert_ne!(faulty, bench);
        std::fs::write(at.join("faulty.ron"), faulty).unwrap();
        let arguments = ["plan", "R U F", "--tables", "compact", "--scene", "faulty.ron"];
        let call = help::call(at, &[&arguments[..], &["--for-rig", "--out", "rig"]].concat());
        assert_eq!((call.code, call.stderr.lines().count()), (2, 1), "{}", call.stderr);
        let all = call.stderr.contains("it fails in 300 of 300") && call.stderr.contains(said);
        assert!(all && call.stderr.contains("--unsafe-export"), "{}", call.stderr);
        assert!(!at.join("rig/rig-plan.csv").exists());
    }
}

#[test]
fn verbs_refuse_what_makes_no_sense() {
    let folder = tempfile::tempdir().unwrap();
    for (call, said) in [
        ("drill_axes(bench, 0)", "the number of trials is 0: must be 1 to 100000"),
        ("drill_axes(bench, 100001, plan_of(\"R\"))", "must be 1 to 100000"),
        ("drill_axes(bench, 1, [])", "a list of 0 plans: must be 1 to 1000"),
        ("drill_axes(bench, 1, [solved()])", "plans only"),
        ("plan_of(\"R U3\")", "turn 2 is 'U3'"),
        ("plans(bench, 0)", "the number of plans is 0"),
        ("plans(bench, 1, 0)", "the node budget is 0"),
        ("drill_axes(bench, 1, plan_of(\"R\")).time_ms(1.5)", "share is 1.5: must be 0 to 1"),
        ("drill_axes(bench, 1, plan_of(\"R\")).further_trials(0)", "above 0 and below 1"),
        ("build(bench).execute(solved(), plan_of(\"R\")).budget(\"X\")", "\"X\" is no face"),
        ("show_sweep(\"a\", \"b\", [])", "a sweep of 0 points"),
        ("show_sweep(\"a\", \"b\", [1])", "[value, drill_axes(…)]"),
        ("bench.changed(\"drive.rotor_inertia_kg_m2\", 0.0)", "rotor_inertia_kg_m2 is 0: must be"),
        ("bench.changed(\"drive.friction_torque_n_m\", 0.0 / 0.0)", "NaN is no number"),
    ] {
        let script = format!("let bench = scene(\"workbench.ron\");\n{call};");
        let call_result = rehearse(folder.path(), &script);
        assert_eq!(call_result.code, 2, "{call}: {}", call_result.stdout);
        assert_eq!(call_result.stderr.lines().count(), 1, "{}", call_result.stderr);
        assert!(call_result.stderr.contains(said), "{call}: {}", call_result.stderr);
        assert!(call_result.stderr.contains("run.rhai:2:"), "{}", call_result.stderr);
    }
}
