//! What hostile scripts ask of verbs.

/// A scene, a rig, a scan and a plan that later lines use.
pub(super) const BEFORE: &str = "let f = scene(\"../scenes/workbench.ron\"); let r = build(f); \
                      let c = random_cube(1); let p = plan_of(\"R U2 F' D L2 B\");\n";

/// The same after a scene, a rig `r`, a cube `c` and a plan `p`.
pub(super) const VERBS: &[(&str, &str)] = &[
    ("long plan", "plan(c, 1000000000);"),
    ("long plan for the rig", "plan(r, c, 1000000000);"),
    ("long plan, caught", "loop { try { plan(c, 1000000000); } catch (e) { } }"),
    ("many plans", "loop { plan(random_cube(3), 100000); }"),
    ("plans of a thousand", "plans(f, 1000, 1000000000);"),
    ("textbook plans", "let i = 0; loop { textbook_plan(random_cube(i)); i += 1; }"),
    ("long survey", "survey(f, 100000);"),
    ("surveys", "let k = []; loop { k.push(survey(f, 0)); }"),
    ("large survey", "survey(f.resized(3000, 3000), 5);"),
    ("long drill", "drill_rehearsals(f, 10000);"),
    ("long drill of the axes", "drill_axes(f, 100000);"),
    ("drills of the axes", "let k = []; loop { k.push(drill_axes(f, 1000, p)); }"),
    (
        "drill of long plans",
        "let s = \"R\"; for i in 0..9000 { s += \" U R\"; } drill_axes(f, 1000, plan_of(s));",
    ),
    ("long run", "let s = \"R\"; for i in 0..9000 { s += \" U R\"; } execute(r, c, plan_of(s));"),
    ("runs", "let k = []; loop { k.push(execute(r, c, p)); }"),
    ("runs of nothing", "let k = []; loop { k.push(execute(r, c, plan_of(\"\"))); }"),
    ("runs shown", "loop { show_run(execute(r, c, p), \"a\"); }"),
    ("run logs", "let k = []; let e = execute(r, c, p); loop { k.push(run_log(r, e)); }"),
    (
        "logs saved",
        "let e = execute(r, c, p); let l = run_log(r, e); let i = 0; loop { save_log(l, \"l\" + i); i += 1; }",
    ),
    ("squares", "let e = execute(r, c, p); loop { square(r, e); }"),
    ("scans kept", "let k = []; loop { k.push(scan(r, c)); }"),
    (
        "scans of many rigs",
        "let k = []; let i = 0; loop { let b = build(f, i); scan(b, c); k.push(b); i += 1; }",
    ),
    ("large scan", "scan(build(f.resized(3000, 3000)), c);"),
    (
        "large scan of many rays",
        "scan(build(f.resized(3000, 3000).changed(\"cameras.*.samples_px\", 1024)), c);",
    ),
    ("large scan, turned", "scan_turned(build(f.resized(3000, 3000)), c, \"R\", 25);"),
    (
        "large scan, turning",
        "scan_turning(build(f.resized(2048, 2048).changed(\"cameras.*.samples_px\", 64)), c, \"R\", 0, 900);",
    ),
    (
        "large scans at bounce",
        "scan(build(f.resized(2048, 2048).changed(\"surroundings.bounce\", true)), c);",
    ),
    (
        "middling scans kept",
        "let b = build(f.resized(1024, 1024)); let k = []; loop { k.push(scan(b, c)); }",
    ),
    (
        "middling scans saved",
        "let b = build(f.resized(1024, 1024)); let s = scan(b, c); let i = 0; loop { save_scan(s, \"s\" + i); i += 1; }",
    ),
    (
        "middling rigs",
        "let k = []; let i = 0; loop { let b = build(f.resized(1024, 1024), i); scan(b, c); k.push(b); i += 1; }",
    ),
    ("sheets", "let s = scan(r, c); let a = []; a.pad(40, s); loop { contact_sheet(a, \"x\"); }"),
    (
        "large sheets",
        "let s = scan(build(f.resized(1024, 768)), c); let a = []; a.pad(48, s); for i in 0..30 { contact_sheet(a, \"x\"); }",
    ),
    (
        "sheet of too many",
        "let s = scan(r, c); let a = []; a.pad(9999, s); contact_sheet(a, \"x\");",
    ),
    ("pass scans", "let s = rehearse(f); let k = []; loop { k.push(s.scan); }"),
    ("passes", "let i = 0; let k = []; loop { k.push(rehearse(f, i)); i += 1; }"),
    ("large pass", "rehearse(f.resized(3000, 3000));"),
    ("large passes shown", "for i in 0..30 { rehearse(f.resized(1024, 1024), i); }"),
    ("calibrations", "let k = []; loop { k.push(calibrate(r)); }"),
    ("large calibration", "calibrate(build(f.resized(3000, 3000)));"),
    (
        "calibration of many",
        "let a = []; a.pad(100, c); calibrate(build(f.resized(1024, 1024)), a);",
    ),
    (
        "read together",
        "let k = calibrate(r); let s = scan(r, c); let a = []; a.pad(100, s); loop { read(r, k, a); }",
    ),
    (
        "read large",
        "let b = build(f.resized(2048, 2048)); let s = scan(b, c); let k = calibrate(b); let a = []; a.pad(100, s); read(b, k, a);",
    ),
    ("readers", "compare_readers(\"a\", f, f, 10000);"),
    ("sets", "frames(f, 150, \"s\");"),
    ("large sets", "frames(f.resized(600, 600), 130, \"s\");"),
    ("too large sets", "frames(f.resized(3000, 3000), 150, \"s\");"),
    ("varied sets", "frames(f, 150, #{vary: [\"lamps.*.flux_lm=1..2\"]}, \"s\");"),
    ("tuning", "tune(f, #{candidates: 1000, proof: 100000});"),
    ("tunings", "loop { tune(f, #{candidates: 8, proof: 1}); }"),
    ("budgets", "search_budgets(f, 10000);"),
    ("large budgets", "search_budgets(f, 10000, [1000000000]);"),
    ("rigs compared", "compare_rigs(f, f, 10000);"),
    (
        "costs",
        "let i = 0; loop { costs(f.changed(\"drive.bus_voltage_v\", 20.0 + i * 0.001)); i += 1; }",
    ),
    (
        "transitions",
        "let i = 0; loop { transitions(f.changed(\"drive.bus_voltage_v\", 20.0 + i * 0.001)); i += 1; }",
    ),
    ("leads", "loop { leads(f); }"),
    ("scenes", "let k = []; loop { k.push(f.changed(\"lamps.*.flux_lm\", \"x0.999\")); }"),
    ("scenes of size", "let k = []; loop { k.push(f.resized(3000, 3000)); }"),
    ("rigs", "let k = []; let i = 0; loop { k.push(build(f, i)); i += 1; }"),
    ("bench logs", "let k = []; loop { k.push(bench_log(r, \"R\")); }"),
    ("long bench log", "let m = []; m.pad(100, [2, 0.001]); bench_log(r, \"R\", m);"),
    ("coasting", "loop { coast_log(r, \"R\", [2, 1.0]); }"),
    ("identify", "let l = bench_log(r, \"R\"); loop { identify(f, [l]); }"),
    (
        "identify many",
        "let l = []; for i in 0..100 { l.push(bench_log(build(f, i), \"R\")); } identify(f, l);",
    ),
    (
        "overlay",
        "let e = execute(r, c, p); let l = run_log(r, e); let g = f.changed(\"cube.tension_ratio\", 1.1); loop { overlay(g, p, l); }",
    ),
    (
        "rig plans",
        "let s = rehearse(f); let i = 0; loop { save_rig_plan(s, \"r\" + i, 0.01); i += 1; }",
    ),
    (
        "sweeps",
        "let d = drill_axes(f, 10, p); loop { let a = []; for i in 0..100 { a.push([i, d]); } show_sweep(\"a\", \"b\", a); }",
    ),
    ("classes", "let k = calibrate(r); let i = 0; loop { save_classes(r, k, \"c\" + i); i += 1; }"),
    (
        "calibrations saved",
        "let k = calibrate(r); let i = 0; loop { save_calibration(k, \"c\" + i); i += 1; }",
    ),
    ("summaries", "let d = drill_axes(f, 300, p); loop { d.summary; time_low_ms(d, 0.5); }"),
    ("moved", "let k = []; loop { k.push(moved_to(r, f)); }"),
    (
        "endless settling",
        "let g = f.changed(\"controller.deadband_deg\", 0.5).changed(\"handover.settle_dwell_ms\", 50).changed(\"handover.settle_window_deg\", 0.05); costs(g); execute(build(g), c, p); drill_axes(g, 10, p);",
    ),
    (
        "no speed loop",
        "let g = f.changed(\"controller.speed_gain_per_s\", 0); costs(g); execute(build(g), c, p);",
    ),
    ("bench that cannot", "bench_log(r, \"R\", [[1, 1.0, 0.25]]);"),
    ("bench that creeps", "bench_log(r, \"R\", [[1, 1e-12]]);"),
    ("coast that cannot", "coast_log(r, \"R\", [1, 1e-9, 1e-9]);"),
    ("friction", "bench_log(build(f.changed(\"drive.friction_torque_n_m\", 0.41)), \"R\");"),
    ("tension", "bench_log(build(f.changed(\"cube.tension_ratio\", 2.7)), \"R\");"),
    ("names", "let s = \"a\"; for i in 0..16 { s += s; } show_run(execute(r, c, p), s);"),
    (
        "text as scene",
        "changed(f, \"name\", \"../../x\"); changed(f, \"cameras.0.name\", \"<b>\");",
    ),
    ("fields of length", "let s = \"a\"; for i in 0..16 { s += s; } changed(f, s, 1);"),
    ("fields with stars", "changed(f, \"*.*.*.*\", 1);"),
];

/// Calls with a count, where `#` stands.
pub(super) const COUNTS: &[&str] = &[
    "random_cube(#);",
    "build(f, #);",
    "plan(c, #);",
    "plan(r, c, #);",
    "plans(f, #);",
    "plans(f, 1, #);",
    "survey(f, #);",
    "drill_rehearsals(f, #);",
    "drill_axes(f, #, p);",
    "rehearse(f, #);",
    "f.resized(#, 64);",
    "f.resized(64, #);",
    "frames(f, #, \"s\");",
    "compare_readers(\"a\", f, f, #);",
    "search_budgets(f, #, [1000]);",
    "search_budgets(f, 1, [#]);",
    "compare_rigs(f, f, #);",
    "tune(f, #{candidates: #});",
    "tune(f, #{proof: #, candidates: 8});",
    "scan_turned(r, c, \"R\", #);",
    "scan_turning(r, c, \"R\", #, #);",
    "bench_log(r, \"R\", [[#, 1.0]]);",
    "bench_log(r, \"R\", [[1, #]]);",
    "identify(f, [], #);",
    "rounded(#, #);",
    "time_ms(drill_axes(f, 2, p), #);",
    "changed(f, \"drive.bus_voltage_v\", #);",
    "changed(f, \"cameras.*.samples_px\", #);",
    "further_trials(drill_axes(f, 2, p), #);",
    "save_rig_plan(rehearse(f), \"r\", #);",
];

/// What stands there.
pub(super) const NUMBERS: [&str; 6] =
    ["-1", "0", "9223372036854775807", "(-9223372036854775807 - 1)", "(0.0 / 0.0)", "1e308"];
