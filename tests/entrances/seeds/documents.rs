//! What the program writes.

use std::sync::Arc;

use dryturn_rehearsal::BuiltRig;
use dryturn_script::{Host, Settings, run_kept};
use dryturn_units::noise::Seed;

use super::{Seeds, texts};
use crate::help;

/// Every path leads to the workbench.
struct Workbench;

impl Host for Workbench {
    fn read_text(&self, _: &str) -> Result<String, String> {
        Ok(help::read("scenes/workbench.ron"))
    }

    fn progress(&self, _: &str, _: usize, _: usize) {}
}

/// A script's ledger, whole and line by line.
pub(crate) fn ledger() -> Seeds {
    let script = "
        let f = scene(\"workbench.ron\").resized(64, 64).changed(\"cameras.*.samples_px\", 1);
        note(\"a note\"); expect(true, \"held\"); expect_at_most(3, 2, \"not held\");
        let p = plan_of(\"R U'\"); let r = build(f);
        execute(r, solved(), p);
        drill_axes(f, 3, p);
        scan(r, solved());
    ";
    let settings = Settings::new();
    let given = (Seed::new(1), &settings);
    // What a script leaves that comes to no end is a ledger too.
    let (record, _) = run_kept("ledger.rhai", script, given, Arc::new(Workbench));
    let text = record.ledger_text();
    assert!(text.lines().count() >= 5, "{text}");
    let lines: Vec<String> = text.lines().map(|line| format!("{line}\n")).collect();
    texts(lines.into_iter().chain([text]))
}

pub(crate) fn document() -> Seeds {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let scene = help::root().join("scenes/workbench.ron").display().to_string();
    let scene = scene.as_str();
    let printed = |arguments: &[&str]| help::call(at, arguments).stdout;
    let set = ["frames", scene, "--scans", "1", "--size", "64x64", "--samples", "1"];
    let mut all = vec![
        printed(&["check", scene, "--json"]),
        printed(&["check", "none.ron", "--json"]),
        printed(&["plan", "R U F2", "--json"]),
        printed(&["drill-axes", scene, "--trials", "3", "--plan", "R U'", "--json"]),
        printed(&[&set[..], &["--turned-share", "1", "--out", "set", "--json"]].concat()),
    ];
    for name in ["manifest.json", "coco-train.json", "coco-validation.json"] {
        all.push(std::fs::read_to_string(at.join("set").join(name)).unwrap());
    }
    let by_hand = [
        "{\"error\":\"none.ron: no such file\",\"exit_code\":2}",
        "{\"made_under\":\"Workbench\",\"floor\":0.001,\"classes\":[{\"colour\":\"white\",\
         \"face\":\"U\",\"mean\":[-0.5,-0.6,-0.7],\"precision\":[9,0.1,0,8,0.2,7.5],\
         \"log_determinant\":-11.5}],\"cameras\":[{\"camera\":\"high\",\"light\":[[1,0,0],\
         [0,1,0],[0,0,1]]}]}",
        "{\"command\":\"rehearse\",\"document_version\":2,\"seed\":1,\"exit_code\":0,\
         \"scripts\":[],\"error\":null}",
    ];
    all.extend(by_hand.map(str::to_owned));
    texts(all)
}

pub(crate) fn calibration() -> Seeds {
    let scene = help::scene("workbench");
    let mut file = scene.file().clone();
    for camera in &mut file.cameras {
        *camera = camera.with_pixels([320, 240]);
        camera.samples_px = 1;
    }
    let scene = Arc::new(scene.with_file(file).unwrap());
    let calibration = BuiltRig::new(&scene, Seed::new(1), 0).calibrate().unwrap();
    let pretty = ron::ser::PrettyConfig::default().depth_limit(2);
    let lines = ron::ser::to_string_pretty(&calibration, pretty).unwrap();
    texts([ron::to_string(&calibration).unwrap(), lines])
}
