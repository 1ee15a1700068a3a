//! The four questions, the scene's file, what was said and the cautions.

use bevy_egui::egui;
use egui::{RichText, Ui};

use super::{ACCENT, Looks, QUIET, mark};
use crate::args::Question;
use crate::desk::{Desk, neighbours};

pub(super) fn show(ui: &mut Ui, desk: &mut Desk, looks: &mut Looks) {
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
            let (mark, colour) = mark(!message.is_error);
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
        for path in neighbours(&desk.scene_path, "ron") {
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

/// All that was said, the newest first.
pub(super) fn said(ctx: &egui::Context, desk: &Desk, looks: &mut Looks) {
    let window = egui::Window::new("What was said").open(&mut looks.said_open);
    window.default_size([620.0, 260.0]).show(ctx, |ui| {
        egui::ScrollArea::vertical().show(ui, |ui| {
            for message in desk.messages.iter().rev() {
                let (mark, colour) = mark(!message.is_error);
                let text = RichText::new(format!("{mark} {}", message.text)).color(colour);
                ui.add(egui::Label::new(text).wrap());
            }
        });
    });
}

pub(super) fn cautions(ctx: &egui::Context, desk: &mut Desk) {
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
