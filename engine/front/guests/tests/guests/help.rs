//! Guests of the tests, and where their processes are.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::{Duration, Instant};

use dryturn_cube::{Colouring, CubeState, Face, Stickering};
use dryturn_guests::{ControlBegin, DeclaredMoves, GuestCommand, Limits, PlanCosts};
use dryturn_handoff::Frame;
use dryturn_reading::KnownScan;
use dryturn_scene::Scene;
use tempfile::TempDir;

/// Enough for a machine under load to start Python.
pub(crate) const PATIENT: Limits =
    Limits { start: Duration::from_secs(60), answer: Duration::from_secs(60) };

/// For guests that do not answer in any time.
pub(crate) const SHORT: Limits =
    Limits { start: Duration::from_secs(60), answer: Duration::from_millis(150) };

pub(crate) const COSTS: PlanCosts =
    PlanCosts { quarter_turn_s: 0.05, half_turn_s: 0.07, pair_s: None, between_s: None, row: None };

/// An axis of some size.
pub(crate) fn axis() -> ControlBegin {
    ControlBegin {
        tick_s: 125e-6,
        axes: 6,
        counts_per_turn: 1 << 14,
        current_limit_a: 6.0,
        torque_constant_n_m_per_a: 0.095,
        inertia_kg_m2: 8e-5,
        friction_n_m: 0.156,
        viscous_friction_n_m_s: 1e-5,
        bus_v: 48.0,
        moves: DeclaredMoves {
            profile: "MinimumTime".to_owned(),
            planned_torque_share: 0.85,
            speed_limit_rad_s: 400.0,
            acceleration_limit_rad_s2: 3500.0,
            quarter_turn_s: 0.045,
            half_turn_s: 0.065,
        },
        ..ControlBegin::default()
    }
}

/// A guest that can be started, with a folder of its own.
pub(crate) struct Stage {
    folder: TempDir,
    words: Vec<String>,
}

impl Stage {
    /// `tests/guests/SCRIPT FIRST PIDFILE …`
    pub(crate) fn of(script: &str, first: &str) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/guests").join(script);
        let pidfile = folder.path().join("pid");
        let text = |path: &Path| path.to_str().unwrap().to_owned();
        let words = vec!["python3".to_owned(), text(&script), first.to_owned(), text(&pidfile)];
        Self { folder, words }
    }

    /// A good guest, whose conversation is logged.
    pub(crate) fn good(role: &str) -> Self {
        let mut stage = Self::of("good.py", role);
        stage.words.push(stage.path("log").to_str().unwrap().to_owned());
        stage
    }

    /// With a table of the turns that solve cubes.
    pub(crate) fn with_table(mut self, table: &serde_json::Value) -> Self {
        let path = self.path("table");
        std::fs::write(&path, table.to_string()).unwrap();
        self.words.push(path.to_str().unwrap().to_owned());
        self
    }

    pub(crate) fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    pub(crate) fn command(&self) -> GuestCommand {
        GuestCommand::of_words(self.words.clone()).unwrap()
    }

    /// Lines of both sides, in order.
    pub(crate) fn log(&self) -> Vec<String> {
        let text = std::fs::read_to_string(self.path("log")).unwrap();
        text.lines().map(str::to_owned).collect()
    }

    /// Sees to it that nothing of the guest's group is left. What its dead parent has left to the
    /// system may still be waited for there.
    pub(crate) fn assert_gone(&self) {
        let Ok(pid) = std::fs::read_to_string(self.path("pid")) else { return };
        // What has been killed takes its time to go.
        let until = Instant::now() + Duration::from_secs(20);
        while !group(&pid).is_empty() && Instant::now() < until {
            std::thread::sleep(Duration::from_millis(5));
        }
        let left = group(&pid);
        assert!(left.is_empty(), "{:?} left {left:?}", self.words);
    }

    /// Processes of its group.
    pub(crate) fn group(&self) -> Vec<String> {
        group(&std::fs::read_to_string(self.path("pid")).unwrap())
    }
}

/// Live processes of a group: `/proc/PID/stat` is number, (name), state, parent, group (proc(5)).
fn group(leader: &str) -> Vec<String> {
    let stats = std::fs::read_dir("/proc")
        .unwrap()
        .filter_map(|entry| std::fs::read_to_string(entry.ok()?.path().join("stat")).ok());
    let in_group = |stat: &String| {
        let after_name = stat.rsplit(')').next().unwrap_or_default();
        let mut fields = after_name.split_whitespace();
        let state = fields.next().unwrap_or_default();
        let own = stat.split(' ').next() == Some(leader);
        // The leader is waited for by us, so not even a dead one may be left.
        fields.nth(1) == Some(leader) && (own || state != "Z")
    };
    stats.filter(in_group).collect()
}

pub(crate) fn scene() -> Arc<Scene> {
    let text = include_str!("../../../../../scenes/workbench.ron");
    Arc::new(Scene::parse(text, "workbench.ron").unwrap())
}

/// Pictures of one row, whose pixels are the facelets' colours in order: what the good reader
/// reads.
pub(crate) fn frames(scene: &Scene, shown: &Colouring) -> Vec<Frame> {
    let pixel = |face: &Face| [40 * face.index() as u8 + 20, 7, 9];
    let pixels: Vec<u8> = shown.iter().flat_map(pixel).collect();
    let frame = |camera: String| Frame { camera, width: 54, height: 1, pixels: pixels.clone() };
    scene.file().picture_names().into_iter().map(frame).collect()
}

pub(crate) fn known(scene: &Scene, cube: &CubeState) -> KnownScan {
    KnownScan { shown: Stickering::from(cube), frames: frames(scene, &cube.colours()) }
}
