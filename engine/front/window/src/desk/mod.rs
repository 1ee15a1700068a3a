//! What the window knows: the scene being edited, the last script run, and
//! where its playback stands. No graphics in here.

mod edited;
pub(crate) mod playback;
mod rehearsed;
pub(crate) mod wall;

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Instant;

use dryturn_cube::CubeState;
use dryturn_record::{Exhibit, Record};
use dryturn_rehearsal::Pass;
use dryturn_scene::Scene;

use self::edited::load;
use self::playback::{Moment, Player};
use self::rehearsed::Rehearsed;
use self::wall::Wall;
use crate::args::Question;
use crate::workers::clerk::News;

/// Most messages that are kept.
const MAX_MESSAGES: usize = 50;

/// Something that the window must say.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(crate) struct Message {
    pub(crate) text: String,
    pub(crate) is_error: bool,
}

/// What the window knows.
#[derive(bevy::prelude::Resource)]
pub(crate) struct Desk {
    pub(crate) scene: Arc<Scene>,
    pub(crate) scene_path: PathBuf,
    /// Counts changes of the scene.
    pub(crate) edition: u64,
    /// When the last one was made.
    pub(crate) changed: Instant,
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
    pub(crate) script: Rehearsed,
    pub(crate) player: Player,
    pub(crate) outlines: bool,
    pub(crate) cautions_open: bool,
    pub(crate) wall: Wall,
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
            changed: Instant::now(),
            dragged: None,
            written: Vec::new(),
            asked_about: None,
            undo: Vec::new(),
            redo: Vec::new(),
            unsaved: false,
            question: Question::See,
            messages: Vec::new(),
            script: Rehearsed::default(),
            player: Player::default(),
            outlines: true,
            cautions_open: false,
            wall: Wall::of(cameras),
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

    /// Picks a script to look at and run; what an earlier one left is put away.
    /// False if it cannot be read.
    pub(crate) fn pick_script(&mut self, path: &Path) -> bool {
        match dryturn_console::text(path) {
            Ok(text) => {
                self.script = Rehearsed { path: path.to_owned(), text, ..Rehearsed::default() };
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
        self.player = self.player.rewound();
        let (all, failed) = (record.expectations.len(), record.failed());
        let name = self.script.path.display();
        let text = format!("{name}: {} of {all} expectations held", all - failed);
        // A single pass says more than a drill: it can be played.
        let single = |exhibit: &Exhibit| matches!(exhibit, Exhibit::Pass(_));
        self.script.shown = record.exhibits.iter().position(single).unwrap_or(0);
        self.script.record = Some(record);
        self.tell(text, failed > 0);
    }

    /// The pass that is looked at.
    pub(crate) fn pass(&self) -> Option<&Arc<Pass>> {
        self.script.pass()
    }

    /// Looks at another pass or drill of the run.
    pub(crate) fn look_at(&mut self, exhibit: usize) {
        self.script.shown = exhibit;
        self.player = self.player.rewound();
    }

    /// The scene of the pass or drill that is looked at, where another one is open.
    pub(crate) fn other_scene(&self) -> Option<&Arc<Scene>> {
        let pass = self.script.pass().map(|pass| &pass.scene);
        let scene = pass.or_else(|| self.script.drill().map(|drill| &drill.scene))?;
        (scene.file() != self.scene.file()).then_some(scene)
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
        self.script.pass().is_some_and(|pass| self.player.play_on(pass, real_s))
    }

    pub(crate) fn toggle_play(&mut self) {
        if let Some(pass) = self.script.pass() {
            self.player.toggle(pass);
        }
    }

    pub(crate) fn step_beat(&mut self, forward: bool) {
        if let Some(pass) = self.script.pass() {
            self.player.step_beat(pass, forward);
        }
    }
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
mod tests;
