//! What was read, beside what is true.

use bevy_egui::egui;
use dryturn_cube::{Face, Facelet};
use dryturn_handoff::{Outcome, Source};
use dryturn_rehearsal::Pass;
use egui::{Color32, RichText, Stroke, StrokeKind, Ui};

use super::{BAD, GOOD, QUIET};
use crate::desk::Desk;
use crate::view::stand::paint;

const CELL: f32 = 17.0;

pub(super) fn show(ui: &mut Ui, desk: &mut Desk) {
    let Some(pass) = desk.pass().cloned() else {
        nothing_yet(ui, desk);
        return;
    };
    ui.horizontal_top(|ui| {
        let truth = pass.truth.colours();
        ui.vertical(|ui| {
            ui.label(RichText::new("read").color(QUIET));
            net(ui, &pass, |f| {
                let entry = &pass.reading.facelets[f.index()];
                let seen = matches!(entry.source, Source::Seen { .. } | Source::Told { .. });
                let wrong = entry.colour.is_some_and(|c| c != truth[f.index()]);
                (entry.colour, !seen, wrong)
            });
        });
        ui.add_space(16.0);
        ui.vertical(|ui| {
            ui.label(RichText::new("true").color(QUIET));
            net(ui, &pass, |f| (Some(truth[f.index()]), false, false));
        });
        ui.add_space(16.0);
        ui.vertical(|ui| words(ui, &pass));
    });
}

/// Where there is no pass to look at.
pub(super) fn nothing_yet(ui: &mut Ui, desk: &Desk) {
    if desk.script.record.is_some() {
        ui.label("The script ran, but left nothing to look at; its notes and expectations are under 'Text and expectations'.");
        return;
    }
    ui.label(
        RichText::new("Nothing has been rehearsed yet: pick a script above and run it.")
            .color(QUIET),
    );
}

fn words(ui: &mut Ui, pass: &Pass) {
    match &pass.reading.outcome {
        Outcome::Read(_) => {
            let text =
                if pass.score.right() { "✔ read right" } else { "✖ a wrong cube was read" };
            let colour = if pass.score.right() { GOOD } else { BAD };
            ui.label(RichText::new(text).color(colour).size(16.0));
        }
        Outcome::Unreadable { because, weakest, .. } => {
            let text = format!("✖ unreadable, because {because}");
            ui.add(egui::Label::new(RichText::new(text).color(BAD)).wrap());
            let names: Vec<&str> = weakest.iter().map(|f| f.name()).collect();
            ui.label(format!("weakest facelets: {}", names.join(" ")));
        }
    }
    if let Some(probability) = pass.reading.probability {
        ui.label(format!("probability {}", dryturn_report::percent(probability)));
    }
    if pass.reading.without_calibration {
        ui.label("without a calibration, by what cube colours usually look like");
    }
    let count = |wanted: fn(&Source) -> bool| {
        pass.reading.facelets.iter().filter(|f| wanted(&f.source)).count()
    };
    ui.label(format!(
        "{} seen, {} known by mounting, {} inferred, {} unknown",
        count(|s| matches!(s, Source::Seen { .. })),
        count(|s| matches!(s, Source::Mounted)),
        count(|s| matches!(s, Source::Inferred)),
        count(|s| matches!(s, Source::Unknown)),
    ));
    for (camera, found) in pass.scene.file().cameras.iter().zip(&pass.reading.cameras) {
        let (shift_mm, turn_deg) = found.off_drawing();
        ui.label(format!(
            "camera {}: {shift_mm:.1} mm and {turn_deg:.1}° off the drawing, light × {:.2}",
            camera.name, found.light_ratio[1],
        ));
    }
    ui.label(RichText::new("thin rim: not seen · cross: wrong").color(QUIET));
    for m in pass.score.mistakes.iter().take(5) {
        ui.label(format!("{}: {} was read as {}", m.facelet, m.truth, m.read));
    }
}

/// The unfolded net: colour, rim (thin if not seen), cross (wrong).
fn net(ui: &mut Ui, pass: &Pass, cell: impl Fn(Facelet) -> (Option<Face>, bool, bool)) {
    let side = 3.0 * CELL + 4.0;
    let size = egui::vec2(4.0 * side, 3.0 * side);
    let (rect, _) = ui.allocate_exact_size(size, egui::Sense::hover());
    let painter = ui.painter();
    for facelet in Facelet::all() {
        let (column, row) = facelet.face().net_place();
        let offset = egui::vec2(
            column as f32 * side + facelet.column() as f32 * CELL,
            row as f32 * side + facelet.row() as f32 * CELL,
        );
        let at = egui::Rect::from_min_size(rect.min + offset, egui::vec2(CELL - 1.5, CELL - 1.5));
        let (colour, thin, wrong) = cell(facelet);
        let [r, g, b] =
            colour.map_or([120, 120, 120], |face| paint(pass.scene.file().cube.colours.of(face)));
        let fill = Color32::from_rgb(r, g, b);
        painter.rect_filled(at, 2.0, fill);
        if thin {
            let stroke = Stroke::new(1.5, Color32::BLACK);
            painter.rect_stroke(at.shrink(2.5), 1.0, stroke, StrokeKind::Middle);
        }
        let dark = u32::from(r) + u32::from(g) + u32::from(b) > 400;
        let ink = if dark { Color32::BLACK } else { Color32::WHITE };
        let letter = colour.map_or('?', |face| face.letter());
        let font = egui::FontId::monospace(11.0);
        painter.text(at.center(), egui::Align2::CENTER_CENTER, letter, font, ink);
        if wrong {
            let stroke = Stroke::new(2.0, Color32::BLACK);
            painter.line_segment([at.left_top(), at.right_bottom()], stroke);
            painter.line_segment([at.right_top(), at.left_bottom()], stroke);
        }
    }
}
