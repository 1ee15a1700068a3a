//! What is drawn over and round the 3D view.
//!
//! Along the top stand the builder's four questions; the band at the bottom
//! answers the one that is picked. On the right hang the cameras' own pictures.

mod cameras;
mod cards;
mod drill;
mod happen;
mod nets;
mod plan;
mod script;

use bevy::prelude::*;
use bevy_egui::{EguiContexts, EguiTextureHandle, egui};
use egui::{Color32, RichText, Ui, UiBuilder};

use crate::args::Question;
use crate::desk::Desk;
use crate::orbit::Orbit;
use crate::shell::{Eye, Shell};
use crate::stage::Stage;
use crate::stand;

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
    shell: Res<Shell>,
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
    keys(&ctx, &mut desk, &mut orbit);
    cameras::refresh(&ctx, &mut desk, &mut looks);
    let mut root = Ui::new(
        ctx.clone(),
        "root".into(),
        UiBuilder::new().layer_id(egui::LayerId::background()).max_rect(ctx.viewport_rect()),
    );
    egui::Panel::top("questions").show(&mut root, |ui| top(ui, &mut desk, &mut looks));
    egui::Panel::bottom("answer").exact_size(252.0).resizable(false).show(&mut root, |ui| {
        script::bar(ui, &mut desk, &mut looks, &shell);
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
    stage(&mut root, free, &mut orbit, &desk, *eye);
    script::drawer(&ctx, &mut desk, &mut looks);
    cautions(&ctx, &mut desk);
    said(&ctx, &desk, &mut looks);
    Ok(())
}

/// Keys that work while no text is being typed.
fn keys(ctx: &egui::Context, desk: &mut Desk, orbit: &mut Orbit) {
    use egui::{Key, Modifiers};
    if ctx.text_edit_focused() {
        return;
    }
    let questions = [Key::Num1, Key::Num2, Key::Num3, Key::Num4];
    ctx.input_mut(|input| {
        if input.consume_key(Modifiers::COMMAND | Modifiers::SHIFT, Key::Z) {
            desk.redo();
        }
        if input.consume_key(Modifiers::COMMAND, Key::Z) {
            desk.undo();
        }
        if input.consume_key(Modifiers::COMMAND, Key::Y) {
            desk.redo();
        }
        if input.consume_key(Modifiers::COMMAND, Key::S) {
            let path = desk.scene_path.clone();
            desk.save_scene(&path);
        }
        if input.modifiers.command || input.modifiers.alt {
            return;
        }
        for (key, question) in questions.into_iter().zip(Question::ALL) {
            if input.key_pressed(key) {
                desk.question = question;
            }
        }
        if input.key_pressed(Key::P) {
            desk.toggle_play();
        }
        if input.key_pressed(Key::Comma) {
            desk.step_beat(false);
        }
        if input.key_pressed(Key::Period) {
            desk.step_beat(true);
        }
    });
    held_keys(ctx, orbit);
}

/// Keys that move the eye for as long as they are held, at a speed of their own
/// whatever the drawing takes.
fn held_keys(ctx: &egui::Context, orbit: &mut Orbit) {
    use egui::Key;
    let moved = ctx.input(|input| {
        if input.modifiers.command || input.modifiers.alt {
            return false;
        }
        // After a rest the time since the last drawing says nothing.
        let seconds = input.stable_dt.min(0.2);
        let held = |key| f32::from(u8::from(input.key_down(key)));
        let across = (held(Key::D) - held(Key::A)) * seconds;
        let up = (held(Key::W) - held(Key::S)) * seconds;
        let nearer = held(Key::Plus).max(held(Key::Equals)) - held(Key::Minus);
        if across == 0.0 && up == 0.0 && nearer == 0.0 {
            return false;
        }
        if input.modifiers.shift {
            orbit.pan(across * 0.6, up * 0.6);
        } else {
            orbit.turn(across * 1.8, up * 1.8);
        }
        orbit.zoom((-nearer * seconds).exp());
        true
    });
    if moved {
        ctx.request_repaint();
    }
}

fn top(ui: &mut Ui, desk: &mut Desk, looks: &mut Looks) {
    ui.horizontal(|ui| {
        for (i, question) in Question::ALL.into_iter().enumerate() {
            let text = RichText::new(format!("{}  {}", i + 1, question.words())).size(15.0);
            let picked = desk.question == question;
            if ui.selectable_label(picked, text).on_hover_text(format!("key {}", i + 1)).clicked() {
                desk.question = question;
            }
        }
        ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
            if ui.button(RichText::new("⚠ Cautions").color(ACCENT)).clicked() {
                desk.cautions_open = !desk.cautions_open;
            }
            scene_menu(ui, desk, looks);
        });
    });
    // The line is always there, so that nothing jumps when something is said.
    ui.horizontal(|ui| {
        ui.label(" ");
        if let Some(message) = desk.messages.last().cloned() {
            let (mark, colour) = if message.is_error { ("✖", BAD) } else { ("✔", GOOD) };
            ui.label(RichText::new(mark).color(colour));
            if desk.messages.len() > 1 && ui.small_button("all").clicked() {
                looks.said_open = !looks.said_open;
            }
            let shown = egui::Label::new(RichText::new(&message.text).color(colour)).truncate();
            ui.add(shown).on_hover_text(&message.text);
        }
    });
}

fn scene_menu(ui: &mut Ui, desk: &mut Desk, looks: &mut Looks) {
    let name = desk.scene_path.file_name().map(|n| n.to_string_lossy().into_owned());
    let changed = if desk.unsaved { " (changed)" } else { "" };
    let title = format!("{}{changed}", name.unwrap_or_default());
    let mut open = None;
    egui::ComboBox::from_id_salt("scene").selected_text(title).width(220.0).show_ui(ui, |ui| {
        for path in crate::desk::neighbours(&desk.scene_path, "ron") {
            if ui.selectable_label(path == desk.scene_path, path.display().to_string()).clicked() {
                open = Some(path);
            }
        }
    });
    ui.label(RichText::new("scene").color(QUIET));
    if ui.button("Open or save…").clicked() {
        looks.scenes_open = !looks.scenes_open;
        looks.path = desk.scene_path.display().to_string();
    }
    if ui.add_enabled(desk.can_redo(), egui::Button::new("Redo")).on_hover_text("Ctrl+Y").clicked()
    {
        desk.redo();
    }
    if ui.add_enabled(desk.can_undo(), egui::Button::new("Undo")).on_hover_text("Ctrl+Z").clicked()
    {
        desk.undo();
    }
    if let Some(path) = open {
        desk.open_scene(&path);
    }
    if looks.scenes_open {
        let mut keep = true;
        egui::Window::new("Scene file").collapsible(false).open(&mut keep).show(ui.ctx(), |ui| {
            ui.add(egui::TextEdit::singleline(&mut looks.path).desired_width(420.0));
            ui.horizontal(|ui| {
                let path = std::path::PathBuf::from(&looks.path);
                if ui.button("Open").clicked() {
                    desk.open_scene(&path);
                    looks.scenes_open = false;
                }
                if ui.button("Save").on_hover_text("every field is written out").clicked() {
                    desk.save_scene(&path);
                    looks.scenes_open = false;
                }
            });
        });
        looks.scenes_open &= keep;
    }
}

/// The free part: the 3D view takes mouse and wheel, names stand beside things.
fn stage(
    root: &mut Ui,
    free: egui::Rect,
    orbit: &mut Orbit,
    desk: &Desk,
    eye: (&Camera, &GlobalTransform),
) {
    let response = root.interact(free, "stage".into(), egui::Sense::click_and_drag());
    let drag = response.drag_delta() / free.height().max(1.0);
    if response.dragged_by(egui::PointerButton::Primary) {
        orbit.turn(-drag.x * 3.0, drag.y * 3.0);
    } else if response.dragged() {
        orbit.pan(-drag.x, drag.y);
    }
    if response.hovered() {
        let wheel = root.ctx().input(|input| input.smooth_scroll_delta.y);
        if wheel != 0.0 {
            orbit.zoom((-wheel * 0.004).exp());
        }
    }
    let painter = root.painter().with_clip_rect(free);
    let file = desk.scene.file();
    let cameras = file.cameras.iter().map(|c| (&c.name, c.position_mm, "camera"));
    let lamps = file.lamps.iter().map(|l| (&l.name, l.position_mm, "lamp"));
    let scale = root.ctx().pixels_per_point();
    for (name, position, kind) in cameras.chain(lamps) {
        let Ok(at) = eye.0.world_to_viewport(eye.1, stand::units(position)) else { continue };
        let at = free.min + egui::vec2(at.x, at.y) / scale;
        if free.shrink(4.0).contains(at) {
            let text = format!("{kind} {name}");
            let font = egui::FontId::proportional(12.0);
            written(&painter, at + egui::vec2(8.0, -8.0), &text, font, INK);
        }
    }
    let help =
        "drag: turn · right drag: move · wheel: nearer · keys W A S D (with Shift: move), + −";
    let font = egui::FontId::proportional(11.0);
    let corner = free.left_bottom() + egui::vec2(8.0, -6.0);
    written(&painter, corner, help, font, INK);
}

/// Text up from and right of a point, legible before whatever stands behind.
fn written(
    painter: &egui::Painter,
    corner: egui::Pos2,
    text: &str,
    font: egui::FontId,
    colour: Color32,
) {
    let shaped = painter.layout_no_wrap(text.to_owned(), font, colour);
    let place = egui::Align2::LEFT_BOTTOM.anchor_size(corner, shaped.size());
    painter.rect_filled(place.expand(2.0), 3.0, Color32::from_black_alpha(120));
    painter.galley(place.min, shaped, colour);
}

/// All that was said, the newest first.
fn said(ctx: &egui::Context, desk: &Desk, looks: &mut Looks) {
    let window = egui::Window::new("What was said").open(&mut looks.said_open);
    window.default_size([620.0, 260.0]).show(ctx, |ui| {
        egui::ScrollArea::vertical().show(ui, |ui| {
            for message in desk.messages.iter().rev() {
                let (mark, colour) = if message.is_error { ("✖", BAD) } else { ("✔", GOOD) };
                let text = RichText::new(format!("{mark} {}", message.text)).color(colour);
                ui.add(egui::Label::new(text).wrap());
            }
        });
    });
}

fn cautions(ctx: &egui::Context, desk: &mut Desk) {
    let mut open = desk.cautions_open;
    egui::Window::new("Before you go near the hardware")
        .open(&mut open)
        .collapsible(false)
        .default_width(460.0)
        .show(ctx, |ui| {
            for caution in dryturn_report::CAUTIONS {
                ui.label(format!("• {caution}"));
            }
        });
    desk.cautions_open = open;
}
