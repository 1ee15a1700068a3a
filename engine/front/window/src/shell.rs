//! The program around the window: cameras, workers, the loop, pictures.

use std::path::PathBuf;
use std::process::ExitCode;
use std::sync::Arc;
use std::time::{Duration, Instant};

use anyhow::{Context as _, anyhow};
use bevy::app::{PluginGroupBuilder, ScheduleRunnerPlugin};
use bevy::camera::visibility::RenderLayers;
use bevy::camera::{Exposure, RenderTarget};
use bevy::core_pipeline::tonemapping::Tonemapping;
use bevy::prelude::*;
use bevy::render::render_resource::{TextureFormat, TextureUsages};
use bevy::render::view::screenshot::{Screenshot, ScreenshotCaptured};
use bevy::window::{ExitCondition, PresentMode, RequestRedraw};
use bevy::winit::{EventLoopProxyWrapper, WinitPlugin, WinitSettings, WinitUserEvent};
use bevy_egui::{
    EguiGlobalSettings, EguiInput, EguiPlugin, EguiPreUpdateSet, EguiPrimaryContextPass,
    PrimaryEguiContext, egui,
};
use dryturn_cube::{CubeState, Stickering};
use dryturn_units::noise::Seed;

use crate::args::Args;
use crate::clerk::Clerk;
use crate::darkroom::{BrokenDown, Darkroom, Developed, Order};
use crate::desk::Desk;
use crate::orbit::Orbit;
use crate::playback::length_s;
use crate::stage::{self, Stage};
use crate::stand::{Paints, Standing};
use crate::wall::Hung;
use crate::{inspect, stand, ui};

/// Frames that are drawn before a picture is taken: what has been loaded by then
/// is on it.
const SETTLING_FRAMES: u32 = 30;
/// Longest wait for a picture, s; a drill may run before it.
const PATIENCE_S: u64 = 600;

/// The eye of the 3D view.
#[derive(Component)]
pub(crate) struct Eye;

/// What the loop needs to know.
#[derive(Resource)]
pub(crate) struct Shell {
    pub(crate) seed: Seed,
    pub(crate) wake: Arc<dyn Fn() + Send + Sync>,
    /// Edition of the scene and exhibit whose frames have been ordered.
    ordered: Option<(u64, Option<usize>)>,
    /// Whether it has been said that the frame worker broke down.
    frames_ended: bool,
    /// Number of the last order of frames.
    orders: u64,
    picture: Option<PictureJob>,
    target: Option<Handle<Image>>,
    size: (u32, u32),
}

struct PictureJob {
    path: PathBuf,
    at_ms: f64,
    settled: u32,
    asked: bool,
    started: Instant,
}

impl Shell {
    /// Starts the script that lies on the desk.
    pub(crate) fn start_script(&self, desk: &mut Desk) {
        let wake = self.wake.clone();
        // As it is on disk now, not as it was when it was picked.
        let path = desk.script.path.clone();
        if !desk.pick_script(&path) {
            return;
        }
        let text = desk.script.text.clone();
        match Clerk::start(&desk.script.path, text, self.seed, move || wake()) {
            Ok(clerk) => {
                desk.script.clerk = Some(clerk);
                desk.script.error_line = None;
            }
            Err(error) => desk.complain(format!("the script cannot be started: {error}")),
        }
    }
}

fn plugins(args: &Args) -> PluginGroupBuilder {
    let offscreen = args.picture.is_some();
    let primary_window = (!offscreen).then(|| Window {
        title: "Dryturn".to_owned(),
        resolution: (1280, 800).into(),
        present_mode: PresentMode::AutoVsync,
        ..default()
    });
    let exit_condition =
        if offscreen { ExitCondition::DontExit } else { ExitCondition::OnPrimaryClosed };
    let plugins = DefaultPlugins.set(WindowPlugin { primary_window, exit_condition, ..default() });
    // Without a window there need be no display.
    if offscreen { plugins.disable::<WinitPlugin>() } else { plugins }
}

/// Opens the window, or draws one picture offscreen.
pub(crate) fn run(args: Args) -> anyhow::Result<ExitCode> {
    let mut desk = Desk::open(&args.scene).map_err(|error| anyhow!(error))?;
    desk.question = args.view;
    let mut app = App::new();
    app.add_plugins(plugins(&args));
    let offscreen = args.picture.is_some();
    let wake: Arc<dyn Fn() + Send + Sync> = if offscreen {
        app.add_plugins(ScheduleRunnerPlugin::run_loop(Duration::from_millis(5)));
        Arc::new(|| ())
    } else {
        // Draw when something happens, and otherwise every few seconds.
        app.insert_resource(WinitSettings::desktop_app());
        let proxy = (**app.world().resource::<EventLoopProxyWrapper>()).clone();
        Arc::new(move || {
            // A loop that has ended needs no waking.
            let _ = proxy.send_event(WinitUserEvent::WakeUp);
        })
    };
    app.add_plugins(EguiPlugin::default());
    let seed = Seed::new(args.seed);
    let waker = wake.clone();
    let darkroom = Darkroom::open(seed, move || waker()).context("the frame worker")?;
    let shell = Shell {
        seed,
        wake,
        ordered: None,
        frames_ended: false,
        orders: 0,
        picture: args.picture.clone().map(|path| PictureJob {
            path,
            at_ms: args.at_ms,
            settled: 0,
            asked: false,
            started: Instant::now(),
        }),
        target: None,
        size: args.size,
    };
    if let Some(script) = &args.script
        && desk.pick_script(script)
    {
        shell.start_script(&mut desk);
    }
    if let Some(folder) = &args.inspect {
        let inspection = inspect::Inspection::new(folder, &args.scene)?;
        app.insert_resource(inspection);
    }
    app.insert_resource(desk)
        .insert_resource(darkroom)
        .insert_resource(shell)
        .insert_resource(ClearColor(Color::srgb(0.105, 0.11, 0.12)))
        .init_resource::<Orbit>()
        .init_resource::<Paints>()
        .init_resource::<Standing>()
        .init_resource::<ui::Looks>()
        .add_systems(Startup, set_up)
        .add_systems(
            Update,
            (
                inspect::step,
                listen,
                stage::decide,
                (stand::build, stand::pose, stand::cones, look).chain().run_if(stage::drawing),
                take_picture,
            )
                .chain(),
        )
        .add_systems(
            PreUpdate,
            forget_unchanged_keys
                .after(EguiPreUpdateSet::ProcessInput)
                .before(EguiPreUpdateSet::BeginPass),
        )
        .add_systems(EguiPrimaryContextPass, (ui::show, order).chain());
    Ok(match app.run() {
        AppExit::Success => ExitCode::SUCCESS,
        AppExit::Error(code) => ExitCode::from(code.get()),
    })
}

fn set_up(
    mut commands: Commands,
    mut shell: ResMut<Shell>,
    mut images: ResMut<Assets<Image>>,
    mut egui_settings: ResMut<EguiGlobalSettings>,
) {
    egui_settings.auto_create_primary_context = false;
    let target = shell.picture.is_some().then(|| {
        let (width, height) = shell.size;
        let mut image =
            Image::new_target_texture(width, height, TextureFormat::Rgba8UnormSrgb, None);
        image.texture_descriptor.usage |= TextureUsages::COPY_SRC;
        images.add(image)
    });
    let light = (Tonemapping::AcesFitted, Exposure { ev100: 8.2 });
    let stage = Stage::new(&mut images);
    commands.spawn((Eye, Camera3d::default(), stage.target(), light));
    commands.insert_resource(stage);
    let mut over = commands.spawn((
        PrimaryEguiContext,
        Camera2d,
        RenderLayers::none(),
        Camera { order: 1, ..default() },
        // Panels have no edges to smooth.
        Msaa::Off,
    ));
    if let Some(target) = &target {
        over.insert(RenderTarget::Image(target.clone().into()));
    }
    shell.target = target;
}

/// Hears the workers, plays on.
fn listen(
    mut desk: ResMut<Desk>,
    mut shell: ResMut<Shell>,
    darkroom: Res<Darkroom>,
    time: Res<Time>,
    mut redraw: MessageWriter<RequestRedraw>,
) {
    let mut again = desk.hear_clerk();
    loop {
        let developed = match darkroom.collect() {
            Ok(Some(developed)) => developed,
            Ok(None) => break,
            Err(BrokenDown) => {
                if !shell.frames_ended {
                    shell.frames_ended = true;
                    desk.complain(
                        "this is our fault: the frame worker broke down; pictures stand still",
                    );
                }
                break;
            }
        };
        if developed.number != shell.orders {
            continue;
        }
        let Developed { camera, frame, coarse, asked, .. } = developed;
        desk.wall.hang(camera, Hung { frame, coarse, asked });
        if coarse && camera + 1 == desk.wall.frames.len() {
            darkroom.coarse_seen(shell.orders);
        }
    }
    again |= desk.play_on(time.delta_secs_f64());
    if again {
        redraw.write(RequestRedraw);
    }
}

/// Orders frames of what has changed, in the same drawing.
fn order(mut desk: ResMut<Desk>, mut shell: ResMut<Shell>, darkroom: Res<Darkroom>) {
    let wanted = (desk.edition, desk.pass().map(|_| desk.script.shown));
    if shell.ordered != Some(wanted) {
        // A change of the scene has its own time; another pass is picked now.
        let of_scene = shell.ordered.is_none_or(|before| before.0 != wanted.0);
        shell.ordered = Some(wanted);
        let (trial, state) = desk.pass().map_or((0, CubeState::SOLVED), |p| (p.trial, p.truth));
        shell.orders += 1;
        desk.wall.outdate();
        darkroom.ask(Order {
            scene: desk.scene.clone(),
            trial,
            shown: Stickering::from(&state),
            asked: if of_scene { desk.changed } else { Instant::now() },
            number: shell.orders,
        });
    }
}

/// The glue reports the modifier keys every frame, and egui draws again after any
/// report: only a change may pass, or the window would never rest.
fn forget_unchanged_keys(
    mut inputs: Query<&mut EguiInput>,
    mut last: Local<Option<egui::Modifiers>>,
) {
    for mut input in &mut inputs {
        input.events.retain(|event| match event {
            egui::Event::ModifiersChanged(now) => last.replace(*now) != Some(*now),
            _ => true,
        });
    }
}

fn look(orbit: Res<Orbit>, mut eye: Single<&mut Transform, With<Eye>>) {
    let wanted = orbit.transform();
    if **eye != wanted {
        **eye = wanted;
    }
}

/// Offscreen: waits until everything is there, takes the picture, ends.
fn take_picture(
    mut desk: ResMut<Desk>,
    mut shell: ResMut<Shell>,
    mut commands: Commands,
    mut exit: MessageWriter<AppExit>,
) {
    let target = shell.target.clone();
    let Some(job) = &mut shell.picture else { return };
    let frames_there = desk.wall.is_full();
    // A picture of a mistake is no picture: say it and end.
    let mistake = desk.messages.iter().find(|m| m.is_error && desk.script.record.is_none());
    let late = job.started.elapsed().as_secs() > PATIENCE_S;
    if late || mistake.is_some() {
        let text = mistake.map_or("the picture was not ready in time", |m| m.text.as_str());
        eprintln!("dryturn-window: {text}");
        exit.write(AppExit::from_code(2));
        shell.picture = None;
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
    let Some(target) = target.filter(|_| job.settled > SETTLING_FRAMES) else { return };
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
