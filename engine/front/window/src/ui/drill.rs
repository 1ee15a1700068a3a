//! What many trials add up to: to each question, the drill's answer.

use bevy_egui::egui;
use dryturn_cube::Face;
use dryturn_rehearsal::Verdict;
use dryturn_statistics::{Z_95, quantile, wilson};
use dryturn_studies::Drill;
use egui::{Color32, RichText, Stroke, Ui};

use super::{BAD, GOOD, INK, QUIET};
use crate::view::stand::paint;

/// Most trials that are listed.
const LISTED: usize = 60;

/// `97 of 100 (92.6 to 99.0 %)`: a count with its 95 % interval (Wilson).
fn share(ui: &mut Ui, what: &str, count: usize, trials: usize, good: Option<bool>) {
    let (low, high) = wilson(count, trials, Z_95);
    let text = format!("{count} of {trials}  ({:.1} to {:.1} %)", 100.0 * low, 100.0 * high);
    let colour = match good {
        Some(true) => GOOD,
        Some(false) => BAD,
        None => INK,
    };
    ui.horizontal(|ui| {
        ui.add_sized([150.0, 16.0], egui::Label::new(RichText::new(what).color(QUIET)));
        ui.label(RichText::new(text).color(colour)).on_hover_text("Wilson's 95 % interval");
    });
}

pub(super) fn read(ui: &mut Ui, drill: &Drill) {
    let trials = drill.trials.len();
    ui.horizontal_top(|ui| {
        ui.vertical(|ui| {
            let right = drill.right_reads();
            share(ui, "✔ read right", right, trials, (right == trials).then_some(true));
            let unreadable = drill.ended(Verdict::Unreadable);
            share(ui, "✖ unreadable", unreadable, trials, (unreadable > 0).then_some(false));
            let wrong = drill.count(|trial| trial.score.state == Some(false));
            share(ui, "✖ a wrong cube", wrong, trials, (wrong > 0).then_some(false));
            let light = &drill.calibrated_in.file().name;
            ui.label(RichText::new(format!("calibrated in the light of '{light}'")).color(QUIET));
        });
        ui.add_space(20.0);
        confusion(ui, drill);
    });
}

/// Rows: the true colour; columns: what it was read as.
fn confusion(ui: &mut Ui, drill: &Drill) {
    let table = drill.confusion();
    let total: usize = table.iter().flatten().sum();
    if total == 0 {
        ui.label("No facelet was read wrong.");
        return;
    }
    let colours = &drill.scene.file().cube.colours;
    let name = |face| format!("{:?}", colours.of(face)).to_lowercase();
    ui.vertical(|ui| {
        let title = format!("{total} facelets read wrong; rows true, columns read as");
        ui.label(RichText::new(title).color(QUIET));
        egui::Grid::new("confusion").spacing([14.0, 3.0]).show(ui, |ui| {
            let cell = |ui: &mut Ui, face: Face| {
                ui.horizontal(|ui| {
                    let [r, g, b] = paint(colours.of(face));
                    let (rect, _) =
                        ui.allocate_exact_size(egui::vec2(10.0, 10.0), egui::Sense::hover());
                    ui.painter().rect_filled(rect, 2.0, Color32::from_rgb(r, g, b));
                    ui.label(name(face));
                });
            };
            ui.label("");
            Face::ALL.into_iter().for_each(|face| cell(ui, face));
            ui.end_row();
            for (truth, row) in Face::ALL.into_iter().zip(table) {
                cell(ui, truth);
                for (read, count) in Face::ALL.into_iter().zip(row) {
                    if read == truth {
                        ui.label(RichText::new("·").color(QUIET));
                    } else {
                        let colour = if count > 0 { BAD } else { QUIET };
                        ui.label(RichText::new(count.to_string()).color(colour));
                    }
                }
                ui.end_row();
            }
        });
    });
}

pub(super) fn plan(ui: &mut Ui, drill: &Drill) {
    let sizes: Vec<(usize, usize)> = drill.trials.iter().filter_map(|t| t.plan_size).collect();
    if sizes.is_empty() {
        ui.label("No plan: nothing was read, so nothing was planned or turned.");
        return;
    }
    let solving = drill.count(|t| t.plan_solves_reading == Some(true));
    ui.label(format!("{solving} of {} plans solve the state that was read.", sizes.len()));
    let mean = |all: Vec<usize>| all.iter().sum::<usize>() as f64 / all.len().max(1) as f64;
    let turns = sizes.iter().map(|size| size.0).collect();
    let beats = sizes.iter().map(|size| size.1).collect();
    ui.label(format!("On average {:.2} turns in {:.2} beats.", mean(turns), mean(beats)));
    let counts: Vec<f64> = sizes.iter().map(|size| size.0 as f64).collect();
    histogram(ui, &counts, 1.0, "turns");
}

pub(super) fn happen(ui: &mut Ui, drill: &Drill) {
    let trials = drill.trials.len();
    ui.horizontal_top(|ui| {
        ui.vertical(|ui| {
            ui.set_width(330.0);
            let solved = drill.ended(Verdict::Solved);
            share(ui, "✔ solved", solved, trials, (solved == trials).then_some(true));
            for verdict in [
                Verdict::Jammed,
                Verdict::Stopped,
                Verdict::Unreadable,
                Verdict::Misread,
                Verdict::Lost,
                Verdict::Guest,
            ] {
                let count = drill.ended(verdict);
                let what = format!("✖ {}", verdict.word());
                share(ui, &what, count, trials, (count > 0).then_some(false));
            }
        });
        let times = drill.completed_times_s();
        if times.is_empty() {
            ui.label("No run was completed.");
            return;
        }
        ui.vertical(|ui| {
            let ms = |share| quantile(&times, share).unwrap_or_default() * 1e3;
            ui.label(format!(
                "completed runs: 5 % {:.0} ms, median {:.0} ms, 95 % {:.0} ms, longest {:.0} ms",
                ms(0.05),
                ms(0.5),
                ms(0.95),
                ms(1.0)
            ));
            let times_ms: Vec<f64> = times.iter().map(|s| s * 1e3).collect();
            let span = (ms(1.0) - ms(0.0)).max(1.0);
            let steps = [5.0, 10.0, 20.0, 50.0, 100.0, 200.0, 500.0, 1000.0];
            let step = steps.into_iter().find(|step| span / step <= 20.0).unwrap_or(5000.0);
            histogram(ui, &times_ms, step, "ms");
        });
        ui.vertical(|ui| failures(ui, drill));
    });
}

fn failures(ui: &mut Ui, drill: &Drill) {
    let failed = || drill.trials.iter().filter(|t| t.verdict != Verdict::Solved);
    egui::ScrollArea::vertical().id_salt("failures").show(ui, |ui| {
        for trial in failed().take(LISTED) {
            let jam = trial.jam.as_ref().map(|jam| format!("jammed in {jam}"));
            let fault = trial.fault.as_ref().map(ToString::to_string);
            let why = fault.or_else(|| trial.because.clone()).or(jam).unwrap_or_default();
            let text = format!("trial {}: {} {why}", trial.number, trial.verdict.word());
            let label = egui::Label::new(RichText::new(&text).color(BAD)).truncate();
            ui.add(label).on_hover_text(text);
        }
        if failed().count() > LISTED {
            ui.label(format!("… and {} more", failed().count() - LISTED));
        }
    });
}

/// Bars of equal width, each with its count.
fn histogram(ui: &mut Ui, values: &[f64], step: f64, unit: &str) {
    let bin = |value: &f64| (value / step).floor() as i64;
    let (Some(first), Some(last)) = (values.iter().map(bin).min(), values.iter().map(bin).max())
    else {
        return;
    };
    let mut counts = vec![0usize; (last - first + 1) as usize];
    values.iter().for_each(|value| counts[(bin(value) - first) as usize] += 1);
    let most = counts.iter().copied().max().unwrap_or(1).max(1);
    let bar = 28.0;
    let height = (ui.available_height() - 8.0).clamp(60.0, 130.0);
    let size = egui::vec2(bar * (counts.len() as f32 + 1.0), height);
    let (rect, _) = ui.allocate_exact_size(size, egui::Sense::hover());
    let painter = ui.painter();
    let font = egui::FontId::proportional(10.0);
    let floor = rect.bottom() - 14.0;
    for (i, &count) in counts.iter().enumerate() {
        let x = rect.left() + bar * i as f32;
        let top = floor - (height - 30.0) * count as f32 / most as f32;
        let area =
            egui::Rect::from_min_max(egui::pos2(x + 1.0, top), egui::pos2(x + bar - 1.0, floor));
        painter.rect_filled(area, 1.0, Color32::from_rgb(98, 128, 122));
        let middle = x + bar / 2.0;
        if count > 0 {
            let at = egui::pos2(middle, top - 1.0);
            painter.text(at, egui::Align2::CENTER_BOTTOM, count, font.clone(), INK);
        }
        let from = (first + i as i64) as f64 * step;
        let at = egui::pos2(middle, rect.bottom());
        painter.text(at, egui::Align2::CENTER_BOTTOM, from, font.clone(), QUIET);
    }
    let line = Stroke::new(1.0, QUIET);
    painter.hline(rect.left()..=rect.right(), floor, line);
    let at = egui::pos2(rect.right(), floor - 2.0);
    painter.text(at, egui::Align2::RIGHT_BOTTOM, unit, font, QUIET);
}
