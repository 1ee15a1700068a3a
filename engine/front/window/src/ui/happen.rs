//! What happened: six lanes over time, and the playback.

use bevy_egui::egui;
use dryturn_cube::Face;
use dryturn_rehearsal::{Pass, Verdict};
use egui::{Color32, RichText, Stroke, Ui};

use super::{ACCENT, BAD, GOOD, INK, QUIET, nets};
use crate::desk::Desk;
use crate::desk::playback::{SPEEDS, length_s, speed_name};

pub(super) fn show(ui: &mut Ui, desk: &mut Desk) {
    let Some(pass) = desk.pass().cloned() else {
        nets::nothing_yet(ui, desk);
        return;
    };
    let end_s = length_s(&pass);
    if pass.run.is_none() {
        ui.label("Nothing was turned: there was no reading to plan for.");
        return;
    }
    ui.horizontal(|ui| {
        if ui.button("⏮").on_hover_text("back to the beat before: key ,").clicked() {
            desk.step_beat(false);
        }
        let label = if desk.player.playing { "Pause" } else { "Play" };
        if ui.button(label).on_hover_text("key P").clicked() {
            desk.toggle_play();
        }
        if ui.button("⏭").on_hover_text("on to the next beat: key .").clicked() {
            desk.step_beat(true);
        }
        egui::ComboBox::from_id_salt("speed")
            .selected_text(speed_name(SPEEDS[desk.player.speed]))
            .width(80.0)
            .show_ui(ui, |ui| {
                for (i, &speed) in SPEEDS.iter().enumerate() {
                    ui.selectable_value(&mut desk.player.speed, i, speed_name(speed));
                }
            });
        ui.spacing_mut().slider_width = 280.0;
        let mut at_ms = desk.player.at_s * 1e3;
        let slider = egui::Slider::new(&mut at_ms, 0.0..=end_s * 1e3).suffix(" ms").max_decimals(1);
        let scrubbed = ui.add(slider);
        // The slider rounds what it shows; only a hand on it is a scrub.
        if scrubbed.changed() && (scrubbed.dragged() || scrubbed.has_focus()) {
            desk.player.at_s = at_ms * 1e-3;
            desk.player.playing = false;
        }
        verdict(ui, &pass);
    });
    lanes(ui, desk, &pass, end_s);
}

fn verdict(ui: &mut Ui, pass: &Pass) {
    let failure = pass.run.as_ref().and_then(|run| run.failure());
    let fault = pass.fault.as_ref().map(ToString::to_string);
    let (text, colour) = match (pass.verdict, failure) {
        (Verdict::Solved, _) => ("✔ solved".to_owned(), GOOD),
        (Verdict::Guest, _) => (format!("✖ {}", fault.unwrap_or_default()), BAD),
        (verdict, Some(failure)) => (format!("✖ {} in {failure}", verdict.word()), BAD),
        (verdict, None) => (format!("✖ {}", verdict.word()), BAD),
    };
    let label = egui::Label::new(RichText::new(&text).color(colour)).truncate();
    ui.add(label).on_hover_text(text);
}

fn lanes(ui: &mut Ui, desk: &mut Desk, pass: &Pass, end_s: f64) {
    let Some(run) = &pass.run else { return };
    let size = ui.available_size() - egui::vec2(0.0, 4.0);
    let (rect, response) = ui.allocate_exact_size(size, egui::Sense::click_and_drag());
    let painter = ui.painter();
    let (left, lane) = (22.0, (rect.height() - 14.0) / 6.0);
    let width = rect.width() - left - 6.0;
    let x = |t: f64| rect.left() + left + width * (t / end_s.max(1e-3)) as f32;
    let small = egui::FontId::proportional(10.0);
    for face in Face::ALL {
        let top = rect.top() + lane * face.index() as f32;
        let band = egui::Rect::from_min_size(
            egui::pos2(rect.left() + left, top + 1.5),
            egui::vec2(width, lane - 3.0),
        );
        painter.rect_filled(band, 1.0, Color32::from_rgb(50, 50, 47));
        let name = egui::pos2(rect.left() + 8.0, band.center().y);
        let font = egui::FontId::proportional(13.0);
        painter.text(name, egui::Align2::CENTER_CENTER, face, font, INK);
    }
    for beat in &run.beats {
        for turn in &beat.turns {
            let top = rect.top() + lane * turn.turn.face.index() as f32;
            let bar = egui::Rect::from_min_max(
                egui::pos2(x(turn.start_s.min(end_s)), top + 2.5),
                egui::pos2(x(turn.stop_s.min(end_s)), top + lane - 2.5),
            );
            let even = beat.beat % 2 == 0;
            let fill = if even { (98, 128, 122) } else { (140, 118, 78) };
            painter.rect_filled(bar, 2.0, Color32::from_rgb(fill.0, fill.1, fill.2));
            let font = egui::FontId::monospace(11.0);
            painter.text(
                bar.center(),
                egui::Align2::CENTER_CENTER,
                turn.turn,
                font,
                Color32::WHITE,
            );
        }
    }
    let step_ms = [10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0]
        .into_iter()
        .find(|step| end_s * 1e3 / step <= 12.0)
        .unwrap_or(5000.0);
    let mut tick = 0.0;
    while tick <= end_s * 1e3 {
        let at = egui::pos2(x(tick * 1e-3), rect.bottom());
        painter.text(at, egui::Align2::CENTER_BOTTOM, format!("{tick} ms"), small.clone(), QUIET);
        tick += step_ms;
    }
    if let Some(jam) = run.jam() {
        let at = x(jam.time_s);
        painter.vline(at, rect.y_range(), Stroke::new(2.0, BAD));
        let text = format!("jam: {} blocked by {}", jam.met.blocked_face, jam.met.late_face);
        let corner = egui::pos2(at - 4.0, rect.top());
        painter.text(corner, egui::Align2::RIGHT_TOP, text, egui::FontId::proportional(12.0), BAD);
    }
    painter.vline(x(desk.player.at_s), rect.y_range(), Stroke::new(1.5, ACCENT));
    if let Some(pointer) = response.interact_pointer_pos() {
        let share = f64::from((pointer.x - rect.left() - left) / width).clamp(0.0, 1.0);
        desk.player.at_s = share * end_s;
        desk.player.playing = false;
    }
}
