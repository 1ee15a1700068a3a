//! A guest that reads the cube from the pictures.

mod answer;
mod cameras;
mod pictures;

use dryturn_handoff::{Frame, GuestRole, Reading};
use std::sync::Arc;

use dryturn_cube::net;
use dryturn_reading::KnownScan;
use dryturn_scene::Scene;
use schemars::JsonSchema;
use serde::Serialize;

use crate::command::{GuestCommand, Limits};
use crate::fault::{FaultKind, ProcessFault, Question};
use crate::protocol::{Null, Session};
pub(crate) use answer::ReadResult;
use cameras::CameraDrawn;
use pictures::{Picture, Pictures};

/// What a reader learns from.
#[derive(Debug, Serialize, JsonSchema)]
pub(crate) struct Calibrate {
    /// The cameras as drawn.
    pub(crate) cameras: Vec<CameraDrawn>,
    /// A folder for the guest's own files; it goes when the guest does.
    pub(crate) folder: String,
    /// Known cubes.
    pub(crate) scans: Vec<KnownPictures>,
}

/// Pictures of a known cube.
#[derive(Debug, Serialize, JsonSchema)]
pub(crate) struct KnownPictures {
    /// How it was shown: six named faces of three rows. Its centres are other faces' where the
    /// cube was mounted another way round.
    pub(crate) cube: String,
    /// In the scene's order.
    pub(crate) pictures: Vec<Picture>,
}

/// What a reader is to read.
#[derive(Debug, Serialize, JsonSchema)]
pub(crate) struct ReadPictures {
    /// In the scene's order. They are there until the next question.
    pub(crate) pictures: Vec<Picture>,
}

/// A guest that reads.
pub struct GuestReader {
    session: Session,
    scene: Arc<Scene>,
    pictures: Pictures,
}

impl GuestReader {
    /// Starts it, for pictures of a scene.
    ///
    /// # Errors
    /// See [`Session::start`].
    pub fn start(
        command: &GuestCommand,
        limits: Limits,
        scene: &Arc<Scene>,
    ) -> Result<Self, ProcessFault> {
        let session = Session::start(GuestRole::Reader, command, limits)?;
        let pictures = Pictures::in_folder(session.folder());
        Ok(Self { session, scene: scene.clone(), pictures })
    }

    /// The conversation: the guest's name, how long it thought.
    #[must_use]
    pub fn session(&self) -> &Session {
        &self.session
    }

    /// Shows it the cameras as drawn, and known cubes to learn from.
    ///
    /// # Errors
    /// It does not answer as it must; or pictures cannot be written.
    pub fn calibrate(&mut self, known: &[KnownScan]) -> Result<(), ProcessFault> {
        self.pictures.clear();
        let mut scans = Vec::new();
        for scan in known {
            let pictures = self.write(Question::Calibrate, &scan.frames)?;
            scans.push(KnownPictures { cube: net::write_faces(&scan.shown.colours()), pictures });
        }
        let cameras = cameras::as_drawn(&self.scene);
        let folder = self.session.folder().to_string_lossy().into_owned();
        let question = Calibrate { cameras, folder, scans };
        self.session.ask(Question::Calibrate, &question).map(|Null| ())
    }

    /// Has it read pictures. One that it refuses to read is an unreadable one.
    ///
    /// # Errors
    /// It does not answer as it must; or pictures cannot be written.
    pub fn read(&mut self, frames: &[Frame]) -> Result<Reading, ProcessFault> {
        self.pictures.clear();
        let pictures = self.write(Question::Read, frames)?;
        let answer: ReadResult = self.session.ask(Question::Read, &ReadPictures { pictures })?;
        let cameras = self.scene.file().cameras.len();
        answer.reading(cameras).map_err(|kind| self.session.fault(Question::Read, kind))
    }

    fn write(
        &mut self,
        question: Question,
        frames: &[Frame],
    ) -> Result<Vec<Picture>, ProcessFault> {
        let written = self.pictures.write(self.scene.file(), frames);
        written.map_err(|why| self.session.fault(question, FaultKind::NotStarted { why }))
    }

    /// Lets it end.
    ///
    /// # Errors
    /// See [`Session::goodbye`].
    pub fn goodbye(self) -> Result<(), ProcessFault> {
        self.session.goodbye()
    }
}
