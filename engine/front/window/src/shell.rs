//! The program around the window: the loop, what runs in it, and what it begins with.

use std::process::ExitCode;
use std::sync::Arc;
use std::time::Duration;

use anyhow::{Context as _, anyhow};
use bevy::app::{PluginGroupBuilder, ScheduleRunnerPlugin};
use bevy::camera::Exposure;
use bevy::camera::visibility::RenderLayers;
use bevy::core_pipeline::tonemapping::Tonemapping;
use bevy::prelude::*;
use bevy::window::{ExitCondition, PresentMode};
use bevy::winit::{EventLoopProxyWrapper, WinitPlugin, WinitSettings, WinitUserEvent};
use bevy_egui::{
    EguiGlobalSettings, EguiInput, EguiPlugin, EguiPreUpdateSet, EguiPrimaryContextPass,
    PrimaryEguiContext, egui,
};
use dryturn_units::noise::Seed;

use crate::args::Args;
use crate::desk::Desk;
use crate::errands::{self, Errands};
use crate::offscreen::{self, Offscreen};
use crate::view::orbit::Orbit;
use crate::view::stage::{self, Eye, Stage};
use crate::view::stand::{self, Paints, Standing};
use crate::workers::darkroom::Darkroom;
use crate::{inspect, ui};

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
    let errands = Errands::new(seed, wake);
    if let Some(script) = &args.script
        && desk.pick_script(script)
    {
        errands.start_script(&mut desk);
    }
    if let Some(folder) = &args.inspect {
        let inspection = inspect::Inspection::new(folder, &args.scene)?;
        app.insert_resource(inspection);
    }
    if let Some(path) = &args.picture {
        app.insert_resource(Offscreen::new(path, args.at_ms, args.size));
    }
    app.insert_resource(desk)
        .insert_resource(darkroom)
        .insert_resource(errands)
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
                errands::listen,
                stage::decide,
                (stand::build, stand::pose, stand::cones, stage::look)
                    .chain()
                    .run_if(stage::drawing),
                offscreen::take_picture,
            )
                .chain(),
        )
        .add_systems(
            PreUpdate,
            forget_unchanged_keys
                .after(EguiPreUpdateSet::ProcessInput)
                .before(EguiPreUpdateSet::BeginPass),
        )
        .add_systems(EguiPrimaryContextPass, (ui::show, errands::order).chain());
    Ok(match app.run() {
        AppExit::Success => ExitCode::SUCCESS,
        AppExit::Error(code) => ExitCode::from(code.get()),
    })
}

fn set_up(
    mut commands: Commands,
    offscreen: Option<ResMut<Offscreen>>,
    mut images: ResMut<Assets<Image>>,
    mut egui_settings: ResMut<EguiGlobalSettings>,
) {
    egui_settings.auto_create_primary_context = false;
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
    if let Some(mut offscreen) = offscreen {
        over.insert(offscreen.target(&mut images));
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
