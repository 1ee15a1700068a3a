//! One card a lamp and a camera: the figures that a builder turns.

use bevy_egui::egui;
use dryturn_scene::FieldDoc;
use dryturn_scene::file::{Camera, Lamp, Spectrum};
use egui::{Color32, RichText, Ui};
use serde_json::{Value as Json, json};

use super::QUIET;
use crate::desk::Desk;
use crate::view::stand::lamp_colour;

/// A change of one field: path, value, and whether it is being dragged; or the
/// dragged figure has been let go.
enum Change {
    To(String, Json, bool),
    LetGo,
}

pub(super) fn show(ui: &mut Ui, desk: &mut Desk) {
    let mut change: Option<Change> = None;
    let scene = desk.scene.clone();
    let (lamp_docs, camera_docs) = (Lamp::fields(), Camera::fields());
    egui::ScrollArea::horizontal().show(ui, |ui| {
        ui.horizontal_top(|ui| {
            for (number, lamp) in scene.file().lamps.iter().enumerate() {
                card(ui, |ui| {
                    let [r, g, b] = lamp_colour(&scene, number).map(|v| (v.sqrt() * 255.0) as u8);
                    ui.horizontal(|ui| {
                        let (rect, _) =
                            ui.allocate_exact_size(egui::vec2(14.0, 14.0), egui::Sense::hover());
                        ui.painter().circle_filled(rect.center(), 7.0, Color32::from_rgb(r, g, b));
                        ui.label(RichText::new(format!("Lamp {}", lamp.name)).strong());
                        if lamp.flux_lm == 0.0 {
                            ui.label(RichText::new("off").color(QUIET));
                        }
                    });
                    let at = format!("lamps.{}", lamp.name);
                    let speed = (lamp.flux_lm * 0.01).max(1.0);
                    figure(ui, &lamp_docs, &at, "flux_lm", lamp.flux_lm, speed, &mut change);
                    if matches!(lamp.spectrum, Spectrum::Daylight | Spectrum::Thermal) {
                        figure(ui, &lamp_docs, &at, "cct_k", lamp.cct_k, 20.0, &mut change);
                    } else {
                        let spectrum = format!("spectrum {:?}", lamp.spectrum);
                        ui.label(RichText::new(spectrum).color(QUIET))
                            .on_hover_text(meaning(&lamp_docs, "spectrum"));
                    }
                    place(ui, &lamp_docs, &at, "position_mm", lamp.position_mm, &mut change);
                    place(ui, &lamp_docs, &at, "aim_mm", lamp.aim_mm, &mut change);
                });
            }
            for camera in &scene.file().cameras {
                card(ui, |ui| {
                    ui.label(RichText::new(format!("Camera {}", camera.name)).strong());
                    let at = format!("cameras.{}", camera.name);
                    let doc = &camera_docs;
                    figure(ui, doc, &at, "exposure_ms", camera.exposure_ms, 0.1, &mut change);
                    figure(
                        ui,
                        doc,
                        &at,
                        "f_number_ratio",
                        camera.f_number_ratio,
                        0.02,
                        &mut change,
                    );
                    place(ui, doc, &at, "position_mm", camera.position_mm, &mut change);
                    place(ui, doc, &at, "aim_mm", camera.aim_mm, &mut change);
                });
            }
        });
    });
    match change {
        Some(Change::To(path, value, dragging)) => {
            desk.change(&path, value, dragging);
        }
        Some(Change::LetGo) => desk.let_go(),
        None => {}
    }
}

fn card(ui: &mut Ui, add: impl FnOnce(&mut Ui)) {
    egui::Frame::group(ui.style()).show(ui, |ui| {
        ui.set_width(236.0);
        ui.vertical(add);
    });
}

/// What the field means, with its range, from the scene's own field table.
fn meaning(docs: &[FieldDoc], field: &str) -> String {
    docs.iter()
        .find(|doc| doc.name == field)
        .map(|doc| format!("{field}: {}\nAllowed: {}.", doc.meaning, doc.allowed))
        .unwrap_or_default()
}

/// What may be dragged to.
fn limits(docs: &[FieldDoc], field: &str) -> std::ops::RangeInclusive<f64> {
    let found = docs.iter().find(|doc| doc.name == field).and_then(|doc| doc.limits);
    found.map_or(f64::MIN..=f64::MAX, |(least, greatest)| least..=greatest)
}

/// `flux_lm` as `flux` and ` lm`.
fn words(field: &str) -> (String, String) {
    let (name, unit) = field.rsplit_once('_').unwrap_or((field, ""));
    let unit = match unit {
        "ratio" => String::new(),
        "k" => " K".to_owned(),
        other => format!(" {other}"),
    };
    (name.replace('_', " "), unit)
}

fn figure(
    ui: &mut Ui,
    docs: &[FieldDoc],
    at: &str,
    field: &str,
    mut value: f64,
    speed: f64,
    change: &mut Option<Change>,
) {
    let (name, unit) = words(field);
    ui.horizontal(|ui| {
        ui.label(RichText::new(name).color(QUIET)).on_hover_text(meaning(docs, field));
        let drag = egui::DragValue::new(&mut value).speed(speed).suffix(unit).max_decimals(2);
        let drag = drag.range(limits(docs, field));
        // A typed value counts when it is whole.
        let drag = drag.update_while_editing(false);
        let response = ui.add(drag).on_hover_text(meaning(docs, field));
        if response.changed() {
            *change = Some(Change::To(format!("{at}.{field}"), json!(value), response.dragged()));
        } else if response.drag_stopped() {
            *change = Some(Change::LetGo);
        }
    });
}

fn place(
    ui: &mut Ui,
    docs: &[FieldDoc],
    at: &str,
    field: &str,
    mut value: [f64; 3],
    change: &mut Option<Change>,
) {
    let (name, unit) = words(field);
    ui.horizontal(|ui| {
        ui.label(RichText::new(name).color(QUIET)).on_hover_text(meaning(docs, field));
        let mut touched = None;
        for (axis, v) in ["x ", "y ", "z "].into_iter().zip(&mut value) {
            let drag = egui::DragValue::new(v).speed(1.0).prefix(axis).max_decimals(1);
            let drag = drag.range(limits(docs, field));
            let drag = drag.update_while_editing(false);
            let response = ui.add(drag).on_hover_text(meaning(docs, field));
            if response.changed() {
                touched = Some(response.dragged());
            } else if response.drag_stopped() {
                *change = Some(Change::LetGo);
            }
        }
        ui.label(RichText::new(unit).color(QUIET));
        if let Some(dragging) = touched {
            *change = Some(Change::To(format!("{at}.{field}"), json!(value), dragging));
        }
    });
}
