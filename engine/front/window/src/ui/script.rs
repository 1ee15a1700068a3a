//! Picking, running and stopping a script; its text and expectations.

use bevy_egui::egui;
use egui::{RichText, Ui};

use super::{BAD, Looks, QUIET, mark};
use crate::desk::{Desk, neighbours};
use crate::errands::Errands;

/// Scripts lie beside the scenes' folder unless one was picked elsewhere.
fn scripts(desk: &Desk) -> Vec<std::path::PathBuf> {
    if !desk.script.path.as_os_str().is_empty() {
        return neighbours(&desk.script.path, "rhai");
    }
    let root = desk.scene_path.parent().and_then(|p| p.parent()).map(std::path::Path::to_owned);
    neighbours(&root.unwrap_or_default().join("scripts").join("x"), "rhai")
}

pub(super) fn bar(ui: &mut Ui, desk: &mut Desk, looks: &mut Looks, errands: &Errands) {
    ui.horizontal(|ui| {
        ui.label(RichText::new("script").color(QUIET));
        let shown = desk.script.path.file_name().map(|n| n.to_string_lossy().into_owned());
        let mut pick = None;
        egui::ComboBox::from_id_salt("script")
            .selected_text(shown.unwrap_or_else(|| "pick one".to_owned()))
            .width(200.0)
            .show_ui(ui, |ui| {
                for path in scripts(desk) {
                    let name = path.display().to_string();
                    if ui.selectable_label(path == desk.script.path, name).clicked() {
                        pick = Some(path);
                    }
                }
            });
        if let Some(path) = pick
            && desk.script.clerk.is_none()
        {
            desk.pick_script(&path);
        }
        if let Some(clerk) = &desk.script.clerk {
            if ui.button("Stop").clicked() {
                clerk.stop();
            }
            let (what, done, all) = &desk.script.progress;
            let text =
                if *all > 0 { format!("{what} {done} of {all}") } else { format!("{what} {done}") };
            ui.label(text);
            ui.spinner();
        } else if ui.add_enabled(!desk.script.text.is_empty(), egui::Button::new("Run")).clicked() {
            errands.start_script(desk);
        }
        if let Some(record) = &desk.script.record {
            let (all, failed) = (record.expectations.len(), record.failed());
            let (mark, colour) = mark(failed == 0);
            let text = format!("{mark} {} of {all} expectations held", all - failed);
            ui.label(RichText::new(text).color(colour));
        }
        if ui.button("Text and expectations").clicked() {
            looks.script_open = !looks.script_open;
        }
        let exhibits = desk.script.exhibits().len();
        if exhibits > 1 {
            ui.label(RichText::new("look at").color(QUIET));
            let mut picked = desk.script.shown;
            egui::ComboBox::from_id_salt("exhibit")
                .selected_text(desk.script.title(picked))
                .width(260.0)
                .show_ui(ui, |ui| {
                    for i in 0..exhibits {
                        ui.selectable_value(&mut picked, i, desk.script.title(i));
                    }
                });
            if picked != desk.script.shown {
                desk.look_at(picked);
            }
        }
    });
}

/// The script's text with its errors at their line, and what it said.
pub(super) fn drawer(ctx: &egui::Context, desk: &mut Desk, looks: &mut Looks) {
    let mut open = looks.script_open;
    egui::Window::new("Script").open(&mut open).default_size([560.0, 420.0]).show(ctx, |ui| {
        egui::ScrollArea::both().show(ui, |ui| {
            for (i, line) in desk.script.text.lines().enumerate() {
                let number = i + 1;
                let failed_here = desk.script.record.iter().any(|record| {
                    record.expectations.iter().any(|e| !e.held && e.line == Some(number))
                });
                let error = desk.script.error_line == Some(number) || failed_here;
                let mark = if error { "✖" } else { " " };
                let mut text = RichText::new(format!("{mark}{number:>4}  {line}")).monospace();
                if error {
                    text = text.color(BAD);
                }
                ui.label(text);
            }
            ui.separator();
            let Some(record) = &desk.script.record else { return };
            for e in &record.expectations {
                let (mark, colour) = mark(e.held);
                let line = e.line.map_or_else(String::new, |line| format!("line {line}: "));
                let text = format!("{mark} {line}{} ({})", e.message, e.figures);
                ui.label(RichText::new(text).color(colour));
            }
            for note in &record.notes {
                ui.label(RichText::new(note).monospace());
            }
        });
    });
    looks.script_open = open;
}
