//! Goes through the whole window without a person: what CI looks at.
//!
//! It opens the window, waits for the frames, runs the first rehearsal, plays it
//! to the end, changes a lamp, opens broken files, takes pictures on the way and
//! leaves what it saw in a folder: pictures, the ledger, the camera frames, and
//! `inspection.json` with places and times.

mod broken;
mod places;

use std::path::{Path, PathBuf};
use std::time::{Duration, Instant};

use bevy::prelude::*;
use bevy::render::view::screenshot::{Captured, Screenshot, save_to_disk};
use bevy::window::RequestRedraw;
use serde_json::{Value as Json, json};

use crate::args::Question;
use crate::desk::Desk;
use crate::desk::playback::length_s;
use crate::desk::wall::Hung;
use crate::errands::Errands;
use crate::view::stage::{Eye, Stage};

/// Frames drawn before a picture, so that it shows what has just changed.
const SETTLING_FRAMES: u32 = 6;
/// Pause before a change that is timed.
const REST: Duration = Duration::from_millis(700);
/// Longest wait for any one thing, s.
const PATIENCE_S: f32 = 120.0;

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Step {
    FirstFrames,
    Picture(&'static str),
    RunScript,
    AwaitScript,
    Play,
    Playing,
    Rest(&'static str),
    ChangeLamp,
    AwaitLamp,
    MoveLamp,
    AwaitMove,
    Broken(usize),
    AwaitBroken(usize),
    End,
}

/// How far the inspection is.
#[derive(Resource)]
pub(crate) struct Inspection {
    folder: PathBuf,
    script: PathBuf,
    broken: Vec<PathBuf>,
    step: Step,
    frames_in_step: u32,
    since: Instant,
    findings: Json,
    messages: usize,
}

impl Inspection {
    /// Prepares the folder with ten broken files.
    pub(crate) fn new(folder: &Path, scene: &Path) -> anyhow::Result<Self> {
        let broken = broken::files(folder, scene)?;
        let root = scene.parent().and_then(Path::parent).map(Path::to_owned).unwrap_or_default();
        Ok(Self {
            folder: folder.to_owned(),
            script: root.join("scripts/first_rehearsal.rhai"),
            broken,
            step: Step::FirstFrames,
            frames_in_step: 0,
            since: Instant::now(),
            findings: json!({}),
            messages: 0,
        })
    }

    fn go(&mut self, step: Step) {
        self.step = step;
        self.frames_in_step = 0;
        self.since = Instant::now();
    }
}

/// One step a frame.
#[allow(clippy::too_many_arguments)] // a system's arguments are what it uses
pub(crate) fn step(
    inspection: Option<ResMut<Inspection>>,
    mut desk: ResMut<Desk>,
    errands: Res<Errands>,
    eye: Single<(&Camera, &GlobalTransform), With<Eye>>,
    stage: Res<Stage>,
    taken: Query<(), With<Captured>>,
    mut commands: Commands,
    mut redraw: MessageWriter<RequestRedraw>,
    mut exit: MessageWriter<AppExit>,
) {
    let Some(mut inspection) = inspection else { return };
    // Nobody moves a mouse: keep the loop turning, but let the window rest, as it
    // would under a person's hand, while new frames are timed.
    if !matches!(inspection.step, Step::Rest(_) | Step::AwaitLamp | Step::AwaitMove) {
        redraw.write(RequestRedraw);
    }
    let job = &mut *inspection;
    job.frames_in_step += 1;
    if job.since.elapsed().as_secs_f32() > PATIENCE_S {
        eprintln!("dryturn-window: the inspection is stuck at {:?}", job.step);
        exit.write(AppExit::from_code(3));
        return;
    }
    match job.step {
        Step::FirstFrames if desk.wall.is_full() => {
            job.go(Step::Picture("opened"));
        }
        Step::Picture(name) if job.frames_in_step == SETTLING_FRAMES => {
            let edge_mm = desk.scene.file().cube.edge_mm;
            job.findings["facelets"][name] = places::of_corners(eye.0, eye.1, stage.place, edge_mm);
            if name == "opened" {
                job.findings["pictures"] = json!(desk.wall.rects);
            }
            let path = job.folder.join(format!("{name}.png"));
            commands.spawn(Screenshot::primary_window()).observe(save_to_disk(path));
        }
        Step::Picture(name) if job.frames_in_step > SETTLING_FRAMES => {
            let there = job.folder.join(format!("{name}.png")).is_file() && taken.is_empty();
            if there {
                job.go(match name {
                    "opened" => Step::RunScript,
                    "rehearsed" => Step::Play,
                    "played" => Step::Rest("change"),
                    "lamp" => Step::Rest("move"),
                    _ => Step::End,
                });
            }
        }
        Step::RunScript => {
            let script = job.script.clone();
            desk.pick_script(&script);
            errands.start_script(&mut desk);
            job.go(Step::AwaitScript);
        }
        Step::AwaitScript if desk.script.clerk.is_none() => {
            let Some(record) = &desk.script.record else {
                eprintln!("dryturn-window: the first rehearsal did not run");
                exit.write(AppExit::from_code(3));
                return;
            };
            let ledger = std::fs::write(job.folder.join("ledger.jsonl"), record.ledger_text());
            job.findings["failed"] = json!(record.failed());
            if let Err(error) = ledger {
                eprintln!("dryturn-window: {error}");
                exit.write(AppExit::from_code(2));
            }
            desk.question = Question::Read;
            job.go(Step::Picture("rehearsed"));
        }
        Step::Play => {
            desk.question = Question::Happen;
            desk.player.speed = 0;
            desk.toggle_play();
            job.go(Step::Playing);
        }
        Step::Playing if !desk.player.playing => {
            let end = desk.pass().map_or(0.0, |pass| length_s(pass));
            job.findings["played_to_ms"] = json!(desk.player.at_s * 1e3);
            job.findings["run_ms"] = json!(end * 1e3);
            let colours = desk.moment().colours;
            job.findings["ends_solved"] =
                json!(colours == dryturn_cube::CubeState::SOLVED.colours());
            job.go(Step::Picture("played"));
        }
        // As before a person's hand: nothing is being drawn.
        Step::Rest(_) if job.frames_in_step == 1 => {
            desk.question = Question::See;
            let wake = errands.wake.clone();
            std::thread::spawn(move || {
                std::thread::sleep(REST);
                wake();
            });
        }
        Step::Rest(next) if job.since.elapsed() >= REST => {
            job.go(if next == "move" { Step::MoveLamp } else { Step::ChangeLamp });
            redraw.write(RequestRedraw);
        }
        Step::ChangeLamp if desk.wall.is_full() => {
            let name = desk.scene.file().lamps.last().map(|lamp| lamp.name.clone());
            let field = format!("lamps.{}.flux_lm", name.unwrap_or_default());
            desk.change(&field, json!(120.0), false);
            job.go(Step::AwaitLamp);
        }
        Step::AwaitLamp => {
            if let Some((coarse, full)) = desk.wall.latency(desk.changed) {
                job.findings["coarse_ms"] = json!(coarse.as_secs_f64() * 1e3);
                job.findings["full_ms"] = json!(full.as_secs_f64() * 1e3);
                for Hung { frame, .. } in desk.wall.frames.iter().flatten() {
                    let path = job.folder.join(format!("camera-{}.png", frame.camera));
                    let saved = dryturn_report::encode(frame).map_err(anyhow::Error::from);
                    let saved = saved.and_then(|png| Ok(std::fs::write(path, png)?));
                    if let Err(error) = saved {
                        eprintln!("dryturn-window: {error:#}");
                        exit.write(AppExit::from_code(2));
                    }
                }
                job.go(Step::Picture("lamp"));
            }
        }
        Step::MoveLamp if desk.wall.is_full() => {
            let lamp = desk.scene.file().lamps.last().cloned();
            if let Some(lamp) = lamp {
                let [x, y, z] = lamp.position_mm;
                let field = format!("lamps.{}.position_mm", lamp.name);
                desk.change(&field, json!([x - 20.0, y, z]), false);
            }
            job.go(Step::AwaitMove);
        }
        Step::AwaitMove => {
            if let Some((coarse, full)) = desk.wall.latency(desk.changed) {
                job.findings["moved_coarse_ms"] = json!(coarse.as_secs_f64() * 1e3);
                job.findings["moved_full_ms"] = json!(full.as_secs_f64() * 1e3);
                job.go(Step::Broken(0));
            }
        }
        Step::Broken(index) => {
            let Some(path) = job.broken.get(index).cloned() else {
                job.findings["broken_files"] = json!(index);
                job.go(Step::Picture("broken"));
                return;
            };
            job.messages = desk.messages.len();
            if path.extension().is_some_and(|e| e == "ron") {
                desk.open_scene(&path);
            } else {
                desk.pick_script(&path);
                errands.start_script(&mut desk);
            }
            job.go(Step::AwaitBroken(index));
        }
        Step::AwaitBroken(index) if desk.script.clerk.is_none() => {
            let said = desk.messages.get(job.messages).filter(|message| message.is_error);
            let Some(said) = said else {
                eprintln!("dryturn-window: nothing was said about {:?}", job.broken[index]);
                exit.write(AppExit::from_code(3));
                return;
            };
            job.findings["said"][index.to_string()] = json!(said.text);
            job.go(Step::Broken(index + 1));
        }
        Step::End => {
            let text = format!("{:#}\n", job.findings);
            let code = match std::fs::write(job.folder.join("inspection.json"), text) {
                Ok(()) => AppExit::Success,
                Err(error) => {
                    eprintln!("dryturn-window: {error}");
                    AppExit::from_code(2)
                }
            };
            exit.write(code);
        }
        _ => {}
    }
}
