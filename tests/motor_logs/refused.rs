//! Logs that are not what they should be: code 2, one line that names file, line and
//! column, nothing written.

use std::path::Path;

use dryturn_metrology::motor;

use super::{NOISE, bench, scene, several, to};
use crate::help;

/// Calls a command on a log; the message must hold all of `parts`.
pub(super) fn refused(at: &Path, arguments: &[&str], parts: &[&str]) {
    let call = help::call(at, &[arguments, &["--out", "never"]].concat());
    let said = format!("{arguments:?}: {}{}", call.stdout, call.stderr);
    assert_eq!(call.code, 2, "{said}");
    assert_eq!(call.stderr.lines().count(), 1, "{said}");
    for part in parts {
        assert!(call.stderr.contains(part), "must say {part:?}: {said}");
    }
    assert!(!call.stderr.contains("our fault") && !at.join("never").exists(), "{said}");
}

/// A good log as rows of cells, header first.
fn rows(text: &str) -> Vec<Vec<String>> {
    text.lines().map(|line| line.split(',').map(str::to_owned).collect()).collect()
}

fn joined(rows: &[Vec<String>]) -> String {
    rows.iter().map(|row| row.join(",") + "\n").collect()
}

/// Another value for each number of a column.
fn mapped(text: &str, column: usize, to: impl Fn(f64) -> f64) -> String {
    let mut rows = rows(text);
    for row in &mut rows[1..] {
        row[column] = to(row[column].parse().unwrap()).to_string();
    }
    joined(&rows)
}

/// One cell replaced; the line counts from 1.
fn with(text: &str, line: usize, column: usize, cell: &str) -> String {
    let mut rows = rows(text);
    rows[line - 1][column] = cell.to_owned();
    joined(&rows)
}

/// Without some columns.
fn only(text: &str, columns: &[usize]) -> String {
    let pick = |row: &Vec<String>| columns.iter().map(|&k| row[k].clone()).collect();
    joined(&rows(text).iter().map(pick).collect::<Vec<Vec<String>>>())
}

#[test]
fn logs_of_an_axis() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let scene = scene("TorqueFollowsBus");
    std::fs::write(at.join("w.ron"), scene.to_ron()).unwrap();
    let good = bench(&scene, 1, 0).moves(&several()[..4], NOISE).unwrap().log.csv();
    let lines: Vec<&str> = good.lines().collect();
    let swapped = {
        let mut lines = lines.clone();
        lines.swap(99, 100);
        lines.join("\n")
    };
    let gap = [&lines[..200], &lines[240..]].concat().join("\n");
    let doubled = lines
        .iter()
        .map(|line| format!("{line},{}\n", line.split(',').next().unwrap()))
        .collect::<String>();
    let head = |count: usize| lines[..count].join("\n");
    let moving = {
        // From the middle of a move on, and no further.
        let rest = lines.iter().skip(1);
        let fast =
            |line: &&&str| line.split(',').nth(2).unwrap().parse::<f64>().unwrap().abs() > 20.0;
        let stretch: Vec<&str> = rest.skip_while(|l| !fast(l)).take_while(fast).copied().collect();
        format!("{}\n{}", lines[0], stretch.join("\n"))
    };
    let coasting = bench(&scene, 1, 0).coasting(&to(2.0, 1.0, 0.85), NOISE).unwrap().log.csv();
    let one_move = bench(&scene, 1, 0).moves(&several()[..1], NOISE).unwrap().log.csv();
    let every = |count: usize| {
        let kept: Vec<&str> = lines[1..].iter().step_by(count).copied().collect();
        format!("{}\n{}", lines[0], kept.join("\n"))
    };
    let thin = |text: &str, count: usize| {
        let lines: Vec<&str> = text.lines().collect();
        let kept: Vec<&str> = lines[1..].iter().step_by(count).copied().collect();
        format!("{}\n{}", lines[0], kept.join("\n"))
    };
    let coarse = thin(&bench(&scene, 1, 0).moves(&several(), NOISE).unwrap().log.csv(), 160);
    let slow_coasts = {
        // One coast, of which nobody knows how far another would differ.
        let rows = (0..200).map(|k| {
            let left = 1.0 - f64::from(k.min(150)) / 150.0;
            format!("{},{}\n", f64::from(k) * 2e-3, 600.0 * (1.0 - left * left))
        });
        format!("time_s,angle_deg\n{}", rows.collect::<String>())
    };
    // Steps of a millisecond are just fine enough.
    assert!(motor::axis_log(&every(8), &scene.file().drive).is_ok());
    let cases: Vec<(&str, String, &[&str])> = vec![
        ("unsorted time", swapped, &["line 101, column time_s", "must rise"]),
        ("repeated time", with(&good, 80, 0, "0.009625"), &["line 80, column time_s", "again"]),
        ("one sample", head(2), &["line 2: 1 samples", "50 to 500000"]),
        (
            "nan",
            with(&good, 44, 1, "NaN"),
            &["line 44, column angle_deg", "\"NaN\"", "-1000000 to"],
        ),
        ("infinite", with(&good, 45, 3, "inf"), &["line 45, column current_a", "\"inf\""]),
        ("gap", gap, &["line 201, column time_s", "a gap of 5.", "at most 0.5"]),
        ("milliseconds", mapped(&good, 0, |t| t * 1e3), &["line 3, column time_s", "milliseconds"]),
        (
            "radians",
            mapped(&good, 1, f64::to_radians),
            &["column angle_deg", "speed_rad_s is", "degrees"],
        ),
        ("millidegrees", mapped(&good, 1, |a| a * 1e3), &["column angle_deg", "at most 2000"]),
        (
            "speed in rpm",
            mapped(&good, 2, |v| v * 9.549),
            &["column angle_deg", "must be the same"],
        ),
        (
            "turned the other way",
            mapped(&good, 1, |a| -a),
            &["column angle_deg", "clockwise positive"],
        ),
        (
            "milliamperes",
            mapped(&good, 3, |i| i * 1e3),
            &["column current_a", "at most", "amperes"],
        ),
        (
            "no current at all",
            mapped(&good, 3, |_| 0.0),
            &["line 2, column current_a", "0 in every line"],
        ),
        ("missing column", only(&good, &[0, 2, 3]), &["line 1, column angle_deg: missing"]),
        (
            "unknown column",
            good.replacen("speed_rad_s", "speed_rpm", 1),
            &["line 1, column 3: \"speed_rpm\"", "must be one of time_s"],
        ),
        ("doubled column", doubled, &["line 1, column 5: time_s stands there already"]),
        ("empty file", String::new(), &["line 1: nothing there", "time_s, angle_deg"]),
        ("header only", head(1), &["line 1: 0 samples"]),
        (
            "a short row",
            good.replacen(lines[30], "0.003625,0.1", 1),
            &["line 31: 2 values: must be 4"],
        ),
        (
            "too many fields",
            good.replacen(lines[31], &format!("{},7", lines[31]), 1),
            &["line 32: 5 values"],
        ),
        (
            "text in a number",
            with(&good, 52, 2, "fast"),
            &["line 52, column speed_rad_s: \"fast\""],
        ),
        (
            "comma as decimal mark",
            good.replacen(lines[60], &lines[60].replace('.', ","), 1),
            &["line 61: 8 values"],
        ),
        ("negative time", with(&good, 2, 0, "-0.1"), &["line 2, column time_s", "from 0 to"]),
        (
            "a run's log",
            good.replacen("angle_deg", "angle_U_deg", 1),
            &["line 1, column 2: \"angle_U_deg\""],
        ),
        ("coarse", coarse, &["line 3, column time_s", "0.020000 s", "0.00001 to 0.01 s"]),
        (
            "slow, and too few",
            every(80),
            &["samples in motion", "10.0 ms apart", "samples must be at most", "ms apart"],
        ),
        ("one slow coast", slow_coasts, &["1 move in all", "at least 2"]),
        ("jump", with(&good, 300, 1, "500"), &["line 300, column angle_deg", "jumps by"]),
        (
            "current the other way",
            mapped(&good, 3, |i| -i),
            &["negative", "current_a", "probably reversed"],
        ),
        ("never moves", head(120), &["column angle_deg", "in the whole log", "at least 10°"]),
        ("never rests", moving, &["column angle_deg", "never rests"]),
        (
            "driven, without current",
            only(&good, &[0, 1]),
            &["column angle_deg", "speed grows", "current_a"],
        ),
        ("one move", one_move, &["1 move in all: must be at least 2"]),
        ("binary", "\u{0}\u{1}".to_owned(), &["line 1, column 1"]),
    ];
    for (name, text, parts) in &cases {
        let file = format!("{}.csv", name.replace(' ', "-"));
        std::fs::write(at.join(&file), text).unwrap();
        let parts: Vec<&str> = parts.iter().copied().chain([file.as_str()]).collect();
        refused(at, &["identify", "w.ron", &file], &parts);
    }
    std::fs::write(at.join("latin.csv"), b"time_s,angle_deg\n0,\xb0\n").unwrap();
    refused(at, &["identify", "w.ron", "latin.csv"], &["latin.csv: line 2", "no UTF-8"]);
    std::fs::write(at.join("long.csv"), {
        let mut long = String::from("time_s,angle_deg\n");
        (0..500_001).for_each(|k| long += &format!("{k}e-4,0\n"));
        long
    })
    .unwrap();
    refused(at, &["identify", "w.ron", "long.csv"], &["long.csv: line 500002", "50 to 500000"]);
    std::fs::write(at.join("good.csv"), &good).unwrap();
    std::fs::write(at.join("coasting.csv"), &coasting).unwrap();
    refused(at, &["identify", "w.ron", "none.csv"], &["none.csv"]);
    refused(
        at,
        &["identify", "w.ron", "good.csv", "coasting.csv"],
        &["coasting.csv", "in all logs"],
    );
    // The same log again under another name, and with its clock started later.
    let later = {
        let time = |line: &str| {
            let (time, rest) = line.split_once(',').unwrap();
            format!("{:.6},{rest}\n", time.parse::<f64>().unwrap() + 2.5)
        };
        format!("{}\n{}", lines[0], lines[1..].iter().map(|l| time(l)).collect::<String>())
    };
    std::fs::write(at.join("other.csv"), &coasting).unwrap();
    std::fs::write(at.join("again.csv"), later).unwrap();
    let twice = ["good.csv, again.csv: log 2 is log 1 again", "errors come out too small"];
    refused(at, &["identify", "w.ron", "good.csv", "again.csv"], &twice);
    let twice = ["other.csv, coasting.csv: log 2 is log 1 again"];
    refused(at, &["identify", "w.ron", "other.csv", "coasting.csv"], &twice);
    std::fs::write(at.join("quick.csv"), {
        let line = |k: usize| format!("{:.7},{}\n", k as f64 * 1e-6, 0.01 * k as f64);
        format!("time_s,angle_deg\n{}", (0..20_000).map(line).collect::<String>())
    })
    .unwrap();
    refused(at, &["identify", "w.ron", "quick.csv"], &["quick.csv: line 3", "0.00001 to 0.01 s"]);
    std::fs::write(at.join("slow.csv"), thin(&good, 16)).unwrap();
    refused(at, &["identify", "w.ron", "good.csv", "slow.csv"], &["slow.csv", "1 ms apart"]);
    refused(at, &["identify", "w.ron", "good.csv", "--held-out", "5"], &["move 5", "1 to 4"]);
    refused(at, &["identify", "w.ron", "good.csv", "--held-out", "0"], &["--held-out", "0"]);
    refused(at, &["identify", "none.ron", "good.csv"], &["none.ron"]);
}
