//! The free part of the window, where the 3D view is.

use bevy::prelude::*;
use bevy_egui::egui;
use egui::{Color32, Ui};

use super::INK;
use crate::desk::Desk;
use crate::view::orbit::Orbit;
use crate::view::stand;

/// The 3D view takes mouse and wheel, names stand beside things.
pub(super) fn show(
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
