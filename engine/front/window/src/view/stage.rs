//! The 3D view as a picture that is drawn anew only when something in it changes.
//!
//! Where a processor draws for want of a graphics card, the 3D view takes a quarter
//! of a second, and the cameras' pictures wait on the same processor: there the
//! view follows a changed lamp when they are there.

use std::sync::Arc;
use std::time::{Duration, Instant};

use bevy::camera::RenderTarget;
use bevy::prelude::*;
use bevy::render::render_resource::{Extent3d, TextureFormat};
use bevy::render::renderer::RenderAdapterInfo;
use bevy::window::RequestRedraw;
use bevy_egui::egui;
use dryturn_scene::Scene;

use crate::desk::Desk;
use crate::desk::playback::Moment;
use crate::view::orbit::Orbit;

/// Drawings at the start that are made whatever changes: by then all pipelines are
/// there.
const WARM_UP: u32 = 20;
/// Drawings after a change of the rig: new things may be a drawing late.
const AFTER_CHANGE: u32 = 2;
/// Longest that a software-drawn view waits for the cameras' pictures.
const PATIENCE: Duration = Duration::from_millis(800);

/// The eye of the 3D view.
#[derive(Component)]
pub(crate) struct Eye;

/// What was drawn last.
#[derive(PartialEq)]
struct Drawn {
    orbit: Orbit,
    moment: Moment,
}

/// The picture and what it shows.
#[derive(Resource)]
pub(crate) struct Stage {
    pub(crate) image: Handle<Image>,
    pub(crate) texture: Option<egui::TextureId>,
    /// Where it hangs: left, top, width, height in pixels of the window.
    pub(crate) place: [f32; 4],
    scene: Option<Arc<Scene>>,
    drawn: Option<Drawn>,
    /// Drawings that are due whatever changes.
    due: u32,
    /// Since when a changed scene has waited to be drawn.
    waiting: Option<Instant>,
    /// Whether this frame draws it.
    drawing: bool,
}

impl Stage {
    pub(crate) fn new(images: &mut Assets<Image>) -> Self {
        let image = Image::new_target_texture(64, 64, TextureFormat::Rgba8UnormSrgb, None);
        Self {
            image: images.add(image),
            texture: None,
            place: [0.0; 4],
            scene: None,
            drawn: None,
            due: WARM_UP,
            waiting: None,
            drawing: true,
        }
    }

    pub(crate) fn target(&self) -> RenderTarget {
        RenderTarget::Image(self.image.clone().into())
    }

    /// The 3D view hangs here from now on; drawn anew where its size changes.
    pub(crate) fn hang(&mut self, place: [f32; 4], images: &mut Assets<Image>) {
        let size = |place: [f32; 4]| UVec2::new(place[2] as u32, place[3] as u32).max(UVec2::ONE);
        if size(place) != size(self.place) {
            if let Some(mut image) = images.get_mut(&self.image) {
                let UVec2 { x: width, y: height } = size(place);
                image.resize(Extent3d { width, height, depth_or_array_layers: 1 });
            }
            self.due = self.due.max(AFTER_CHANGE);
        }
        self.place = place;
    }
}

/// Whether a processor draws.
fn drawn_by_software(adapter: Option<&RenderAdapterInfo>) -> bool {
    // `DeviceType` of the graphics library; its name is enough to tell.
    adapter.is_some_and(|adapter| format!("{:?}", adapter.device_type) == "Cpu")
}

/// Decides whether this frame draws the view.
pub(crate) fn decide(
    mut stage: ResMut<Stage>,
    desk: Res<Desk>,
    orbit: Res<Orbit>,
    adapter: Option<Res<RenderAdapterInfo>>,
    mut eye: Single<&mut Camera, With<Eye>>,
    mut redraw: MessageWriter<RequestRedraw>,
) {
    let now = Drawn { orbit: *orbit, moment: desk.moment() };
    let other_scene = stage.scene.as_ref().is_none_or(|scene| !Arc::ptr_eq(scene, &desk.scene));
    let moved = stage.drawn.as_ref() != Some(&now);
    let waiting = *stage.waiting.get_or_insert_with(Instant::now);
    let waits = other_scene
        && !moved
        && stage.due == 0
        && !desk.wall.shows(desk.changed)
        && waiting.elapsed() < PATIENCE
        && drawn_by_software(adapter.as_deref());
    if other_scene && !waits {
        stage.due = stage.due.max(AFTER_CHANGE);
        stage.scene = Some(desk.scene.clone());
    }
    stage.drawing = (moved && !waits) || stage.due > 0;
    if stage.drawing {
        stage.due = stage.due.saturating_sub(1);
        stage.drawn = Some(now);
    }
    if !waits {
        stage.waiting = None;
    }
    if stage.due > 0 {
        redraw.write(RequestRedraw);
    }
    eye.is_active = stage.drawing;
}

/// For what only matters when the view is drawn.
pub(crate) fn drawing(stage: Res<Stage>) -> bool {
    stage.drawing
}

/// The eye goes where the person wants it.
pub(crate) fn look(orbit: Res<Orbit>, mut eye: Single<&mut Transform, With<Eye>>) {
    let wanted = orbit.transform();
    if **eye != wanted {
        **eye = wanted;
    }
}
