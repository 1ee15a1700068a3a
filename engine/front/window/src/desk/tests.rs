//! What must hold of the desk.

use super::*;
use crate::workers::clerk::Clerk;

fn desk() -> Desk {
    let scene = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../../scenes/workbench.ron");
    Desk::open(&scene).unwrap()
}

#[test]
fn changes_can_be_undone_and_redone() {
    let mut desk = desk();
    let first = desk.scene.file().clone();
    assert!(desk.change("lamps.panel.flux_lm", 900.into(), true));
    assert!(desk.change("lamps.panel.flux_lm", 800.into(), true), "dragged on");
    let dragged = desk.scene.file().clone();
    desk.undo();
    assert_eq!(desk.scene.file(), &first);
    desk.redo();
    assert_eq!(desk.scene.file(), &dragged);
    assert!(!desk.can_redo() && desk.can_undo() && desk.unsaved);
    // Another field, or the same after letting go, is another step.
    desk.let_go();
    desk.change("lamps.panel.flux_lm", 700.into(), true);
    desk.change("lamps.panel.cct_k", 6000.into(), true);
    desk.undo();
    desk.undo();
    assert_eq!(desk.scene.file(), &dragged);
}

#[test]
fn a_bad_value_is_said_and_changes_nothing() {
    let mut desk = desk();
    let before = desk.scene.file().clone();
    assert!(!desk.change("lamps.panel.flux_lm", (-5).into(), true));
    assert_eq!(desk.scene.file(), &before);
    assert!(!desk.can_undo());
    let said = &desk.messages.last().unwrap();
    assert!(said.is_error && said.text.contains("lamps[0].flux_lm"), "{}", said.text);
}

#[test]
fn a_saved_scene_opens_as_it_was() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("mine.ron");
    let mut desk = desk();
    desk.change("lamps.panel.flux_lm", 900.into(), true);
    desk.save_scene(&path);
    assert!(path.exists());
    let saved = desk.scene.file().clone();
    desk.change("lamps.panel.flux_lm", 100.into(), true);
    desk.open_scene(&path);
    assert_eq!(desk.scene.file(), &saved);
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
}

/// What others wrote is only replaced when asked twice, and only a scene.
#[test]
fn saving_never_replaces_a_file_unasked() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("mine.ron");
    std::fs::write(&path, "// with comments").unwrap();
    let mut desk = desk();
    desk.save_scene(&path);
    assert_eq!(std::fs::read_to_string(&path).unwrap(), "// with comments");
    assert!(desk.messages.last().unwrap().is_error);
    desk.save_scene(&path);
    assert!(std::fs::read_to_string(&path).unwrap().contains("version: 1"));
    desk.save_scene(&folder.path().join("mine.rhai"));
    assert!(!folder.path().join("mine.rhai").exists());
}

/// Opening another scene can be undone, unsaved changes included.
#[test]
fn opening_loses_nothing() {
    let mut desk = desk();
    desk.change("lamps.panel.flux_lm", 900.into(), false);
    let changed = desk.scene.file().clone();
    let other = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../../scenes/foyer_evening.ron");
    desk.open_scene(&other);
    assert_ne!(desk.scene.file(), &changed);
    desk.undo();
    assert_eq!(desk.scene.file(), &changed);
}

/// Ten broken scenes and scripts: each a message, and the desk goes on.
#[test]
fn ten_broken_files_each_give_a_message() {
    let folder = tempfile::tempdir().unwrap();
    let at = folder.path();
    let good = std::fs::read_to_string(
        Path::new(env!("CARGO_MANIFEST_DIR")).join("../../../scenes/workbench.ron"),
    )
    .unwrap();
    let mut desk = desk();
    let before = desk.scene.file().clone();
    let scenes = [
        String::new(),
        good.replace("4000.0", "-1.0"),
        good.replace("flux_lm", "flux"),
        good.replace("Daylight", "Moonlight"),
        good.replace("(127.0, 127.0, 127.0)", "(1.0, 1.0, 1.0)"),
    ];
    for (i, text) in scenes.iter().enumerate() {
        let path = at.join(format!("broken{i}.ron"));
        std::fs::write(&path, text).unwrap();
        desk.open_scene(&path);
        assert_eq!(desk.messages.len(), i + 1);
        assert!(desk.messages[i].is_error && desk.messages[i].text.contains("broken"));
        assert_eq!(desk.scene.file(), &before, "the scene before stays");
    }
    let scripts = ["let x = ;", "fly();", "loop {}", "scene(\"none.ron\");", "throw \"enough\";"];
    for (i, text) in scripts.iter().enumerate() {
        let path = at.join(format!("broken{i}.rhai"));
        std::fs::write(&path, text).unwrap();
        desk.pick_script(&path);
        let seed = dryturn_units::noise::Seed::new(1);
        desk.script.clerk = Clerk::start(&path, (*text).to_owned(), seed, || ()).ok();
        while !desk.hear_clerk() {
            std::thread::sleep(std::time::Duration::from_millis(2));
        }
        let said = desk.messages.last().unwrap();
        assert!(said.is_error && said.text.contains("broken"), "{}", said.text);
        assert_eq!(desk.script.error_line, Some(1));
    }
}

#[test]
fn a_running_script_can_be_stopped() {
    let mut desk = desk();
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../../scripts/hundred.rhai");
    desk.pick_script(&script);
    let seed = dryturn_units::noise::Seed::new(1);
    let text = desk.script.text.clone();
    desk.script.clerk = Clerk::start(&script, text, seed, || ()).ok();
    std::thread::sleep(std::time::Duration::from_millis(300));
    let asked = std::time::Instant::now();
    desk.script.clerk.as_ref().unwrap().stop();
    while !desk.hear_clerk() {
        std::thread::sleep(std::time::Duration::from_millis(2));
    }
    assert!(desk.messages.last().unwrap().text.contains("stopped"));
    assert!(asked.elapsed().as_secs() < 20, "a drill of a minute ends at the next trial");
}
