//! The scene on the desk as it is edited: opened, saved, changed, and every change undone.

use std::path::Path;
use std::sync::Arc;
use std::time::Instant;

use dryturn_scene::Scene;
use serde_json::Value as Json;

use super::Desk;

/// Most steps that can be undone.
const MAX_UNDO: usize = 200;

pub(super) fn load(path: &Path) -> Result<Arc<Scene>, String> {
    dryturn_console::scene(path).map(Arc::new).map_err(|faults| faults.join("; "))
}

impl Desk {
    fn take(&mut self, scene: Arc<Scene>) {
        self.wall.frames.resize(scene.file().cameras.len(), None);
        self.scene = scene;
        self.edition += 1;
        self.changed = Instant::now();
    }

    /// Opens another scene in place of this one; on an error this one stays.
    pub(crate) fn open_scene(&mut self, path: &Path) {
        match load(path) {
            Ok(scene) => {
                // Undo brings the scene before back, unsaved changes included.
                self.remember();
                self.dragged = None;
                self.unsaved = false;
                self.scene_path = path.to_owned();
                self.wall.frames.clear();
                self.wall.developed += 1;
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
        let elsewhere = path.parent() != self.scene_path.parent();
        let table = self.scene.curves().next().map(|(table, _)| table.to_owned());
        if let Some(table) = table.filter(|_| elsewhere) {
            let (path, beside) = (path.display(), self.scene_path.display());
            self.complain(format!(
                "{path}: the scene names '{table}', which lies beside {beside}; save it in that folder"
            ));
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
                self.scene = Arc::new(self.scene.renamed(&path.display().to_string()));
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
                    self.remember();
                }
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

    /// The present scene is what undo goes back to.
    fn remember(&mut self) {
        self.undo.push(self.scene.clone());
        if self.undo.len() > MAX_UNDO {
            self.undo.remove(0);
        }
        self.redo.clear();
    }

    /// The figure has been let go.
    pub(crate) fn let_go(&mut self) {
        self.dragged = None;
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

    /// Puts that scene on the stage, as a change that can be undone.
    pub(crate) fn show_other_scene(&mut self) {
        if let Some(scene) = self.other_scene().cloned() {
            self.remember();
            self.unsaved = true;
            self.take(scene);
        }
    }
}
