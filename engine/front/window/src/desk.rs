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

/// Most messages that are kept.
const MAX_MESSAGES: usize = 50;
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
    /// The field that is being dragged: its changes are one step of undo.
    dragged: Option<String>,
    /// Files that this window wrote, and one that it has asked about.
    written: Vec<PathBuf>,
    asked_about: Option<PathBuf>,
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
            dragged: None,
            written: Vec::new(),
            asked_about: None,
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

    fn tell(&mut self, text: String, is_error: bool) {
        let message = Message { text, is_error };
        // A figure that is dragged beyond its range says so once.
        if self.messages.last() != Some(&message) {
            self.messages.push(message);
        }
        if self.messages.len() > MAX_MESSAGES {
            self.messages.remove(0);
        }
    }

    pub(crate) fn say(&mut self, text: impl Into<String>) {
        self.tell(text.into(), false);
    }

    pub(crate) fn complain(&mut self, text: impl Into<String>) {
        self.tell(text.into(), true);
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
                // Undo brings the scene before back, unsaved changes included.
                self.undo.push(self.scene.clone());
                self.redo.clear();
                self.dragged = None;
                self.unsaved = false;
                self.scene_path = path.to_owned();
                self.frames.clear();
                self.developed += 1;
                self.say(format!("opened {}", path.display()));
                self.take(scene);
            }
            Err(error) => self.complain(error),
        }
    }

    /// Writes the scene, all fields spelt out; the old file stays until the new
    /// one is whole. A file that this window did not write is only replaced when
    /// asked twice: comments in it are lost.
    pub(crate) fn save_scene(&mut self, path: &Path) {
        if path.extension().is_none_or(|e| e != "ron") {
            self.complain(format!("{}: a scene's name ends in .ron", path.display()));
            return;
        }
        let ours = self.written.iter().any(|written| written == path);
        if path.exists() && !ours && self.asked_about.as_deref() != Some(path) {
            self.asked_about = Some(path.to_owned());
            let path = path.display();
            self.complain(format!(
                "{path}: is there already, and its comments would be lost; save again to replace it"
            ));
            return;
        }
        self.asked_about = None;
        let partial = path.with_extension("ron.partial");
        let saved = std::fs::write(&partial, format!("{}\n", self.scene.to_ron()))
            .and_then(|()| std::fs::rename(&partial, path));
        match saved {
            Ok(()) => {
                self.unsaved = false;
                self.written.push(path.to_owned());
                self.scene_path = path.to_owned();
                self.say(format!("saved {}", path.display()));
            }
            Err(error) => {
                let _ = std::fs::remove_file(&partial);
                self.complain(format!("{}: cannot be saved: {error}", path.display()));
            }
        }
    }

    /// Changes one value of the scene, as a script would. While a figure is being
    /// dragged, its changes join one step of undo.
    pub(crate) fn change(&mut self, field: &str, value: Json, dragging: bool) -> bool {
        match self.scene.with(field, value) {
            Ok(scene) => {
                let joins = dragging && self.dragged.as_deref() == Some(field);
                self.dragged = dragging.then(|| field.to_owned());
                if !joins {
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

    /// The figure has been let go.
    pub(crate) fn let_go(&mut self) {
        self.dragged = None;
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
        self.dragged = None;
        if let Some(before) = self.undo.pop() {
            self.redo.push(self.scene.clone());
            self.unsaved = true;
            self.take(before);
        }
    }

    pub(crate) fn redo(&mut self) {
        self.dragged = None;
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

    /// Picks a script to look at and run; what an earlier one left is put away.
    /// False if it cannot be read.
    pub(crate) fn pick_script(&mut self, path: &Path) -> bool {
        match read_text(path) {
            Ok(text) => {
                self.script = ScriptDesk { path: path.to_owned(), text, ..ScriptDesk::default() };
                self.player.playing = false;
                true
            }
            Err(error) => {
                self.complain(error);
                false
            }
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
#[path = "desk_tests.rs"]
mod tests;
