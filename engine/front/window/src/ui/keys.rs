//! What keys do.

use bevy_egui::egui;

use crate::args::Question;
use crate::desk::Desk;
use crate::view::orbit::Orbit;

/// Keys that work while no text is being typed.
pub(super) fn take(ctx: &egui::Context, desk: &mut Desk, orbit: &mut Orbit) {
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
