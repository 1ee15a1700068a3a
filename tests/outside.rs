//! What a script must not read: anything outside its project, or that is no scene.

use std::os::unix::fs::symlink;
use std::path::Path;

use crate::help;

/// What stands in every file that must not be read.
const SECRET: &str = "hunter2-correct-horse";

/// A project below `at/project`, secrets round it and links to them.
fn prepared(at: &Path) {
    let project = at.join("project");
    for folder in ["project/scenes", "project/scripts/deep", "secret", "project-other"] {
        std::fs::create_dir_all(at.join(folder)).unwrap();
    }
    let scene = help::read("scenes/workbench.ron");
    for path in ["scenes/w.ron", "scripts/own.ron"] {
        std::fs::write(project.join(path), &scene).unwrap();
    }
    // A scene outside, which parses, with a name that tells it.
    let named = scene.replacen("name: \"", &format!("name: \"{SECRET} "), 1);
    for path in ["secret/w.ron", "project-other/w.ron"] {
        std::fs::write(at.join(path), &named).unwrap();
    }
    for path in ["secret/cred", "secret/cred.csv", "project-other/cred", "project/scenes/.env"] {
        std::fs::write(at.join(path), format!("{SECRET},1\npassword: {SECRET}\n")).unwrap();
    }
    let inside = format!("(password: \"{SECRET}\", {SECRET}: 1)");
    std::fs::write(project.join("scenes/block.ron"), inside).unwrap();
    std::fs::write(
        project.join("scenes/versioned.ron"),
        format!("(version: 1, key: \"{SECRET}\")"),
    )
    .unwrap();
    std::fs::write(project.join("scenes/choice.ron"), SECRET).unwrap();
    std::fs::write(project.join("scenes/open.ron"), format!("(version: 1, cameras: [ {SECRET}"))
        .unwrap();
    std::fs::write(project.join("scenes/binary.ron"), [0xff, 0xfe, b'h', 0]).unwrap();
    symlink(at.join("secret/cred"), project.join("scenes/link.ron")).unwrap();
    symlink(at.join("secret/w.ron"), project.join("scenes/linked.ron")).unwrap();
    symlink(at.join("secret"), project.join("scenes/folder")).unwrap();
    symlink("../../secret", project.join("scripts/relative")).unwrap();
    symlink("loop_b", project.join("scenes/loop_a")).unwrap();
    symlink("loop_a", project.join("scenes/loop_b")).unwrap();
    symlink("/proc/self/environ", project.join("scenes/environ.ron")).unwrap();
    symlink("/dev/zero", project.join("scenes/zero.ron")).unwrap();
    symlink("/", project.join("scenes/root")).unwrap();
    let fifo = std::process::Command::new("mkfifo").arg(project.join("scenes/pipe.ron")).status();
    assert!(fifo.unwrap().success());
}

/// Paths that a script gives `scene`, from the folder `scripts`.
fn paths(at: &Path) -> Vec<String> {
    let absolute = |path: &str| at.join(path).display().to_string();
    let given = [
        "../../secret/cred",
        "../../secret/w.ron",
        "../../project-other/w.ron",
        "../../project-other/cred",
        "../scenes/../../secret/cred",
        "../scenes/folder/cred",
        "../scenes/folder/w.ron",
        "../scenes/folder/../secret/cred",
        "../scenes/link.ron",
        "../scenes/linked.ron",
        "relative/cred",
        "relative/w.ron",
        "./relative/./w.ron",
        "deep/../relative/w.ron",
        "../scenes/loop_a",
        "../scenes/loop_a/w.ron",
        "../scenes/environ.ron",
        "../scenes/zero.ron",
        "../scenes/root/proc/self/environ",
        "../scenes/root/etc/passwd",
        "../scenes/pipe.ron",
        "../scenes/block.ron",
        "../scenes/versioned.ron",
        "../scenes/choice.ron",
        "../scenes/open.ron",
        "../scenes/binary.ron",
        "../scenes/.env",
        "../scenes",
        "../scenes/",
        "../scenes/linked.ron/",
        "../scenes/w.ron/../../../secret/w.ron",
        "../SCENES/../../secret/w.ron",
        "..\\\\..\\\\secret\\\\w.ron",
        "//../../secret/w.ron",
        "/proc/self/environ",
        "/proc/self/cmdline",
        "/etc/passwd",
        "/dev/zero",
        "/dev/stdin",
        "~/secret/w.ron",
        "$HOME/secret",
        "file:///etc/passwd",
        "..\u{2044}..\u{2044}secret\u{2044}w.ron",
        "\u{ff0e}\u{ff0e}/\u{ff0e}\u{ff0e}/secret/w.ron",
        "%2e%2e/%2e%2e/secret/w.ron",
        "../../secret/w.ron\\x00.ron",
        "../scenes/w.ron\\x00",
        "",
        ".",
        "..",
        "../../../../../../../../../../../../etc/passwd",
    ];
    let mut all: Vec<String> = given.iter().map(|path| (*path).to_owned()).collect();
    all.extend(["secret/cred", "secret/w.ron", "project/scenes/w.ron"].map(absolute));
    all
}

/// Tables that a scene of the project may name instead.
const TABLES: [&str; 12] = [
    "../../secret/cred.csv",
    "../../secret/cred",
    "folder/cred.csv",
    "link.ron",
    "environ.ron",
    "zero.ron",
    "pipe.ron",
    ".env",
    "/etc/passwd",
    "/proc/self/environ",
    "root/etc/passwd",
    "loop_a",
];

/// Runs a script in the project and says all that it left and said.
fn all_it_left(at: &Path, text: &str) -> String {
    let project = at.join("project");
    std::fs::write(project.join("scripts/s.rhai"), text).unwrap();
    let mut call = help::program();
    call.current_dir(&project).env("SECRET", SECRET).args([
        "rehearse",
        "--allow-none",
        "--json",
        "scripts/s.rhai",
        "--out",
        "out",
        "--timeout",
        "20",
    ]);
    let call = help::call_of(call.output().unwrap());
    assert!(call.code < 3, "{}", call.stderr);
    let mut left = [call.stdout, call.stderr].concat();
    let out = project.join("out");
    if out.exists() {
        for (name, bytes) in help::contents(&out) {
            left.push_str(&name);
            left.push_str(&String::from_utf8_lossy(&bytes));
        }
        std::fs::remove_dir_all(out).unwrap();
    }
    left
}

fn tells_nothing(what: &str, left: &str) {
    for secret in [SECRET, "root:", "HOME=", "hunter2"] {
        assert!(!left.contains(secret), "{what} tells {secret}: {left}");
    }
}

/// Over fifty ways to read, each caught and written out: none reads, none tells.
#[test]
fn nothing_outside_the_project_is_read() {
    let folder = tempfile::tempdir().unwrap();
    let at = &folder.path().canonicalize().unwrap();
    prepared(at);
    let paths = paths(at);
    assert!(paths.len() >= 40, "{}", paths.len());
    let mut script = String::new();
    for (number, path) in paths.iter().enumerate() {
        script += &format!(
            "try {{ let s = scene(\"{path}\"); save_text(\"read-{number}.txt\", s.name + s.name); }} \
             catch (e) {{ save_text(\"caught-{number}.txt\", \"\" + e); note(e); }}\n"
        );
    }
    let left = all_it_left(at, &script);
    tells_nothing("a path", &left);
    for (number, path) in paths.iter().enumerate() {
        assert!(!left.contains(&format!("read-{number}.txt")), "{path} was read");
        assert!(left.contains(&format!("caught-{number}.txt")), "{path}: {left}");
    }
    // Not caught, the message is the program's own.
    for path in &paths {
        tells_nothing(path, &all_it_left(at, &format!("scene(\"{path}\");")));
    }
}

/// Tables of a scene are read no further than scenes.
#[test]
fn no_table_outside_the_project_is_read() {
    let folder = tempfile::tempdir().unwrap();
    let at = &folder.path().canonicalize().unwrap();
    prepared(at);
    let fields = [
        ("cube.pigments_csv", ""),
        ("cameras.0.sensor_csv", ""),
        ("lamps.0.spectrum_csv", ".changed(\"lamps.0.spectrum\", \"Measured\")"),
        (
            "surroundings.ambient_spectrum_csv",
            ".changed(\"surroundings.ambient_spectrum\", \"Measured\")",
        ),
    ];
    let mut script = "let w = scene(\"../scenes/w.ron\");\n".to_owned();
    let mut asked = 0;
    for (field, after) in fields {
        for table in TABLES {
            script += &format!(
                "try {{ let s = w.changed(\"{field}\", \"{table}\"){after}; \
                 save_text(\"read-{asked}.txt\", \"read\"); }} \
                 catch (e) {{ save_text(\"caught-{asked}.txt\", \"\" + e); }}\n"
            );
            asked += 1;
        }
    }
    let left = all_it_left(at, &script);
    tells_nothing("a table", &left);
    // The same where the file of the scene itself names them.
    let scene = help::read("scenes/workbench.ron");
    for (number, table) in TABLES.iter().enumerate() {
        let named =
            scene.replacen("colours: ()", &format!("colours: (), pigments_csv: \"{table}\""), 1);
        assert_ne!(named, scene);
        std::fs::write(at.join(format!("project/scenes/named{number}.ron")), named).unwrap();
        let script = format!(
            "try {{ scene(\"../scenes/named{number}.ron\"); save_text(\"read.txt\", \"\"); }} \
             catch (e) {{ save_text(\"caught.txt\", \"\" + e); }}"
        );
        let left = all_it_left(at, &script);
        tells_nothing(table, &left);
        assert!(left.contains("caught.txt") && !left.contains("read.txt"), "{table}: {left}");
    }
}

/// What lies inside is read: beside the script, and from the folder of scenes; and what
/// `--root` says.
#[test]
fn what_lies_inside_the_project_is_read() {
    let folder = tempfile::tempdir().unwrap();
    let at = &folder.path().canonicalize().unwrap();
    prepared(at);
    let script = "let n = 0; for path in [\"own.ron\", \"../scenes/w.ron\", \"deep/../own.ron\", \
                  \"../scenes/../scripts/own.ron\", \"./own.ron\"] { n += 1; \
                  save_text(n + \".txt\", scene(path).name); }";
    let left = all_it_left(at, script);
    assert!(left.contains("5.txt") && !left.contains("\"error\""), "{left}");
    // A narrower root, and one that is none.
    let project = at.join("project");
    std::fs::write(project.join("scripts/s.rhai"), "scene(\"../scenes/w.ron\");").unwrap();
    let call = |root: &str| {
        let arguments =
            ["rehearse", "--allow-none", "scripts/s.rhai", "--out", "o", "--root", root];
        help::call(&project, &arguments)
    };
    let narrow = call("scripts");
    assert_eq!(narrow.code, 2);
    assert!(narrow.stderr.contains("leads out of the project"), "{}", narrow.stderr);
    assert_eq!(call(".").code, 0);
    assert!(call("nowhere").stderr.contains("must be a folder"));
}
