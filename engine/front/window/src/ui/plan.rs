//! The beats that were planned.

use bevy_egui::egui;
use dryturn_cube::notation;
use egui::{RichText, Ui};

use super::{ACCENT, QUIET, nets};
use crate::desk::Desk;

pub(super) fn show(ui: &mut Ui, desk: &mut Desk) {
    let Some(pass) = desk.pass().cloned() else {
        nets::nothing_yet(ui, desk);
        return;
    };
    let Some(plan) = &pass.plan else {
        ui.label("No plan: nothing was read, so nothing was planned or turned.");
        return;
    };
    let now = desk.moment().beat;
    ui.label(format!(
        "{} turns in {} beats; two turns in a beat run together.",
        plan.turns().len(),
        plan.beats.len()
    ));
    ui.horizontal_wrapped(|ui| {
        for (i, beat) in plan.beats.iter().enumerate() {
            let text = format!("{:>2}  {}", i + 1, notation::format(&beat.turns));
            let mut shown = RichText::new(text).monospace().size(15.0);
            if now == Some(i) {
                shown = shown.color(ACCENT).strong();
            }
            let hint = "go to where this beat starts";
            if ui.selectable_label(now == Some(i), shown).on_hover_text(hint).clicked()
                && let Some(run) = &pass.run
                && let Some(started) = run.beats.get(i)
            {
                desk.player.at_s = started.start_s();
                desk.player.playing = false;
            }
        }
    });
    ui.add_space(6.0);
    ui.label(RichText::new("in WCA notation").color(QUIET));
    ui.label(RichText::new(plan.notation()).monospace());
}
