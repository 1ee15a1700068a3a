//! The cameras' own pictures, with the outlines of the facelets as drawn.

use bevy_egui::egui;
use dryturn_cube::Facelet;
use egui::{Color32, RichText, Stroke, Ui};

use super::{ACCENT, Looks, QUIET};
use crate::desk::Desk;
use crate::desk::wall::Hung;

/// Brings new frames to the textures.
pub(super) fn refresh(ctx: &egui::Context, desk: &mut Desk, looks: &mut Looks) {
    if looks.developed == desk.wall.developed && looks.textures.len() == desk.wall.frames.len() {
        return;
    }
    looks.developed = desk.wall.developed;
    looks.textures.resize(desk.wall.frames.len(), None);
    for (i, (slot, texture)) in desk.wall.frames.iter().zip(&mut looks.textures).enumerate() {
        let Some(Hung { frame, .. }) = slot else {
            *texture = None;
            continue;
        };
        let image = egui::ColorImage::from_rgb([frame.width, frame.height], &frame.pixels);
        let options = egui::TextureOptions::LINEAR;
        match texture {
            Some(texture) => texture.set(image, options),
            None => *texture = Some(ctx.load_texture(format!("camera {i}"), image, options)),
        }
    }
    desk.wall.note_latency();
}

/// One below the other.
pub(super) fn show(ui: &mut Ui, desk: &mut Desk, looks: &Looks) {
    ui.horizontal(|ui| {
        ui.label(RichText::new("The cameras' own pictures").strong());
        ui.checkbox(&mut desk.outlines, "outlines")
            .on_hover_text("where the drawing has the facelets; the mount is a little off");
    });
    if let Some(other) = desk.other_scene() {
        let text = format!("The run was made in '{}'.", other.file().name);
        ui.add(egui::Label::new(RichText::new(text).color(ACCENT)).wrap());
        let hint = "put the run's own scene on the stage, to see what its cameras saw; undo \
                    brings this one back";
        if ui.button("Show the run's scene").on_hover_text(hint).clicked() {
            desk.show_other_scene();
        }
    } else if let Some(pass) = desk.pass() {
        let text = format!("the cube before the first turn, trial {}", pass.trial);
        ui.label(RichText::new(text).color(QUIET));
    }
    egui::ScrollArea::vertical().show(ui, |ui| {
        let scene = desk.scene.clone();
        for (i, camera) in scene.file().cameras.iter().enumerate() {
            let (w, h) = (camera.width_px as f32, camera.height_px as f32);
            let width = ui.available_width();
            let size = egui::vec2(width, width * h / w);
            let (rect, _) = ui.allocate_exact_size(size, egui::Sense::hover());
            ui.painter().rect_filled(rect, 0.0, Color32::BLACK);
            desk.wall.rects.resize(desk.wall.frames.len(), [0.0; 4]);
            let scale = ui.ctx().pixels_per_point();
            if let Some(slot) = desk.wall.rects.get_mut(i) {
                *slot = [rect.min.x, rect.min.y, rect.width(), rect.height()].map(|v| v * scale);
            }
            if let Some(Some(texture)) = looks.textures.get(i) {
                let whole = egui::Rect::from_min_max(egui::pos2(0.0, 0.0), egui::pos2(1.0, 1.0));
                ui.painter().image(texture.id(), rect, whole, Color32::WHITE);
            }
            if desk.outlines {
                outlines(ui, desk, i, rect, w);
            }
            let state = match desk.wall.frames.get(i) {
                Some(Some(Hung { frame, coarse: true, .. })) => {
                    format!("coarse, {} × {} px", frame.width, frame.height)
                }
                Some(Some(Hung { frame, .. })) => format!("{} × {} px", frame.width, frame.height),
                _ => "in the darkroom…".to_owned(),
            };
            ui.label(RichText::new(format!("{}: {state}", camera.name)).color(QUIET));
        }
        if let Some(text) = desk.wall.latency_text() {
            ui.label(RichText::new(text).color(QUIET).small());
        }
    });
}

fn outlines(ui: &Ui, desk: &Desk, camera: usize, rect: egui::Rect, width_px: f32) {
    let view = &desk.scene.views()[camera];
    let scale = rect.width() / width_px;
    let eye = view.pose.position;
    for facelet in Facelet::all() {
        let corners = desk.scene.rig().facelet_corners_mm(facelet);
        let normal = dryturn_geometry::DVec3::from_array(facelet.face().normal().map(f64::from));
        if (eye - corners[0]).dot(normal) <= 0.0 {
            continue;
        }
        let Some(points) = corners
            .map(|corner| view.project(corner))
            .into_iter()
            .map(|p| {
                let p = p?;
                let offset = egui::vec2(p.x as f32 + 0.5, p.y as f32 + 0.5) * scale;
                Some(rect.min + offset)
            })
            .collect::<Option<Vec<egui::Pos2>>>()
        else {
            continue;
        };
        let stroke = Stroke::new(1.0, Color32::from_rgba_unmultiplied(255, 255, 255, 150));
        ui.painter().with_clip_rect(rect).add(egui::Shape::closed_line(points, stroke));
    }
}
