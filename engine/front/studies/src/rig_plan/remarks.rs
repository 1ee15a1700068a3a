//! What a file for a rig says about itself.

use dryturn_driving::Ceiling;
use dryturn_scene::Scene;

use crate::cautions::CAUTIONS;

/// ASCII without control characters and without what could end a comment.
fn plain(text: &str) -> String {
    let plain = |c: char| match c {
        ' '..='~' => c,
        _ => '?',
    };
    let text = text.replace('°', " degrees").replace('·', " ");
    text.chars().map(plain).collect::<String>().replace("*/", "* /")
}

/// What the file is for, its ceiling, how it is to be followed, and the cautions; a sentence
/// or two an entry. `how` says by what turns start and what that was proved by.
pub(super) fn about(
    scene: &Scene,
    ceiling: Ceiling,
    state_hash: &str,
    how: &[String],
) -> Vec<String> {
    let full_n_m = Ceiling::of(scene, 1.0).map_or(f64::NAN, Ceiling::torque_n_m);
    let share = ceiling.share();
    let mut about = vec![
        format!(
            "For one cube on one rig: it turns the state {state_hash} (SHA-256 of its six named \
             faces) to solved on the axes of '{}'. For any other state or rig it is wrong.",
            scene.file().name
        ),
        format!(
            "Ceiling {share}: of the torque that full power has left above friction the drives \
             may use this share. Set-points are those of full power, accelerations times {share}, \
             speeds times {:.4}. Limit each drive to {:.4} N m ({:.1} % of the {full_n_m:.4} N m \
             of full power) before you start.",
            ceiling.pace_ratio(),
            ceiling.torque_n_m(),
            100.0 * ceiling.torque_n_m() / full_n_m
        ),
        "Start a row when all that it waits for holds, by the encoders, and not before. Angles are \
         degrees of the motor since homing, clockwise positive. 'settled': within \
         settled_within_deg of the end of the face's last turn (0 before the first) for \
         settled_for_ms. Predicted times are for information: never start by them."
            .to_owned(),
        "If a row's cues do not all hold within time_out_ms of the start of the beat before (of \
         the whole, for the first), cut the torque of all six axes and stop."
            .to_owned(),
    ];
    about.extend(how.iter().cloned());
    about.extend(CAUTIONS.iter().map(|caution| format!("CAUTION: {caution}")));
    about.iter().map(|text| plain(text)).collect()
}

/// As the comment at the top of a C file.
pub(super) fn remarks(about: &[String]) -> String {
    let mut text = String::from("/*");
    for entry in about {
        let mut width = 0;
        for word in entry.split(' ') {
            if width == 0 || width + word.len() > 90 {
                text.push_str("\n *");
                width = 0;
            }
            text.push(' ');
            text.push_str(word);
            width += word.len() + 1;
        }
        text.push_str("\n *");
    }
    text.push_str("/\n");
    text
}
