//! One picture of the window, drawn without a display.

use std::path::{Path, PathBuf};
use std::time::Instant;

use bevy::camera::RenderTarget;
use bevy::prelude::*;
use bevy::render::render_resource::{TextureFormat, TextureUsages};
use bevy::render::view::screenshot::{Screenshot, ScreenshotCaptured};

use crate::desk::Desk;
use crate::desk::playback::length_s;

/// Frames that are drawn before a picture is taken: what has been loaded by then
/// is on it.
const SETTLING_FRAMES: u32 = 30;
/// Longest wait for a picture, s; a drill may run before it.
const PATIENCE_S: u64 = 600;

/// The picture that is wanted, where it is drawn, and how far it is.
#[derive(Resource)]
pub(crate) struct Offscreen {
    path: PathBuf,
    at_ms: f64,
    size: (u32, u32),
    target: Option<Handle<Image>>,
    settled: u32,
    asked: bool,
    started: Instant,
}

impl Offscreen {
    pub(crate) fn new(path: &Path, at_ms: f64, size: (u32, u32)) -> Self {
        let started = Instant::now();
        Self { path: path.to_owned(), at_ms, size, target: None, settled: 0, asked: false, started }
    }

    /// Makes what the window is drawn on.
    pub(crate) fn target(&mut self, images: &mut Assets<Image>) -> RenderTarget {
        let (width, height) = self.size;
        let mut image =
            Image::new_target_texture(width, height, TextureFormat::Rgba8UnormSrgb, None);
        image.texture_descriptor.usage |= TextureUsages::COPY_SRC;
        let target = self.target.insert(images.add(image));
        RenderTarget::Image(target.clone().into())
    }
}

/// Waits until everything is there, takes the picture, ends.
pub(crate) fn take_picture(
    mut desk: ResMut<Desk>,
    offscreen: Option<ResMut<Offscreen>>,
    mut commands: Commands,
    mut exit: MessageWriter<AppExit>,
) {
    let Some(mut job) = offscreen else { return };
    let frames_there = desk.wall.is_full();
    // A picture of a mistake is no picture: say it and end.
    let mistake = desk.messages.iter().find(|m| m.is_error && desk.script.record.is_none());
    let late = job.started.elapsed().as_secs() > PATIENCE_S;
    if late || mistake.is_some() {
        let text = mistake.map_or("the picture was not ready in time", |m| m.text.as_str());
        eprintln!("dryturn-window: {text}");
        exit.write(AppExit::from_code(2));
        commands.remove_resource::<Offscreen>();
        return;
    }
    if job.asked || desk.script.clerk.is_some() {
        return;
    }
    if !frames_there {
        job.settled = 0;
        return;
    }
    let end_s = desk.pass().map_or(0.0, |pass| length_s(pass));
    desk.player.at_s = (job.at_ms * 1e-3).min(end_s);
    job.settled += 1;
    let Some(target) = job.target.clone().filter(|_| job.settled > SETTLING_FRAMES) else { return };
    job.asked = true;
    let path = job.path.clone();
    commands.spawn(Screenshot::image(target)).observe(
        move |captured: On<ScreenshotCaptured>, mut exit: MessageWriter<AppExit>| {
            let saved = captured.image.clone().try_into_dynamic().map_err(|e| e.to_string());
            let saved = saved.and_then(|p| p.to_rgb8().save(&path).map_err(|e| e.to_string()));
            exit.write(match saved {
                Ok(()) => AppExit::Success,
                Err(error) => {
                    eprintln!("dryturn-window: {}: {error}", path.display());
                    AppExit::from_code(2)
                }
            });
        },
    );
}
