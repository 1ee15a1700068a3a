//! What is drawn over and round the 3D view.
//!
//! Along the top stand the builder's four questions; the band at the bottom
//! answers the one that is picked. On the right hang the cameras' own pictures.

mod cameras;
mod cards;
mod drill;
mod happen;
mod keys;
mod nets;
mod plan;
mod script;
mod stage;
mod top;

use bevy::prelude::*;
use bevy_egui::{EguiContexts, EguiTextureHandle, egui};
use egui::{Color32, Ui, UiBuilder};

use crate::args::Question;
use crate::desk::Desk;
use crate::errands::Errands;
use crate::view::orbit::Orbit;
use crate::view::stage::{Eye, Stage};

/// Textures and small states of the drawing itself.
#[derive(Resource, Default)]
pub(crate) struct Looks {
    textures: Vec<Option<egui::TextureHandle>>,
    /// Count of developed frames that the textures show.
    developed: u64,
    styled: bool,
    scenes_open: bool,
    script_open: bool,
    said_open: bool,
    path: String,
}

const INK: Color32 = Color32::from_rgb(232, 228, 216);
const QUIET: Color32 = Color32::from_rgb(158, 156, 148);
const ACCENT: Color32 = Color32::from_rgb(226, 178, 88);
const GOOD: Color32 = Color32::from_rgb(126, 196, 142);
const BAD: Color32 = Color32::from_rgb(236, 122, 108);

/// Whether something is as it should be: a sign, and its colour.
fn mark(good: bool) -> (&'static str, Color32) {
    if good { ("✔", GOOD) } else { ("✖", BAD) }
}

fn style(ctx: &egui::Context) {
    let mut visuals = egui::Visuals::dark();
    visuals.panel_fill = Color32::from_rgb(38, 38, 36);
    visuals.window_fill = Color32::from_rgb(46, 46, 43);
    visuals.override_text_color = Some(INK);
    visuals.selection.bg_fill = Color32::from_rgb(120, 92, 40);
    visuals.hyperlink_color = ACCENT;
    ctx.set_visuals(visuals);
}

/// Draws everything and takes what the person does.
#[allow(clippy::too_many_arguments)] // a system's arguments are what it uses
pub(crate) fn show(
    mut contexts: EguiContexts,
    mut desk: ResMut<Desk>,
    mut orbit: ResMut<Orbit>,
    mut looks: ResMut<Looks>,
    errands: Res<Errands>,
    eye: Single<(&Camera, &GlobalTransform), With<Eye>>,
    mut stage_picture: ResMut<Stage>,
    mut images: ResMut<Assets<Image>>,
) -> Result {
    if stage_picture.texture.is_none() {
        let image = EguiTextureHandle::Strong(stage_picture.image.clone());
        stage_picture.texture = Some(contexts.add_image(image));
    }
    let ctx = contexts.ctx_mut()?.clone();
    if !looks.styled {
        style(&ctx);
        looks.styled = true;
    }
    // Readable on a large screen as on a small one.
    let height = ctx.viewport_rect().height() * ctx.zoom_factor();
    let wanted = (height / 860.0).clamp(0.9, 2.6);
    // Rounding moves it by a hair every frame, and each change draws again.
    if (wanted - ctx.zoom_factor()).abs() > 0.01 {
        ctx.set_zoom_factor(wanted);
    }
    keys::take(&ctx, &mut desk, &mut orbit);
    cameras::refresh(&ctx, &mut desk, &mut looks);
    let mut root = Ui::new(
        ctx.clone(),
        "root".into(),
        UiBuilder::new().layer_id(egui::LayerId::background()).max_rect(ctx.viewport_rect()),
    );
    egui::Panel::top("questions").show(&mut root, |ui| top::show(ui, &mut desk, &mut looks));
    egui::Panel::bottom("answer").exact_size(252.0).resizable(false).show(&mut root, |ui| {
        script::bar(ui, &mut desk, &mut looks, &errands);
        ui.separator();
        let drill = desk.script.drill().cloned();
        match (desk.question, drill) {
            (Question::See, _) => cards::show(ui, &mut desk),
            (Question::Read, Some(drill)) => drill::read(ui, &drill),
            (Question::Plan, Some(drill)) => drill::plan(ui, &drill),
            (Question::Happen, Some(drill)) => drill::happen(ui, &drill),
            (Question::Read, None) => nets::show(ui, &mut desk),
            (Question::Plan, None) => plan::show(ui, &mut desk),
            (Question::Happen, None) => happen::show(ui, &mut desk),
        }
    });
    egui::Panel::right("pictures").exact_size(330.0).resizable(false).show(&mut root, |ui| {
        cameras::show(ui, &mut desk, &looks);
    });
    let free = root.available_rect_before_wrap();
    let scale = ctx.pixels_per_point();
    let place = [free.min.x, free.min.y, free.width(), free.height()].map(|v| v * scale);
    stage_picture.hang(place, &mut images);
    if let Some(texture) = stage_picture.texture {
        let whole = egui::Rect::from_min_max(egui::pos2(0.0, 0.0), egui::pos2(1.0, 1.0));
        root.painter().image(texture, free, whole, Color32::WHITE);
    }
    stage::show(&mut root, free, &mut orbit, &desk, *eye);
    script::drawer(&ctx, &mut desk, &mut looks);
    top::cautions(&ctx, &mut desk);
    top::said(&ctx, &desk, &mut looks);
    Ok(())
}
