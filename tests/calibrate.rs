//! The command `calibrate`, and what it leaves for other programs.

use std::path::Path;
use std::process::Command;
use std::sync::OnceLock;

use serde_json::Value as Json;
use tempfile::TempDir;

use crate::help;

/// A labelled set of twelve small scans, and pictures of a solved cube in the same scene.
fn pictures() -> &'static TempDir {
    static MADE: OnceLock<TempDir> = OnceLock::new();
    MADE.get_or_init(|| {
        let folder = tempfile::tempdir().unwrap();
        let at = folder.path();
        let scene = help::read("scenes/workbench.ron");
        std::fs::write(at.join("w.ron"), scene).unwrap();
        let set = ["frames", "w.ron", "--scans", "12", "--size", "320x240", "--samples", "4"];
        let made = help::call(at, &[&set[..], &["--out", "set"]].concat());
        assert_eq!(made.code, 0, "{}", made.stderr);
        let script = r#"
            let s = scene("w.ron").resized(320, 240);
            let rig = build(s);
            save_scan(scan(rig, solved()), "solved");
            for k in 0..3 { save_scan(scan(rig, random_cube(k)), "cube-" + k); }
        "#;
        std::fs::write(at.join("s.rhai"), script).unwrap();
        let run = help::call(at, &["rehearse", "--allow-none", "s.rhai", "--out", "shots"]);
        assert_eq!(run.code, 0, "{}", run.stderr);
        folder
    })
}

fn calibrate(arguments: &[&str]) -> help::Call {
    let common = ["calibrate", "--scene", "w.ron", "--size", "320x240"];
    help::call(pictures().path(), &[&common[..], arguments].concat())
}

/// Reads pictures of the small scene with a stored calibration.
fn read_with(calibration: &str, pictures: [&str; 2]) -> Json {
    let common = ["read", "--json", "--scene", "w.ron", "--size", "320x240", "--calibration"];
    let call =
        help::call(self::pictures().path(), &[&common[..], &[calibration], &pictures].concat());
    serde_json::from_str(&call.stdout).unwrap()
}

fn document(call: &help::Call) -> Json {
    assert_eq!(call.code, 0, "{}", call.stderr);
    serde_json::from_str(&call.stdout).unwrap()
}

#[test]
fn a_labelled_set_calibrates_and_the_validation_half_is_read() {
    let at = pictures().path();
    let learnt = document(&calibrate(&["--set", "set", "--out", "from-set", "--json"]));
    let manifest = std::fs::read_to_string(at.join("set/manifest.json")).unwrap();
    let manifest: Json = serde_json::from_str(&manifest).unwrap();
    let scans = manifest["scans"].as_array().unwrap();
    let training = scans.iter().filter(|scan| scan["subset"] == "train").count();
    assert_eq!(learnt["scans_or_patches"], training);
    assert!(learnt["left_out"].as_u64().unwrap() > 300, "{learnt}");
    assert!(learnt["wrong"]["Gaussian"].as_u64().unwrap() <= 4, "{learnt}");
    let mut read = 0;
    for scan in scans {
        if scan["subset"] != "validation" {
            continue;
        }
        let file = |k: usize| format!("set/{}", scan["images"][k]["file"].as_str().unwrap());
        let found = read_with("from-set/calibration.ron", [&file(0), &file(1)]);
        assert_eq!(found["faces"], scan["faces"], "{}", found["because"]);
        read += 1;
    }
    assert_eq!(read, scans.len() - training);
    assert!(read > 0);
}

#[test]
fn one_solved_mounting_known_cubes_and_marked_patches_calibrate_too() {
    let at = pictures().path();
    let one = ["--solved", "shots/solved-high.png", "--solved", "shots/solved-low.png", "--json"];
    let learnt = document(&calibrate(&one));
    assert_eq!((&learnt["scans_or_patches"], &learnt["complete_facelets"]), (&1.into(), &0.into()));

    // The solved cube by its name, in a table.
    let table = "cube,high,low\nU U',shots/solved-high.png,shots/solved-low.png\n";
    std::fs::write(at.join("known.csv"), table).unwrap();
    let known = document(&calibrate(&["--known", "known.csv", "--json"]));
    assert_eq!(known["confusion_true_by_read"], learnt["confusion_true_by_read"]);
    assert_eq!(known["log_likelihood"], learnt["log_likelihood"]);

    // Patches, where the labels say that one colour is.
    let colours = ["white", "red", "green", "yellow", "orange", "blue"];
    let mut rows = String::from("picture,column_px,row_px,width_px,height_px,colour\n");
    for camera in ["high", "low"] {
        let labels = image::open(at.join(format!("shots/solved-{camera}-labels.png"))).unwrap();
        let labels = labels.into_luma8();
        for facelet in (0..54u8).filter(|f| f % 9 != 4) {
            let block = |&(x, y): &(u32, u32)| {
                (0..6).all(|i| (0..6).all(|j| labels.get_pixel(x + i, y + j).0[0] == facelet))
            };
            let places = (0..314).flat_map(|x| (0..234).map(move |y| (x, y)));
            if let Some((x, y)) = places.into_iter().find(block) {
                let colour = colours[usize::from(facelet / 9)];
                rows += &format!("shots/solved-{camera}.png,{x},{y},6,6,{colour}\n");
            }
        }
    }
    std::fs::write(at.join("patches.csv"), rows).unwrap();
    let marked = document(&calibrate(&["--patches", "patches.csv", "--json", "--out", "p"]));
    assert!(marked["scans_or_patches"].as_u64().unwrap() >= 36, "{marked}");
    let cube = ["shots/cube-1-high.png", "shots/cube-1-low.png"];
    let found = read_with("p/calibration.ron", cube);
    // Colours without places: right or refused.
    assert!(found["faces"].is_null() || found["faces"] == truth_of(at, 1), "{found}");
}

fn truth_of(at: &Path, trial: u32) -> String {
    let script = format!("note(random_cube({trial}).faces);");
    std::fs::write(at.join("t.rhai"), script).unwrap();
    let run = help::call(at, &["rehearse", "--allow-none", "t.rhai", "--out", "t", "--json"]);
    let found: Json = serde_json::from_str(&run.stdout).unwrap();
    found["scripts"][0]["notes"][0].as_str().unwrap().to_owned()
}

/// Two sets of pictures of one cube are read together.
#[test]
fn several_pictures_of_one_cube_are_read_together() {
    let at = pictures().path();
    let cube = ["shots/cube-2-high.png", "shots/cube-2-low.png"];
    let common = ["read", "--json", "--scene", "w.ron", "--size", "320x240"];
    let solved = ["--solved", "shots/solved-high.png", "--solved", "shots/solved-low.png"];
    let run = |pictures: &[&str]| -> Json {
        let call = help::call(at, &[&common[..], &solved, pictures].concat());
        serde_json::from_str(&call.stdout).unwrap()
    };
    let once = run(&cube);
    let twice = run(&[&cube[..], &cube].concat());
    // The same pictures again say the same.
    assert_eq!(once["facelets"], twice["facelets"]);
    assert_eq!(once["probability"], twice["probability"]);
    let odd = help::call(at, &[&common[..], &solved, &cube, &cube[..1]].concat());
    assert_eq!(odd.code, 2);
    assert!(odd.stdout.contains("3 pictures"), "{}", odd.stdout);
}

/// The C header, compiled as C99 with every warning an error, gives the log-likelihoods of
/// the JSON beside it.
#[test]
fn the_header_compiles_and_agrees() {
    let at = pictures().path();
    let learnt = calibrate(&["--set", "set", "--out", "for-c"]);
    assert_eq!(learnt.code, 0, "{}", learnt.stderr);
    let classes = std::fs::read_to_string(at.join("for-c/classes.json")).unwrap();
    crate::written::file::<dryturn_record::ClassesDocument>("classes", &classes);
    let classes: Json = serde_json::from_str(&classes).unwrap();
    let program = r#"
        #include <stdio.h>
        #include <math.h>
        #include "classes.h"
        int main(void) {
            float light[3] = {0.31f, 0.22f, 0.05f};
            for (int c = 0; c < 6; c++) {
                float x[3];
                for (int k = 0; k < 3; k++)
                    x[k] = logf(light[k] + DRYTURN_FLOOR) - DRYTURN_MEAN[c][k];
                const float *p = DRYTURN_PRECISION[c];
                float square = p[0] * x[0] * x[0] + p[3] * x[1] * x[1] + p[5] * x[2] * x[2]
                    + 2 * (p[1] * x[0] * x[1] + p[2] * x[0] * x[2] + p[4] * x[1] * x[2]);
                printf("%.6f\n", -0.5 * (square + DRYTURN_LOG_DETERMINANT[c]));
            }
            return DRYTURN_LIGHT[0][0][0] > 0 ? 0 : 1;
        }
    "#;
    std::fs::write(at.join("for-c/main.c"), program).unwrap();
    let built = Command::new("cc")
        .current_dir(at.join("for-c"))
        .args(["-std=c99", "-Wall", "-Wextra", "-Werror", "-o", "main", "main.c", "-lm"])
        .output()
        .expect("a C compiler, which linking Rust needs too");
    assert!(built.status.success(), "{}", String::from_utf8_lossy(&built.stderr));
    let ran = Command::new(at.join("for-c/main")).output().unwrap();
    assert!(ran.status.success());
    let found: Vec<f64> =
        String::from_utf8(ran.stdout).unwrap().lines().map(|l| l.parse().unwrap()).collect();
    for (class, found) in classes["classes"].as_array().unwrap().iter().zip(found) {
        let numbers = |key: &str| -> Vec<f64> {
            class[key].as_array().unwrap().iter().map(|v| v.as_f64().unwrap()).collect()
        };
        let (mean, p) = (numbers("mean"), numbers("precision"));
        let floor = classes["floor"].as_f64().unwrap();
        let x: Vec<f64> = [0.31, 0.22, 0.05]
            .iter()
            .zip(mean)
            .map(|(l, m): (&f64, f64)| (l + floor).ln() - m)
            .collect();
        let square = p[0] * x[0] * x[0]
            + p[3] * x[1] * x[1]
            + p[5] * x[2] * x[2]
            + 2.0 * (p[1] * x[0] * x[1] + p[2] * x[0] * x[2] + p[4] * x[1] * x[2]);
        let wanted = -0.5 * (square + class["log_determinant"].as_f64().unwrap());
        assert!((found - wanted).abs() < 1e-3 * wanted.abs().max(1.0), "{found} {wanted}");
    }
}

#[test]
fn bad_input_gets_one_line() {
    let at = pictures().path();
    let write = |name: &str, text: &str| std::fs::write(at.join(name), text).unwrap();
    let head = "picture,column_px,row_px,width_px,height_px,colour\n";
    write("b1.csv", "picture,colour\na,b\n");
    write("b2.csv", &format!("{head}shots/solved-high.png,0,0,4,4,purple\n"));
    write("b3.csv", &format!("{head}shots/solved-high.png,318,0,4,4,red\n"));
    write("b4.csv", &format!("{head}shots/solved-high.png,0,-1,4,4,red\n"));
    write("b5.csv", &format!("{head}shots/solved-high.png,0,0,4,4,red\n"));
    write("b6.csv", &format!("{head}none.png,0,0,4,4,red\n"));
    write("b7.csv", &format!("{head}a,b\n"));
    write("b8.csv", head);
    write("k1.csv", "cube,high\nU,shots/solved-high.png\n");
    write("k2.csv", "cube,high,low\nU Q,shots/solved-high.png,shots/solved-low.png\n");
    write("k3.csv", "cube,high,low\nU,shots/none.png,shots/solved-low.png\n");
    let empty = at.join("empty");
    std::fs::create_dir_all(&empty).unwrap();
    std::fs::write(empty.join("manifest.json"), "{}").unwrap();
    // Pictures that are not what they are said to be.
    let black = image::RgbImage::new(320, 240);
    black.save(at.join("black.png")).unwrap();
    let cases: [(&[&str], &[&str]); 18] = [
        (&["--solved", "black.png", "--solved", "black.png"], &["look like another colour"]),
        (&[], &["--solved", "--known", "--set", "--patches"]),
        (&["--set", "none"], &["none"]),
        (&["--set", "empty"], &["manifest.json", "scans"]),
        (&["--set", "set", "--known", "k1.csv"], &["one of"]),
        (&["--known", "k1.csv"], &["k1.csv:1", "low"]),
        (&["--known", "k2.csv"], &["k2.csv:2", "Q"]),
        (&["--known", "k3.csv"], &["none.png"]),
        (&["--patches", "b1.csv"], &["b1.csv:1", "column_px"]),
        (&["--patches", "b2.csv"], &["b2.csv:2", "purple", "white"]),
        (&["--patches", "b3.csv"], &["b3.csv:2", "318", "320"]),
        (&["--patches", "b4.csv"], &["b4.csv:2", "row_px", "-1"]),
        (&["--patches", "b5.csv"], &["b5.csv", "face U"]),
        (&["--patches", "b6.csv"], &["none.png"]),
        (&["--patches", "b7.csv"], &["b7.csv:2"]),
        (&["--patches", "b8.csv"], &["b8.csv", "0 patches"]),
        (&["--solved", "shots/solved-high.png"], &["1 pictures", "12"]),
        (&["--solved", "w.ron", "--solved", "w.ron"], &["w.ron", "PNG"]),
    ];
    for (arguments, said) in cases {
        let call = calibrate(&[arguments, &["--out", "never"]].concat());
        assert_eq!(call.code, 2, "{arguments:?}: {}", call.stderr);
        assert_eq!(call.stderr.trim_end().lines().count(), 1, "{arguments:?}: {}", call.stderr);
        for word in said {
            assert!(call.stderr.contains(word), "{arguments:?}: {word} in {}", call.stderr);
        }
        assert!(!at.join("never").exists(), "{arguments:?}");
    }
}
