//! What the window knows: the scene being edited, the last script run, and
//! where its playback stands. No graphics in here.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use dryturn_cube::CubeState;
use dryturn_handoff::Frame;
use dryturn_rehearsal::{Exhibit, Pass, Record};
use dryturn_scene::Scene;
use serde_json::Value as Json;

use crate::args::Question;
use crate::clerk::{Clerk, News, read_text};
use crate::playback::{Moment, SPEEDS, length_s, neighbour_beat_s};

/// Most steps that can be undone.
const MAX_UNDO: usize = 200;

/// Something that the window must say.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Message {
    pub(crate) text: String,
    pub(crate) is_error: bool,
}

/// A script in the window.
#[derive(Default)]
pub(crate) struct ScriptDesk {
    pub(crate) path: PathBuf,
    pub(crate) text: String,
    /// Line of the last error, from 1.
    pub(crate) error_line: Option<usize>,
    pub(crate) clerk: Option<Clerk>,
    /// What, done and all, while it runs.
    pub(crate) progress: (String, usize, usize),
    pub(crate) record: Option<Record>,
    pub(crate) passes: Vec<Arc<Pass>>,
    pub(crate) shown_pass: usize,
}

/// Where the playback stands.
pub(crate) struct Player {
    pub(crate) at_s: f64,
    pub(crate) playing: bool,
    /// Index into [`SPEEDS`].
    pub(crate) speed: usize,
}

/// What the window knows.
#[derive(bevy::prelude::Resource)]
pub(crate) struct Desk {
    pub(crate) scene: Arc<Scene>,
    pub(crate) scene_path: PathBuf,
    /// Counts changes of the scene.
    pub(crate) edition: u64,
    undo: Vec<Arc<Scene>>,
    redo: Vec<Arc<Scene>>,
    pub(crate) unsaved: bool,
    pub(crate) question: Question,
    pub(crate) messages: Vec<Message>,
    pub(crate) script: ScriptDesk,
    pub(crate) player: Player,
    pub(crate) outlines: bool,
    pub(crate) cautions_open: bool,
    /// Newest frame of each camera, and whether it is coarse.
    pub(crate) frames: Vec<Option<(Frame, bool)>>,
    /// Counts new frames.
    pub(crate) developed: u64,
    /// Where the cameras' pictures are drawn: left, top, width, height in pixels.
    pub(crate) picture_rects: Vec<[f32; 4]>,
    /// From the last change to the last coarse and the last full frame.
    pub(crate) latency: (Option<Duration>, Option<Duration>),
}

impl Desk {
    /// Opens a scene.
    ///
    /// # Errors
    /// What is wrong with the file, in one line.
    pub(crate) fn open(path: &Path) -> Result<Self, String> {
        let scene = load(path)?;
        let cameras = scene.file().cameras.len();
        Ok(Self {
            scene,
            scene_path: path.to_owned(),
            edition: 0,
            undo: Vec::new(),
            redo: Vec::new(),
            unsaved: false,
            question: Question::See,
            messages: Vec::new(),
            script: ScriptDesk::default(),
            player: Player { at_s: 0.0, playing: false, speed: 3 },
            outlines: true,
            cautions_open: false,
            frames: vec![None; cameras],
            developed: 0,
            picture_rects: Vec::new(),
            latency: (None, None),
        })
    }

    pub(crate) fn say(&mut self, text: impl Into<String>) {
        self.messages.push(Message { text: text.into(), is_error: false });
    }

    pub(crate) fn complain(&mut self, text: impl Into<String>) {
        self.messages.push(Message { text: text.into(), is_error: true });
    }

    fn take(&mut self, scene: Arc<Scene>) {
        self.frames.resize(scene.file().cameras.len(), None);
        self.scene = scene;
        self.edition += 1;
    }

    /// Opens another scene in place of this one; on an error this one stays.
    pub(crate) fn open_scene(&mut self, path: &Path) {
        match load(path) {
            Ok(scene) => {
                self.undo.clear();
                self.redo.clear();
                self.unsaved = false;
                self.scene_path = path.to_owned();
                self.frames.clear();
                self.say(format!("opened {}", path.display()));
                self.take(scene);
            }
            Err(error) => self.complain(error),
        }
    }

    /// Writes the scene, all fields spelt out; the old file stays until the new
    /// one is whole.
    pub(crate) fn save_scene(&mut self, path: &Path) {
        let partial = path.with_extension("ron.partial");
        let saved = std::fs::write(&partial, format!("{}\n", self.scene.to_ron()))
            .and_then(|()| std::fs::rename(&partial, path));
        match saved {
            Ok(()) => {
                self.unsaved = false;
                self.scene_path = path.to_owned();
                self.say(format!("saved {}", path.display()));
            }
            Err(error) => {
                let _ = std::fs::remove_file(&partial);
                self.complain(format!("{}: cannot be saved: {error}", path.display()));
            }
        }
    }

    /// Changes one value of the scene, as a script would. `fresh` starts a new
    /// step of undo; otherwise the change joins the last one (a figure that is
    /// being dragged).
    pub(crate) fn change(&mut self, field: &str, value: Json, fresh: bool) -> bool {
        match self.scene.with(field, value) {
            Ok(scene) => {
                if fresh || self.undo.is_empty() {
                    self.undo.push(self.scene.clone());
                    if self.undo.len() > MAX_UNDO {
                        self.undo.remove(0);
                    }
                }
                self.redo.clear();
                self.unsaved = true;
                self.take(Arc::new(scene));
                true
            }
            Err(error) => {
                self.complain(error.to_string());
                false
            }
        }
    }

    /// Remembers how long a frame took from the change that it shows.
    pub(crate) fn note_latency(&mut self, coarse: bool, after: Duration) {
        let slot = if coarse { &mut self.latency.0 } else { &mut self.latency.1 };
        *slot = Some(after);
    }

    /// How long the pictures took, for the person who waits for them.
    pub(crate) fn latency_text(&self) -> Option<String> {
        let (Some(coarse), Some(full)) = self.latency else { return None };
        let (coarse, full) = (coarse.as_millis(), full.as_millis());
        Some(format!("after the last change: coarse {coarse} ms, full {full} ms"))
    }

    pub(crate) fn undo(&mut self) {
        if let Some(before) = self.undo.pop() {
            self.redo.push(self.scene.clone());
            self.unsaved = true;
            self.take(before);
        }
    }

    pub(crate) fn redo(&mut self) {
        if let Some(after) = self.redo.pop() {
            self.undo.push(self.scene.clone());
            self.unsaved = true;
            self.take(after);
        }
    }

    pub(crate) fn can_undo(&self) -> bool {
        !self.undo.is_empty()
    }

    pub(crate) fn can_redo(&self) -> bool {
        !self.redo.is_empty()
    }

    /// Picks a script to look at and run.
    pub(crate) fn pick_script(&mut self, path: &Path) {
        match read_text(path) {
            Ok(text) => {
                self.script = ScriptDesk { path: path.to_owned(), text, ..ScriptDesk::default() };
            }
            Err(error) => self.complain(error),
        }
    }

    /// Looks whether the running script has ended. True when it has just now.
    pub(crate) fn hear_clerk(&mut self) -> bool {
        let Some(clerk) = &self.script.clerk else { return false };
        match clerk.news() {
            News::Working(what, done, all) => {
                self.script.progress = (what, done, all);
                false
            }
            News::Ended(result) => {
                self.script.clerk = None;
                match result {
                    Ok(record) => self.take_record(record),
                    Err(error) => {
                        self.script.error_line = error.line;
                        self.complain(error.to_string());
                    }
                }
                true
            }
        }
    }

    fn take_record(&mut self, record: Record) {
        self.script.error_line = None;
        self.script.passes = record
            .exhibits
            .iter()
            .filter_map(|exhibit| match exhibit {
                Exhibit::Pass(pass) => Some(pass.clone()),
                Exhibit::Drill(_) => None,
            })
            .collect();
        self.script.shown_pass = 0;
        self.player = Player { at_s: 0.0, playing: false, ..self.player };
        let (all, failed) = (record.expectations.len(), record.failed());
        let name = self.script.path.display();
        let text = format!("{name}: {} of {all} expectations held", all - failed);
        self.messages.push(Message { text, is_error: failed > 0 });
        self.script.record = Some(record);
    }

    /// The pass that is looked at.
    pub(crate) fn pass(&self) -> Option<&Arc<Pass>> {
        self.script.passes.get(self.script.shown_pass)
    }

    /// The cube at the present moment; solved without a pass.
    pub(crate) fn moment(&self) -> Moment {
        self.pass().map_or_else(
            || Moment::rest(&CubeState::SOLVED),
            |pass| Moment::of(pass, self.player.at_s),
        )
    }

    /// Moves the playback on by so much real time. True while it plays.
    pub(crate) fn play_on(&mut self, real_s: f64) -> bool {
        let Some(end) = self.pass().map(|pass| length_s(pass)) else { return false };
        if !self.player.playing {
            return false;
        }
        self.player.at_s += real_s * SPEEDS[self.player.speed];
        if self.player.at_s >= end {
            self.player.at_s = end;
            self.player.playing = false;
        }
        true
    }

    pub(crate) fn toggle_play(&mut self) {
        let Some(end) = self.pass().map(|pass| length_s(pass)) else { return };
        if !self.player.playing && self.player.at_s >= end {
            self.player.at_s = 0.0;
        }
        self.player.playing = !self.player.playing;
    }

    pub(crate) fn step_beat(&mut self, forward: bool) {
        if let Some(pass) = self.pass() {
            self.player.at_s = neighbour_beat_s(pass, self.player.at_s, forward);
            self.player.playing = false;
        }
    }
}

fn load(path: &Path) -> Result<Arc<Scene>, String> {
    let text = read_text(path)?;
    let scene = Scene::parse(&text, &path.display().to_string());
    scene.map(Arc::new).map_err(|error| error.to_string())
}

/// Scenes or scripts beside a file, by extension, sorted.
pub(crate) fn neighbours(path: &Path, extension: &str) -> Vec<PathBuf> {
    let folder = match path.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent,
        _ => Path::new("."),
    };
    let entries = std::fs::read_dir(folder).into_iter().flatten().flatten();
    let mut found: Vec<PathBuf> = entries
        .map(|entry| entry.path())
        .filter(|path| path.extension().is_some_and(|e| e == extension))
        .collect();
    found.sort();
    found
}

#[cfg(test)]
mod tests {
    use super::*;

    fn desk() -> Desk {
        let scene = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../../scenes/workbench.ron");
        Desk::open(&scene).unwrap()
    }

    #[test]
    fn changes_can_be_undone_and_redone() {
        let mut desk = desk();
        let first = desk.scene.file().clone();
        assert!(desk.change("lamps.panel.flux_lm", 900.into(), true));
        assert!(desk.change("lamps.panel.flux_lm", 800.into(), false), "dragged on");
        let dragged = desk.scene.file().clone();
        desk.undo();
        assert_eq!(desk.scene.file(), &first);
        desk.redo();
        assert_eq!(desk.scene.file(), &dragged);
        assert!(!desk.can_redo() && desk.can_undo() && desk.unsaved);
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
        let saved = desk.scene.file().clone();
        desk.change("lamps.panel.flux_lm", 100.into(), true);
        desk.open_scene(&path);
        assert_eq!(desk.scene.file(), &saved);
        assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1);
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
        let scripts =
            ["let x = ;", "fly();", "loop {}", "scene(\"none.ron\");", "throw \"enough\";"];
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
}
